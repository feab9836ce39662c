"""Whether what a drawing shows can be cut, and will come out as meant."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from nestlib.drawings.codes import LEVELS, finding
from nestlib.drawings.corners import check_corners
from nestlib.drawings.fits import check_fits
from nestlib.drawings.narrow import check_narrow
from nestlib.geometry.polygons import region
from nestlib.model import Contour, Drawing, Finding, Part, Sheet

#: A part whose longer side is smaller or larger than this, in mm, is doubted. The usual
#: sheet formats end at 6 m (common practice of the trade, no source).
USUAL_SIZES = (1.0, 6000.0)

#: A contour with this many straight segments shorter than `TINY` is complained about.
MANY = 1000

#: In mm; a machine that slows down at each vertex hardly gets going on shorter segments.
TINY = 1.0

#: Drawings in mm that are all smaller than this, in sixteenths, may be drawn in inches.
_INCHES_BELOW = 60.0

#: After these findings of reading there is nothing on which widths could be measured.
_SPOILT = {"self-crossing", "contours-cross", "hole-outside-part"}


def check_drawing(
    drawing: Drawing,
    *,
    thickness: float | None = None,
    kerf: float | None = None,
    sheets: Sequence[Sheet] = (),
) -> tuple[Finding, ...]:
    """Return everything that the author of a drawing should know.

    Parameters
    ----------
    drawing : Drawing
        As it was read.
    thickness : float, optional
        Of the sheet in mm; without it no hole, slot or web is too small.
    kerf : float, optional
        Width of the cut in mm; without it nothing is lost in it or rounded by it.
    sheets : sequence of Sheet
        The sheets that the parts have to fit on; none are compared if empty.

    Returns
    -------
    tuple of Finding
        Those of reading and those of the checks, errors first, each in reading order;
        places in the coordinates of the drawing, in mm.
    """
    found = list(drawing.findings)
    if not any(f.code == "suspicious-size" for f in found):
        found += _maybe_inches(drawing)
    for part in drawing.parts:
        known = {f.code for f in found if f.part == part.name}
        checks = [*_check_part(part, sheets, kerf or 0.0)]
        if not known & _SPOILT:
            checks += _check_contours(part, thickness, kerf)
        found += [_on_drawing(f, part) for f in checks if f.code not in known]
    return tuple(sorted(found, key=lambda f: LEVELS.index(f.level)))


def _check_part(part: Part, sheets: Sequence[Sheet], kerf: float) -> Iterator[Finding]:
    yield from _check_size(part)
    yield from _check_segments(part)
    yield from check_fits(part, sheets, kerf)


def _check_contours(part: Part, thickness: float | None, kerf: float | None) -> Iterator[Finding]:
    if not region(part.outer, part.inners).is_valid:
        yield finding("contours-cross", "contours cross or touch", part=part.name)
        return
    yield from check_narrow(part, thickness, kerf)
    if kerf:
        yield from check_corners(part, kerf)


def _check_size(part: Part) -> Iterator[Finding]:
    width, height = part.size
    smallest, largest = USUAL_SIZES
    if smallest <= max(width, height) <= largest:
        return
    unit = part.source.units if part.source else "mm"
    other = "mm" if unit == "in" else "in"
    factor = 1 / 25.4 if unit == "in" else 25.4
    yield finding(
        "suspicious-size",
        f"{width:.6g} x {height:.6g} mm when read in {unit}; "
        f"in {other} it were {width * factor:.6g} x {height * factor:.6g} mm",
        places=[_middle(part.outer)],
        part=part.name,
    )


def _check_segments(part: Part) -> Iterator[Finding]:
    for contour in (part.outer, *part.inners):
        starts, ends, bulges = contour.segments
        lengths = np.hypot(*(ends - starts).T)
        tiny = (bulges == 0) & (lengths < TINY)
        if (count := int(tiny.sum())) >= MANY:
            yield finding(
                "tiny-segments",
                f"a contour has {count} straight segments shorter than {TINY:g} mm, "
                f"{float(lengths[tiny].mean()):.2g} mm on average",
                places=[(float(starts[0][0]), float(starts[0][1]))],
                part=part.name,
            )
            return


def _maybe_inches(drawing: Drawing) -> Iterator[Finding]:
    """Doubt a small drawing in mm whose sizes are sixteenths, but not halves, of its unit."""
    if drawing.units != "mm" or not drawing.parts:
        return
    contours = [c for part in drawing.parts for c in (part.outer, *part.inners)]
    boxes = np.array([c.bounds for c in contours])
    sizes = (boxes[:, 2:] - boxes[:, :2]).ravel()
    if sizes.max() < _INCHES_BELOW and _whole(sizes * 16) and not _whole(sizes * 2):
        some = ", ".join(f"{s:g}" for s in sorted(set(np.round(sizes, 4)), reverse=True)[:3])
        yield finding(
            "suspicious-size",
            f"all sizes are sixteenths ({some} ...): drawn in mm, perhaps meant in inches",
        )


def _whole(numbers: np.ndarray) -> bool:
    return bool(np.all(np.abs(numbers - np.rint(numbers)) < 1e-6))


def _on_drawing(found: Finding, part: Part) -> Finding:
    """Move the places of a finding from the part's coordinates to the drawing's."""
    dx, dy = part.source.origin if part.source else (0.0, 0.0)
    return replace(found, places=tuple((x + dx, y + dy) for x, y in found.places))


def _middle(contour: Contour) -> tuple[float, float]:
    x0, y0, x1, y1 = contour.bounds
    return (x0 + x1) / 2, (y0 + y1) / 2
