"""Drawings from files: what kind of file it is, and what is wrong with it as a whole."""

from __future__ import annotations

from os import PathLike, fspath
from pathlib import Path

from nestlib.drawings.assemble import assemble
from nestlib.drawings.dxf import looks_like_dxf, read_dxf
from nestlib.drawings.rules import DEFAULT_RULES, Rules
from nestlib.drawings.sketch import Notes
from nestlib.drawings.svg import looks_like_svg, read_svg
from nestlib.drawings.wanted_units import WantedUnits
from nestlib.errors import DrawingError, Problem
from nestlib.model import Drawing
from nestlib.tolerances import JOIN

#: Larger files are refused, in bytes.
LARGEST = 200_000_000

_KINDS = {".dxf": "DXF", ".svg": "SVG"}


def read_drawing(
    path: str | PathLike[str],
    *,
    units: str | None = None,
    fallback_units: str | None = None,
    rules: Rules = DEFAULT_RULES,
    join: float = JOIN,
) -> Drawing:
    """Read the parts in a drawing.

    Parameters
    ----------
    path : path-like
        A DXF (R12 to 2018, text or binary) or an SVG; what it holds decides, not its name.
    units : str, optional
        Unit of the drawing, whatever it says itself; a finding tells where it says another.
    fallback_units : str, optional
        Unit if the drawing does not say.
    rules : Rules
        What is cut, etched or ignored.
    join : float
        Ends of lines closer than this are joined, in mm.

    Returns
    -------
    Drawing
        With everything that was noticed and left out. Its findings may say that parts
        cannot be cut as they are drawn.

    Raises
    ------
    DrawingError
        If the file cannot be read, is no drawing, or has no units and none are given.
    """
    file = fspath(path)
    data = _contents(Path(path), file)
    notes = Notes()
    wanted = WantedUnits(units, fallback_units)
    if looks_like_dxf(data):
        sketch = read_dxf(data, file, wanted, rules, notes)
    elif looks_like_svg(data):
        sketch = read_svg(data, file, wanted, rules, notes)
    else:
        kind = _KINDS[Path(path).suffix.lower()]
        raise _refused(file, f"it is no {kind} drawing", f"Export it as {kind} again")
    return assemble(sketch, file, join, notes)


def _contents(path: Path, file: str) -> bytes:
    """Return the bytes of the file, or say why there are none."""
    try:
        if path.is_dir():
            raise _refused(file, "it is a folder", "Name the drawings in it")
        if not path.exists():
            raise _refused(file, "there is no such file", "Check the name and the folder")
        if path.suffix.lower() not in _KINDS:
            raise _refused(file, f'"{path.suffix}" files are not read', "Export it as DXF or SVG")
        size = path.stat().st_size
        if size > LARGEST:
            limit = f"{LARGEST // 1_000_000} MB is the limit"
            raise _refused(file, f"it has {size // 1_000_000} MB, and {limit}", "Split the drawing")
        data = path.read_bytes()
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or str(error)
        raise _refused(file, f"it cannot be opened ({why})", "Check the name and rights") from error
    if not data.strip():
        raise _refused(file, "the file is empty", "Export the drawing again")
    return data


def _refused(file: str, problem: str, remedy: str) -> DrawingError:
    return DrawingError(Problem(file, "", problem, remedy))
