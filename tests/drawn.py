"""Small drawings, drawn in a test, saved, and read back."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf
from ezdxf.document import Drawing as Document

from nestlib.drawings import read_drawing
from nestlib.model import Drawing

#: A page of 100 x 100 mm.
PAGE = 'width="100mm" height="100mm" viewBox="0 0 100 100"'


def saved(
    folder: Path,
    draw: Callable[[Document], object],
    *,
    version: str = "R2010",
    insunits: int = 4,
    binary: bool = False,
) -> Path:
    """Draw into a new document and save it as plate.dxf."""
    document = ezdxf.new(version)
    if version != "R12":  # which has no units
        document.header["$INSUNITS"] = insunits
    draw(document)
    path = folder / "plate.dxf"
    document.saveas(path, fmt="bin" if binary else "asc")
    return path


def drawn(
    folder: Path,
    draw: Callable[[Document], object],
    *,
    version: str = "R2010",
    insunits: int = 4,
    binary: bool = False,
    **options: Any,
) -> Drawing:
    """Draw, save as DXF and read back; an R12 file is taken to be in mm."""
    if version == "R12":
        options.setdefault("fallback_units", "mm")
    path = saved(folder, draw, version=version, insunits=insunits, binary=binary)
    return read_drawing(path, **options)


def drawn_svg(folder: Path, inside: str, page: str = PAGE, **options: Any) -> Drawing:
    """Save the inside of an SVG as plate.svg and read it."""
    path = folder / "plate.svg"
    spaces = (
        'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        'xmlns:inkscape="http://www.inkscape.org/namespaces/inkscape"'
    )
    path.write_text(f"<svg {spaces} {page}>{inside}</svg>", encoding="utf-8")
    return read_drawing(path, **options)
