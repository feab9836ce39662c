"""What is left of a sheet and worth keeping."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from shapely import Polygon, box

from nestlib.geometry import open_ring, polygons, region
from nestlib.model import Contour, Remnant, Sheet, Spacing


def leftover(
    sheet: Sheet,
    used: Sequence[Contour],
    spacing: Spacing,
    least_side: float,
    name: str,
) -> Remnant | None:
    """Return the larger of the two pieces that one straight cut can free.

    The cut runs across the whole sheet, upright to the right of all parts and lead-ins or
    level above them, and leaves its own kerf and the usual metal beside the last slot.

    Parameters
    ----------
    sheet : Sheet
        What the parts lie on.
    used : sequence of Contour
        Outer contours and lead-ins of all pieces, where they lie on the sheet.
    spacing : Spacing
        Distances to keep.
    least_side : float
        Neither side of the remnant's bounding box may be shorter, in mm.
    name : str
        Of the remnant.

    Returns
    -------
    Remnant or None
        None if nothing is worth keeping. Holes and keep-out zones of the sheet are never
        part of it.
    """
    x0, y0, x1, y1 = sheet.outline.bounds
    taken = [c.bounds for c in (*used, *sheet.holes, *sheet.keep_outs)]
    right = max((b[2] + spacing.between_parts for b in taken), default=x0)
    above = max((b[3] + spacing.between_parts for b in taken), default=y0)
    whole = region(sheet.outline, side="inside")
    pieces = [
        *_pieces(whole, (right, y0, x1, y1), least_side),
        *_pieces(whole, (x0, above, x1, y1), least_side),
    ]
    best = max(pieces, key=lambda p: p.area, default=None)
    return (
        None
        if best is None
        else Remnant(name, Contour(open_ring(best.exterior)).oriented(ccw=True))
    )


def _pieces(
    whole: Polygon, window: tuple[float, float, float, float], least_side: float
) -> Iterable[Polygon]:
    """Pieces of the sheet in a window that are large enough to keep."""
    if window[0] >= window[2] or window[1] >= window[3]:
        return
    for piece in polygons(whole.intersection(box(*window))):
        x0, y0, x1, y1 = piece.bounds
        if min(x1 - x0, y1 - y0) >= least_side:
            yield piece
