"""The cut path of a layout: order, leads and direction."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely import Polygon

from nestlib.cutting.bundles import bodies
from nestlib.cutting.heat import told, with_waits
from nestlib.cutting.leading import Leading
from nestlib.cutting.order import MANY_PLACES, PLACES, Item, Piece, cutting_order
from nestlib.cutting.securing import secured
from nestlib.cutting.sequence import GoOn
from nestlib.cutting.surroundings import CHECK_CHORD, Surroundings
from nestlib.geometry.polygons import region
from nestlib.geometry.transform import moved, placed
from nestlib.model.job import Job
from nestlib.model.layout import Cut, CutPath, Layout, Placement
from nestlib.model.part import Part


def cut_path(
    layout: Layout,
    job: Job,
    *,
    rounds: int | None = None,
    most_places: int | None = None,
    go_on: GoOn = lambda: True,
) -> CutPath:
    """Return all cuts of a layout in cutting order, with their leads.

    Outer contours are cut clockwise and holes counter-clockwise, so that the piece always
    lies to the right of the travel and the waste to its left (common practice, no source).

    Parameters
    ----------
    layout : Layout
        Parts placed on a sheet; the path it has already is ignored.
    job : Job
        Holds the parts, the metal, the spacing and what the order keeps together.
    rounds : int, optional
        How long to search for a short way, as in `cutting_order`.
    most_places : int, optional
        At how many places the order thinks of entering a contour; 8 by default, and 64 if
        it may be entered anywhere.
    go_on : callable
        Asked now and then; False ends that search with the best so far.

    Returns
    -------
    CutPath
        With a warning for every contour that has no room for a lead, and for what can
        tip or drop and is not held. The same layout always gives the same path.
    """
    usual = MANY_PLACES if job.entry.start_at == "anywhere" else PLACES
    most, apart = most_places or usual, job.heat_apart
    path = _path(layout, job, apart, rounds, most, go_on)
    if not apart:
        return path
    shortest = _path(layout, job, 0.0, rounds, most, go_on)
    path = with_waits(path, apart, job.heat_wait)
    return replace(path, warnings=(*path.warnings, *told(path, shortest, apart)))


def _path(
    layout: Layout, job: Job, apart: float, rounds: int | None, most: int, go_on: GoOn
) -> CutPath:
    """All cuts, those that follow each other `apart` where the order can have it so."""
    parts = [job.part(p.part) for p in layout.placements]
    pieces = _pieces(parts, layout)
    together, metal = bodies(pieces, _metal(parts, layout), layout)
    surroundings = Surroundings(metal, layout.sheet, job.spacing.kerf)
    leading = Leading(job, layout, together, surroundings)
    visits = cutting_order(
        together,
        part_by_part=job.cut_order == "part by part",
        apart=apart,
        rounds=rounds,
        go_on=go_on,
        places=leading.places,
        most=most,
    )
    cuts: list[Cut] = []
    for visit in visits:
        head = cuts[-1].end if cuts else (0.0, 0.0)
        mark = visit.item.role == "mark"
        cuts.append(_mark(visit.item, head) if mark else leading.cut(visit, head))
    safe, risks = secured(cuts, pieces, layout, job)
    return CutPath(safe, (*leading.warnings, *risks))


def placed_piece(number: int, part: Part, placement: Placement) -> Piece:
    """Return a part's contours on the sheet, each in its cutting direction."""
    return Piece(
        number,
        placed(part.outer, placement).oriented(ccw=False),
        tuple(placed(c, placement).oriented(ccw=True) for c in part.inners),
        tuple(placed(c, placement) for c in part.marks),
    )


def _pieces(parts: Sequence[Part], layout: Layout) -> list[Piece]:
    """Contours of each piece; copies that lie the same way are only moved."""
    turned: dict[tuple[str, float, bool], Piece] = {}
    pieces = []
    for number, (part, p) in enumerate(zip(parts, layout.placements, strict=True)):
        key = (p.part, p.rotation, p.flip)
        if key not in turned:
            turned[key] = placed_piece(number, part, replace(p, x=0.0, y=0.0))
        still = turned[key]
        inners, marks = (
            tuple(moved(c, p.x, p.y) for c in contours) for contours in (still.inners, still.marks)
        )
        pieces.append(Piece(number, moved(still.outer, p.x, p.y), inners, marks))
    return pieces


def _metal(parts: Sequence[Part], layout: Layout) -> list[Polygon]:
    """Polygon of each piece; copies that lie the same way are only moved."""
    turned: dict[tuple[str, float, bool], Polygon] = {}
    metal = []
    for part, p in zip(parts, layout.placements, strict=True):
        key = (p.part, p.rotation, p.flip)
        if key not in turned:
            still = Placement(p.part, p.rotation, p.flip, 0.0, 0.0)
            holes = [placed(c, still) for c in part.inners]
            turned[key] = region(placed(part.outer, still), holes, CHECK_CHORD)
        metal.append(shapely.transform(turned[key], lambda xy, at=(p.x, p.y): xy + at))
    return metal


def _mark(item: Item, head: tuple[float, float]) -> Cut:
    """A line that is etched, begun at its nearest end or vertex."""
    contour = item.contour
    distances = np.hypot(*(contour.points - head).T)
    if contour.closed:
        contour = contour.starting_at(int(np.argmin(distances)))
    elif distances[-1] < distances[0]:
        contour = contour.reversed()
    number, index = item.owner
    return Cut(number, "mark", index, contour)
