"""Pieces that share cuts, cut again with shapely as the independent reference.

A slot is what the beam, a disc of the kerf's width, sweeps: shapely's buffer of its line. The
way around runs half a kerf outside of the outline, so that it leaves metal in corners that turn
inward, as a round beam does.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import shapely
from shapely import LineString, Polygon
from shapely.affinity import rotate, scale, translate

from nestlib.bundling import Pattern, put, reaching
from nestlib.costing import work
from nestlib.cutting import cut_efforts, cut_path
from nestlib.model import (
    Bound,
    Bundle,
    Contour,
    Effort,
    Job,
    Layout,
    Part,
    Placement,
    Plan,
    Sheet,
)

#: A triangle, a trapezoid and others, with straight edges that match themselves.
RIGHT_TRIANGLE = Contour([(0, 0), (60, 0), (0, 40)])
TRAPEZOID = Contour([(0, 0), (80, 0), (60, 40), (0, 40)])


def metal(part: Part, placement: Placement) -> Polygon:
    """A part with straight edges where a placement puts it, by shapely alone."""
    shape = Polygon(part.outer.points)
    if placement.flip:
        shape = scale(shape, -1, 1, origin=(0, 0))
    shape = rotate(shape, placement.rotation, origin=(0, 0))
    return translate(shape, placement.x, placement.y)


def freed(pattern: Pattern, kerf: float) -> list[Polygon]:
    """What falls out of a large sheet once all the cuts of a pattern are made."""
    outline = Polygon(pattern.outline.points)
    around = outline.buffer(kerf / 2, quad_segs=64).exterior.buffer(kerf / 2, quad_segs=64)
    lines = [LineString(line.points) for line in reaching(pattern, kerf)]
    slots = shapely.union_all([around, *(line.buffer(kerf / 2, quad_segs=64) for line in lines)])
    sheet = outline.buffer(50)
    found = [g for g in shapely.get_parts(sheet.difference(slots)).tolist() if g.area > 1e-6]
    return [g for g in found if not g.intersects(sheet.exterior)]


def as_cut(piece: Polygon, kerf: float) -> Polygon:
    """A piece cut by itself: the beam leaves metal in its own inward corners."""
    around = piece.buffer(kerf / 2, quad_segs=64).exterior.buffer(kerf / 2, quad_segs=64)
    return max((Polygon(ring) for ring in around.interiors), key=lambda p: p.area)


def assert_exact(pattern: Pattern, parts: Mapping[str, Part], kerf: float) -> None:
    """Each piece falls out once, as if cut by itself; until the way around is cut none does."""
    wanted = [as_cut(metal(parts[m.part], m), kerf) for m in pattern.members]
    found = freed(pattern, kerf)
    assert len(found) == len(wanted)
    for piece in wanted:
        nearest = min(found, key=lambda g: g.symmetric_difference(piece).area)
        assert nearest.symmetric_difference(piece).area < 1e-6 * piece.length
    assert hanging(pattern, kerf) == 1


def hanging(pattern: Pattern, kerf: float) -> int:
    """How many pieces of metal there are once only the shared lines are cut: one, the sheet."""
    lines = [LineString(line.points) for line in reaching(pattern, kerf)]
    slots = shapely.union_all([line.buffer(kerf / 2) for line in lines])
    sheet = Polygon(pattern.outline.points).buffer(50)
    return sum(g.area > 1e-6 for g in shapely.get_parts(sheet.difference(slots)))


def layout_of(*patterns: Pattern, kerf: float, sheet: Sheet, gap: float = 20.0) -> Layout:
    """Patterns in a row on a sheet, as bundles; a pattern of one piece is a piece by itself."""
    placements: list[Placement] = []
    bundles: list[Bundle] = []
    x = 30.0
    for pattern in patterns:
        name = pattern.members[0].part
        own, bundle = put(pattern, Placement(name, 0.0, False, x, 30.0), kerf, len(placements))
        placements += own
        bundles += [bundle] if len(own) > 1 else []
        x += pattern.outline.bounds[2] + gap
    return Layout(sheet, tuple(placements), bundles=tuple(bundles))


def sharing_plan(job: Job, layout: Layout) -> Plan:
    """The plan of one layout, with its cuts, its work and what it would take singly."""
    alone = replace(layout, bundles=())
    alone = replace(alone, path=cut_path(alone, job))
    effort = sum(cut_efforts(alone, job), Effort())
    layout = replace(layout, path=cut_path(layout, job), singly=effort)
    plan = Plan(job, (layout,), (), Bound(1, 0.0, "none"))
    return replace(plan, work=work(plan))
