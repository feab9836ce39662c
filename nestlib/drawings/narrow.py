"""Holes and slots too small to cut cleanly, and metal too thin to stay in shape.

The rules are common practice of the trade, without a source: holes, slots and the metal
between two cuts should be no narrower than the sheet is thick; and the beam, which runs
on the waste side, cannot enter a hole or a slot narrower than its kerf at all.

Terms
-----
narrow
    A region is narrow where no disc of the given width fits into it. Corners and blind
    ends shorter than that width are not counted: `nestlib.drawings.corners` does.

References
----------
Narrow places are found by the opening of mathematical morphology: J. Serra, *Image
Analysis and Mathematical Morphology*, Academic Press 1982.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon, STRtree
from shapely.geometry.base import BaseGeometry

from nestlib.drawings.codes import finding
from nestlib.geometry.polygons import line, region
from nestlib.model import Contour, Finding, Part

#: Arcs are measured on chords this close to them, in mm.
_CHORD = 0.002

#: What is narrower than demanded by less than this many mm is let pass.
_SLACK = 0.01

#: Corners sharper than about 2 asin(1 / 10) = 11.5 degrees count as narrow.
_MITRE_LIMIT = 10.0

#: The smallest hole that is cut at best, in thicknesses.
_AT_BEST = 0.7

#: A hole is a slot if it is longer than this many times its width.
_SLOT_SHAPE = 2.0

#: By what right, as it stands in messages.
RULE = "Common practice, no source, is the thickness at least"

#: What a width is compared with, unless a machine has a limit of its own.
_THICKNESS = "the thickness"

Place = tuple[float, float]


@dataclass(frozen=True)
class Narrow:
    """A narrow place: its middle, and its width, both in mm."""

    place: Place
    width: float


def narrow_places(polygon: Polygon, width: float) -> list[Narrow]:
    """Find where a polygon without holes is narrower than `width`.

    A disc that is moved about inside the polygon leaves the narrow places uncovered;
    where a neck joins two wide places, the discs fall into two separate pieces.

    Parameters
    ----------
    polygon : shapely.Polygon
        Valid, its rings apart from each other.
    width : float
        In mm.

    Returns
    -------
    list of Narrow
        Largest uncovered place first, then the necks; all are given the width of the
        narrowest.

    Examples
    --------
    >>> bone = shapely.box(0, 0, 10, 10) | shapely.box(10, 4, 20, 6) | shapely.box(20, 0, 30, 10)
    >>> [(n.place, round(n.width, 2)) for n in narrow_places(bone, 3)]
    [((15.0, 5.0), 2.0)]
    """
    places = _narrow(polygon, width)
    if not places:
        return []
    narrowest = _bisect(lambda w: bool(_narrow(polygon, w)), width)
    return [Narrow(place, narrowest) for place in places]


def across(polygon: Polygon) -> float:
    """Return the diameter of the largest disc that fits into a polygon, in mm."""
    return 2 * float(shapely.maximum_inscribed_circle(polygon, tolerance=1e-3).length)


def check_narrow(
    part: Part,
    thickness: float | None = None,
    kerf: float | None = None,
    limit: str = _THICKNESS,
) -> Iterator[Finding]:
    """Find the holes, slots and webs of a part that are too small.

    Parameters
    ----------
    part : Part
        Its contours must not cross or touch.
    thickness : float, optional
        Of the sheet in mm, or what a machine asks for in its place; nothing is compared with
        it if it is not known.
    kerf : float, optional
        Width of the cut in mm; likewise.
    limit : str
        What `thickness` is, in words.

    Yields
    ------
    Finding
        At most one of each code, with all its places, in the coordinates of the part.
    """
    holes: list[Narrow] = []
    slots: list[Narrow] = []
    lost: list[Narrow] = []
    for hole in part.inners:
        if found := _narrow_hole(hole, kerf):
            lost += found
        else:
            found = _narrow_hole(hole, thickness)
            (slots if found and _is_slot(hole, thickness) else holes).extend(found)
    beside = _beside(part, max(thickness or 0.0, kerf or 0.0))
    gaps = narrow_places(beside, kerf or 0.0)
    notches = narrow_places(beside, thickness or 0.0)
    slots += [n for n in notches if not _near(n, gaps, thickness or 0.0)]
    if lost := [*lost, *gaps]:
        yield _lost_in_kerf(part, lost, kerf or 0.0)
    if thickness:
        yield from _too_small(part, thickness, limit, holes, slots)


def _too_small(
    part: Part, thickness: float, limit: str, holes: list[Narrow], slots: list[Narrow]
) -> Iterator[Finding]:
    wanted = f"{limit} {thickness:g} mm"
    if holes:
        least = min(h.width for h in holes)
        what = f"{_count(holes, 'hole')} smaller than {wanted}; "
        rare = limit == _THICKNESS and least < _AT_BEST * thickness
        rarely = ", which rarely comes out at all" if rare else ""
        message = f"{what}the smallest is {least:.2f} mm across{rarely}"
        yield _finding("hole-too-small", message, part, holes)
    if slots:
        least = min(s.width for s in slots)
        what = f"{_count(slots, 'slot')} narrower than {wanted}; "
        yield _finding("slot-too-narrow", f"{what}the narrowest is {least:.2f} mm", part, slots)
    webs = [*_thin_between(part, thickness), *narrow_places(_filled(part), thickness)]
    if webs:
        least = min(w.width for w in webs)
        what = f"{_count(webs, 'web')} of metal thinner than {wanted}; "
        yield _finding("web-too-thin", f"{what}the thinnest is {least:.2f} mm", part, webs)


def _lost_in_kerf(part: Part, lost: list[Narrow], kerf: float) -> Finding:
    least = min(n.width for n in lost)
    what = f"{_count(lost, 'hole or slot', 'holes or slots')} narrower than the kerf {kerf:g} mm; "
    return _finding("lost-in-kerf", f"{what}the narrowest is {least:.2f} mm", part, lost)


def _finding(code: str, message: str, part: Part, found: list[Narrow]) -> Finding:
    return finding(code, message, places=[n.place for n in found], part=part.name)


def _count(found: list[Narrow], one: str, many: str = "") -> str:
    return f"1 {one}" if len(found) == 1 else f"{len(found)} {many or one + 's'}"


def _narrow_hole(hole: Contour, width: float | None) -> list[Narrow]:
    """Narrow places of a hole, or its middle if it is narrow everywhere."""
    if not width:
        return []
    if hole.is_circle:
        diameter = math.dist(*hole.points)
        return [Narrow(_centre(hole), diameter)] if diameter < width - _SLACK else []
    polygon = region(hole, (), _CHORD)
    if _vanishes(polygon, width):
        return [Narrow(_middle(polygon), across(polygon))]
    return narrow_places(polygon, width)


def _centre(circle: Contour) -> Place:
    x, y = circle.points.mean(axis=0)
    return float(x), float(y)


def _vanishes(hole: Polygon, width: float) -> bool:
    return bool(hole.buffer(_SLACK / 2 - width / 2).is_empty)


def _is_slot(hole: Contour, width: float | None) -> bool:
    """Whether a hole that is narrow somewhere is a slot: partly wide, or long."""
    if hole.is_circle or not width:
        return False
    polygon = region(hole, (), _CHORD)
    if not _vanishes(polygon, width):
        return True
    box = polygon.minimum_rotated_rectangle
    sides = sorted(np.hypot(*np.diff(np.asarray(box.exterior.coords)[:3], axis=0).T))
    return bool(sides[1] > _SLOT_SHAPE * sides[0])


def _near(narrow: Narrow, others: Iterable[Narrow], distance: float) -> bool:
    return any(math.dist(narrow.place, other.place) < distance for other in others)


def _beside(part: Part, width: float) -> Polygon:
    """What surrounds a part, as far as notches need to be told from open space."""
    filled = _filled(part)
    return shapely.box(*filled.buffer(2 * width + 1, join_style="mitre").bounds) - filled


def _filled(part: Part) -> Polygon:
    return region(part.outer, (), _CHORD)


def _thin_between(part: Part, width: float) -> list[Narrow]:
    """Places where two contours of a part come closer than `width`."""
    rings = np.array([line(c, _CHORD) for c in (part.outer, *part.inners)])
    near = STRtree(rings).query(rings, predicate="dwithin", distance=width - _SLACK)
    pairs = near[:, near[0] < near[1]]
    bridges = shapely.shortest_line(rings[pairs[0]], rings[pairs[1]])
    return [Narrow(_middle(b), float(b.length)) for b in bridges]


def _narrow(polygon: Polygon, width: float) -> list[Place]:
    """Middles of the places that a disc of this width leaves uncovered, then of the necks."""
    radius = (width - _SLACK) / 2
    if radius <= 0:
        return []
    discs = polygon.buffer(-radius, quad_segs=16)
    # Mitred, the way back fills the corners: what a round one leaves there is not narrow.
    covered = discs.buffer(
        radius + _SLACK / 2, join_style="mitre", mitre_limit=_MITRE_LIMIT, quad_segs=16
    )
    left = [p for p in _parts(polygon - covered) if _is_long(p, width)]
    left.sort(key=lambda p: -p.area)
    places = [_middle(p) for p in left]
    return places + [n for n in _necks(_parts(discs)) if not _in_any(n, left, width)]


def _is_long(piece: Polygon, width: float) -> bool:
    """Whether a blind end matters: the tip between two curved sides is short."""
    length = 2 * float(shapely.minimum_bounding_radius(piece))
    return length > width and bool(piece.area > _SLACK * width)


def _necks(pieces: list[Polygon]) -> list[Place]:
    """Middles of the shortest bridges that join separate pieces to one."""
    found, joined = [], pieces[:1]
    rest = pieces[1:]
    while rest:
        bridges = [shapely.shortest_line(shapely.union_all(joined), p) for p in rest]
        nearest = int(np.argmin([b.length for b in bridges]))
        found.append(_middle(bridges[nearest]))
        joined.append(rest.pop(nearest))
    return found


def _in_any(place: Place, left: Iterable[Polygon], width: float) -> bool:
    return any(p.distance(shapely.Point(place)) < width / 2 for p in left)


def _bisect(is_narrow: Callable[[float], bool], width: float) -> float:
    """Smallest width at which something is narrow, to a hundredth of a mm."""
    low, high = 0.0, width
    while high - low > _SLACK / 2:
        middle = (low + high) / 2
        low, high = (low, middle) if is_narrow(middle) else (middle, high)
    return max(0.0, high - _SLACK)


def _middle(geometry: BaseGeometry) -> Place:
    """Middle of a line, or of a polygon if it lies in it, else some point of it."""
    point = geometry.centroid
    if geometry.area and not geometry.contains(point):
        point = geometry.representative_point()
    return round(point.x, 6), round(point.y, 6)


def _parts(geometry: BaseGeometry) -> list[Polygon]:
    parts = shapely.get_parts(geometry)
    return [p for p in parts if isinstance(p, Polygon) and not p.is_empty]
