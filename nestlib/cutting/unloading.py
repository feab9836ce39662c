"""The last cuts of a sheet: the skeleton into pieces, then the remnant off.

They come after all parts, the cut-off last, so that the sheet lies firm for as long as
can be. What they free may stand up, so the head is lifted on its way to each of them
(common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import dist
from typing import NamedTuple

import shapely
from shapely import Polygon

from nestlib.cutting.bridges import Fences
from nestlib.cutting.cut_off import cut_offs, grown, run_on
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
    apart = _taken_apart(layout, job) if wishes.cuts_skeleton else _Apart([], [], 0)
    head = path.cuts[-1].end if path.cuts else (0.0, 0.0)
    sheet, overrun = layout.sheet, wishes.edge_overrun
    lines = [run_on(Contour(line, closed=False), sheet, overrun) for line in apart.lines]
    cuts = list(_cuts("skeleton", lines))
    offs = [run_on(line, sheet, overrun) for line in cut_offs(layout, job.spacing.kerf)]
    cuts += _cuts("cut_off", list(_nearer_first(offs, cuts[-1].end if cuts else head)))
    pieces = tuple(piece_of(p) for p in apart.regions)
    found = replace(path, cuts=(*path.cuts, *cuts), skeleton=pieces)
    return replace(found, warnings=(*path.warnings, *_told(found, layout, job, apart.beside)))


class _Apart(NamedTuple):
    """Cuts after which the skeleton can be carried; its pieces, the largest first; how many of
    the cuts begin beside a finished part."""

    lines: list[Line]
    regions: list[Polygon]
    beside: int


def _taken_apart(layout: Layout, job: Job) -> _Apart:
    """Cut the skeleton up."""
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
    tree = shapely.STRtree(parts)
    begun = [_begun_off(line, tree) for line in lines]
    beside = sum(_distance(line[0], tree) < 2 * kerf for line in begun)
    # Where slots just touch, what lies between them is taken to hold.
    firm = shapely.union_all(left(max(kerf - _NECK, 0.0)))
    regions = sorted(without(firm, lines, kerf), key=lambda p: -p.area)
    return _Apart(begun, regions, beside)


def _begun_off(line: Line, parts: shapely.STRtree) -> Line:
    """A cut begun at the end farther from finished parts, since a pierce spatters."""
    a, b = (_distance(end, parts) for end in line)
    return line if a >= b else line[::-1]


def _distance(at: tuple[float, float], parts: shapely.STRtree) -> float:
    """How far the nearest part is."""
    found = parts.query_nearest(shapely.Point(at), return_distance=True, all_matches=False)
    return float(found[1][0])


def _cuts(role: str, lines: Sequence[Contour]) -> Iterator[Cut]:
    """Cuts of one kind in their order."""
    for index, line in enumerate(lines):
        yield Cut(NO_PIECE, role, index, line, lifted=True)


def _nearer_first(lines: Sequence[Contour], head: tuple[float, float]) -> Iterator[Contour]:
    """Lines, each begun at the end nearer to the head."""
    for line in lines:
        first, last = line.points[[0, -1]].tolist()
        line = line.reversed() if dist(head, last) < dist(head, first) else line
        head = (float(line.points[-1][0]), float(line.points[-1][1]))
        yield line


def _off_sheet(layout: Layout, job: Job) -> str:
    """What to look at before the head leaves the sheet."""
    overrun = job.unloading.edge_overrun
    sides = zip(sorted(layout.sheet.size), sorted(job.machine.bed), strict=True)
    beyond = any(side + 2 * overrun > bed + _CHORD for side, bed in sides)
    return (
        f"the last cuts begin and end {overrun:g} mm beyond the sheet, with the beam on: only "
        "where the height control lets the head leave the sheet"
        + (", and that is beyond the bed as the machine's file has it" if beyond else "")
    )


def _told(path: CutPath, layout: Layout, job: Job, beside: int) -> Iterator[str]:
    """What people who unload the sheet should know."""
    limits, weight = job.unloading, job.metal.weight
    over = [p for p in path.skeleton if too_large(p, limits, weight)]
    if over:
        heaviest = max(weight(p.area) for p in over)
        yield (
            f"skeleton: {len(over)} of {len(path.skeleton)} pieces stay larger than wished, the "
            f"heaviest weighs {heaviest:.1f} kg: no cut that keeps off the parts makes them smaller"
        )
    if beside:
        yield (
            f"skeleton: cuts that pierce beside a finished piece, from slot to slot: {beside}; "
            "take such pieces off the table first, or leave the skeleton whole"
        )
    if limits.edge_overrun and any(c.role in ("skeleton", "cut_off") for c in path.cuts):
        yield _off_sheet(layout, job)
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
