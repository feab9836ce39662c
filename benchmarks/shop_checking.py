"""Are layouts sound? Looked at by shapely alone: sheets of any outline, with holes.

Nothing of the search is used, nor the clearance polygons that it is given: outlines are
flattened here, and distances measured between them.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

import numpy as np
import shapely
from shapely import Polygon, STRtree, affinity

from nestlib.model import Contour, Job, Layout, Part, Placement

#: Greatest distance in mm between an arc and the lines that stand for it.
_CHORD = 0.005

#: By how much a distance may fall short, in mm: four times what two flattened arcs can lose.
FORGIVEN = 0.04


def faults(job: Job, layouts: Sequence[Layout], unplaced: Mapping[str, int]) -> list[str]:
    """Return what is wrong with layouts, in plain words; nothing if they are sound.

    Parameters
    ----------
    job : Job
        What was asked for.
    layouts : sequence of Layout
        What is cut.
    unplaced : mapping
        How many pieces of each part are said to be missing.
    """
    shapes = {part.name: polygon(part.outer, part.inners) for part in job.parts}
    return [
        *_wrong_counts(job, layouts, unplaced),
        *(fault for layout in layouts for fault in _wrong_layout(job, layout, shapes)),
    ]


def polygon(outer: Contour, holes: Sequence[Contour] = (), chord: float = _CHORD) -> Polygon:
    """Return a contour with its holes as a polygon with its vertices on the arcs."""
    return Polygon(_ring(outer, chord), [_ring(hole, chord) for hole in holes])


def laid(shape: Polygon, placement: Placement) -> Polygon:
    """Return a polygon where a placement puts it: mirrored, turned, moved."""
    if placement.flip:
        shape = affinity.scale(shape, -1.0, 1.0, origin=(0, 0))
    turned = affinity.rotate(shape, placement.rotation, origin=(0, 0))
    return affinity.translate(turned, placement.x, placement.y)


def _ring(contour: Contour, chord: float) -> np.ndarray:
    points = contour.points[:, 0] + 1j * contour.points[:, 1]
    ends = np.roll(points, -1)
    pieces = [_along(*segment, chord) for segment in zip(points, ends, contour.bulges, strict=True)]
    found = np.concatenate(pieces)
    return np.stack([found.real, found.imag], axis=1)


def _along(start: complex, end: complex, bulge: float, chord: float) -> np.ndarray:
    """Points of a line or an arc, without its end."""
    if not bulge:
        return np.array([start])
    centre = (start + end) / 2 + 1j * (end - start) * (1 - bulge**2) / (4 * bulge)
    angle, radius = 4 * np.arctan(bulge), abs(start - centre)
    step = 2 * np.arccos(max(1 - chord / radius, 0.0))
    count = max(2, int(np.ceil(abs(angle) / step)))
    return np.asarray(centre + (start - centre) * np.exp(1j * angle * np.arange(count) / count))


def _wrong_counts(
    job: Job, layouts: Sequence[Layout], unplaced: Mapping[str, int]
) -> Iterator[str]:
    made: Counter[str] = Counter()
    used: Counter[str] = Counter()
    for layout in layouts:
        used[layout.sheet.name] += layout.runs
        for placement in layout.placements:
            made[placement.part] += layout.runs
    for part in job.parts:
        if made[part.name] + unplaced.get(part.name, 0) != part.quantity:
            yield f"{part.name}: {made[part.name]} made of {part.quantity}"
    for sheet in job.sheets:
        if sheet.quantity is not None and used[sheet.name] > sheet.quantity:
            yield f"{sheet.name}: {used[sheet.name]} used of {sheet.quantity}"


def _wrong_layout(job: Job, layout: Layout, shapes: Mapping[str, Polygon]) -> Iterator[str]:
    name, placements = layout.sheet.name, layout.placements
    for placement in placements:
        if not _is_allowed(job.part(placement.part), placement):
            yield f"{name}: {placement.part} is turned or mirrored as it must not be"
    pieces = np.array([laid(shapes[p.part], p) for p in placements], dtype=object)
    metal = polygon(layout.sheet.outline, layout.sheet.holes)
    shapely.prepare(metal)
    near = job.spacing.to_edge - FORGIVEN
    off = ~shapely.covers(metal, pieces) | (shapely.distance(metal.boundary, pieces) < near)
    for k in np.flatnonzero(off):
        yield f"{name}: {placements[k].part} is off the sheet or too near to its edge"
    first, second = STRtree(pieces).query(
        pieces, predicate="dwithin", distance=job.spacing.between_parts - FORGIVEN
    )
    for i, j in zip(first, second, strict=True):
        if i < j:
            yield f"{name}: {placements[i].part} and {placements[j].part} are too near"


def _is_allowed(part: Part, placement: Placement) -> bool:
    turns = part.rotations
    return (part.flip or not placement.flip) and (
        turns is None
        or any(abs((placement.rotation - turn + 180) % 360 - 180) < 1e-6 for turn in turns)
    )
