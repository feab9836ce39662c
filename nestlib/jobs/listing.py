"""A part list to begin with: what drawings hold, as often as it is drawn."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator
from pathlib import Path

from nestlib.input_files import seen_from
from nestlib.model import Drawing

_COLUMNS = ("drawing", "index", "name", "quantity", "units")


def draft_part_list(drawings: Iterable[Drawing], folder: str | Path) -> str:
    """Return a part list, as CSV, of all parts that drawings hold.

    Parameters
    ----------
    drawings : iterable of Drawing
        Those that can be cut.
    folder : str or Path
        Where the list will lie: drawings are named as seen from there.

    Returns
    -------
    str
        With a quantity of 1 everywhere: as often as the part is drawn. The unit stands there
        only of drawings that give none themselves.
    """
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(_COLUMNS)
    for drawing in drawings:
        table.writerows(_rows(drawing, Path(folder)))
    return text.getvalue()


def _rows(drawing: Drawing, folder: Path) -> Iterator[tuple[str, ...]]:
    file = seen_from(folder, drawing.file)
    units = "" if drawing.units_from == "file" else drawing.units
    several = len(drawing.parts) > 1
    for number, part in enumerate(drawing.parts, start=1):
        yield file, str(number) if several else "", part.name, "1", units
