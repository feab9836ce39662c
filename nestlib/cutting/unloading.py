"""The last cuts of a sheet: the skeleton into pieces, then the remnant off.

They come after all parts, the cut-off last, so that the sheet lies firm for as long as
can be. What they free may stand up, so the head is lifted on its way to each of them
(common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import dist

import shapely
from shapely import Polygon

from nestlib.cutting.bridges import Fences
from nestlib.cutting.cut_off import cut_offs, grown
from nestlib.cutting.skeleton import Line, piece_of, skeleton, take_apart, too_large, without
from nestlib.geometry.polygons import region
from nestlib.geometry.transform import placed
from nestlib.model.contour import Contour
from nestlib.model.job import Job
from nestlib.model.layout import NO_PIECE, Cut, CutPath, Layout

#: Arcs are replaced by lines outside of them, this close to them, in mm.
_CHORD = 0.005

#: Metal between slots that is thinner than this counts as firm, in mm: twice the chord, and some.
_NECK = 0.012

Point = tuple[float, float]


def with_unloading(layout: Layout, job: Job) -> CutPath:
    """Return the cut path of a layout with its last cuts.

    Parameters
    ----------
    layout : Layout
        With the path of its parts, and its remnants.
    job : Job
        Says how remnant and skeleton are taken off the table.

    Returns
    -------
    CutPath
        The same path if nothing more is to be cut.
    """
    wishes, path = job.unloading, layout.path
    if wishes.cut_off == "none" or not layout.placements:
        return path
    bridges, regions = _taken_apart(layout, job) if wishes.cuts_skeleton else ([], [])
    head = path.cuts[-1].end if path.cuts else (0.0, 0.0)
    lines = [Contour(line, closed=False) for line in bridges]
    cuts = list(_cuts("skeleton", lines, head))
    offs = cut_offs(layout, job.spacing.kerf)
    cuts += _cuts("cut_off", offs, cuts[-1].end if cuts else head)
    pieces = tuple(piece_of(p) for p in regions)
    found = replace(path, cuts=(*path.cuts, *cuts), skeleton=pieces)
    return replace(found, warnings=(*path.warnings, *_told(found, layout, job)))


def _taken_apart(layout: Layout, job: Job) -> tuple[list[Line], list[Polygon]]:
    """Cuts after which the skeleton can be carried, and the pieces, the largest first."""
    kerf = job.spacing.kerf
    parts = [
        region(placed(job.part(p.part).outer, p), chord=_CHORD, side="outside")
        for p in layout.placements
    ]
    holes = [region(c, chord=_CHORD) for c in layout.sheet.holes]
    metal = region(layout.sheet.outline, chord=_CHORD).difference(shapely.union_all(holes))
    barred = [region(c, chord=_CHORD, side="outside") for c in layout.sheet.keep_outs]

    def left(slot: float) -> list[Polygon]:
        kept = [grown(remnant, slot) for remnant in layout.remnants]
        return skeleton(metal, parts, kept, slot)

    # Half of its own slot, the metal between two slots, and the slot of the part.
    fences = Fences(parts, barred, job.spacing.spacing + 1.5 * kerf, kerf)
    lines = take_apart(left(kerf), fences, job.unloading, job.metal.weight, kerf)
    # Where slots just touch, what lies between them is taken to hold.
    firm = shapely.union_all(left(max(kerf - _NECK, 0.0)))
    return lines, sorted(without(firm, lines, kerf), key=lambda p: -p.area)


def _cuts(role: str, lines: Sequence[Contour], head: Point) -> Iterator[Cut]:
    """Cuts of one kind in their order, each begun at the end nearer to the head."""
    for index, line in enumerate(lines):
        ends = [(float(x), float(y)) for x, y in line.points[[0, -1]]]
        if dist(head, ends[1]) < dist(head, ends[0]):
            line, ends = line.reversed(), ends[::-1]
        yield Cut(NO_PIECE, role, index, line, lifted=True)
        head = ends[1]


def _told(path: CutPath, layout: Layout, job: Job) -> Iterator[str]:
    """What people who unload the sheet should know."""
    limits, weight = job.unloading, job.metal.weight
    over = [p for p in path.skeleton if too_large(p, limits, weight)]
    if over:
        heaviest = max(weight(p.area) for p in over)
        yield (
            f"skeleton: {len(over)} of {len(path.skeleton)} pieces stay larger than wished, the "
            f"heaviest weighs {heaviest:.1f} kg: no cut that keeps off the parts makes them smaller"
        )
    held = path.joints or any(c.end_gap > job.spacing.kerf for c in path.cuts)
    if path.skeleton and held:
        yield "skeleton: its pieces come free only when the joints of the parts are broken"
    holes = [c for c in path.cuts if c.role == "inner"]
    slugs = [weight(abs(c.contour.area)) for c in holes]
    if limits.piece_weight is not None and max(slugs, default=0.0) > limits.piece_weight:
        yield (
            f"slugs of holes are not cut up: the heaviest weighs up to {max(slugs):.1f} kg, pieces "
            "in it included"
        )
    if layout.remnants and not any(c.role == "cut_off" for c in path.cuts):
        yield "the remnant takes the whole width of the sheet: nothing frees it"
