"""The densest periodic arrangements of outlines, against published densities."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import MultiPoint, Point, Polygon, affinity, box

from nestlib.packing.repeats import Repeat, repeats
from tests.outlines import overlaps

ELL = Polygon([(0, 0), (180, 0), (180, 45), (45, 45), (45, 130), (0, 130)])


def regular(corners: int, turn: float = 0.0) -> Polygon:
    """A regular polygon of radius 50."""
    angles = [turn + 2 * math.pi * k / corners for k in range(corners)]
    return Polygon([(50 * math.cos(a), 50 * math.sin(a)) for a in angles])


def copies(polygon: Polygon, repeat: Repeat, around: int = 3) -> list[Polygon]:
    """The pieces of some cells, made by shapely alone."""
    centre = polygon.centroid
    whole = affinity.translate(Polygon(polygon.exterior), -centre.x, -centre.y)
    found = []
    for i in range(-around, around + 1):
        for j in range(-around, around + 1):
            for place, turn in zip(repeat.places, (0, 180), strict=False):
                x, y = place + (i, j) @ repeat.steps
                found.append(affinity.translate(affinity.rotate(whole, turn, (0, 0)), x, y))
    return found


def assert_apart(polygon: Polygon, repeat: Repeat) -> None:
    """No two copies overlap by more than 1e-9 of their area, and the density is what is told."""
    pieces = copies(polygon, repeat)
    assert max(overlaps(pieces)) <= 1e-9 * pieces[0].area
    cell = abs(np.linalg.det(repeat.steps))
    assert repeat.density == pytest.approx(len(repeat.places) * pieces[0].area / cell)


@pytest.mark.parametrize(
    ("corners", "density"),
    [
        # Hexagons tile the plane: known since antiquity (Pappus, Collection, book V).
        (6, 1.0),
        # The double lattice of pentagons, (5 - sqrt 5) / 3: G. Kuperberg, W. Kuperberg,
        # Discrete Comput. Geom. 5 (1990) 389-397; no packing is denser: T. Hales, W. Kusner,
        # "Packings of regular pentagons in the plane" (2016).
        (5, (5 - math.sqrt(5)) / 3),
        # The lattice of octagons, (4 + 4 sqrt 2) / (5 + 4 sqrt 2): the densest of a centrally
        # symmetric convex outline is a lattice (L. Fejes Toth, Acta Sci. Math. 12 (1950) 62-67).
        (8, (4 + 4 * math.sqrt(2)) / (5 + 4 * math.sqrt(2))),
    ],
)
@pytest.mark.parametrize("turn", [0.0, 0.3])
def test_regular_polygons_reach_their_published_density(
    corners: int, density: float, turn: float
) -> None:
    """To 1e-6, never beyond, however they lie."""
    polygon = regular(corners, turn)
    best = repeats(polygon)[0]
    assert_apart(polygon, best)
    assert best.density == pytest.approx(density, abs=1e-6)
    assert best.density <= density + 1e-9


def test_heptagons_reach_the_density_of_their_double_lattice() -> None:
    """0.8926 by G. Kuperberg, W. Kuperberg (1990)."""
    best = repeats(regular(7))[0]
    assert_apart(regular(7), best)
    assert best.density == pytest.approx(0.8926, abs=1.5e-4)


def test_pentagons_that_may_not_turn_lie_in_a_lattice() -> None:
    """Without pairs the densest is no denser than with them, and is apart too."""
    best = repeats(regular(5), paired=False)[0]
    assert len(best.places) == 1
    assert_apart(regular(5), best)
    assert best.density < (5 - math.sqrt(5)) / 3


def test_discs_lie_in_the_hexagonal_lattice() -> None:
    """pi / sqrt 12 of the plane: A. Thue (1892), L. Fejes Toth (1940); rows of them as well.

    The polygon around the disc is larger by a share of about (pi / 144) ** 2 / 3 and its own
    lattice may be denser by less than that, but the discs in it cannot.
    """
    around = regular(144)
    inner = 50 * math.cos(math.pi / 144)
    best = repeats(around)[0]
    rows = [r for r in repeats(around) if abs(r.steps[:, 1]).min() < 1e-6]
    for r in (best, rows[0]):
        covered = math.pi * inner**2 / abs(np.linalg.det(r.steps))
        assert math.pi / math.sqrt(12) * (1 - 2e-3) <= covered <= math.pi / math.sqrt(12)


@settings(max_examples=6, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 100), st.integers(0, 100)), min_size=3, max_size=3))
def test_any_triangle_tiles_the_plane(corners: list[tuple[int, int]]) -> None:
    """Two copies make a parallelogram: Euclid, Elements, book I, proposition 34."""
    triangle = MultiPoint(corners).convex_hull
    if not isinstance(triangle, Polygon) or triangle.minimum_clearance < 15:
        return
    best = repeats(triangle)[0]
    assert_apart(triangle, best)
    assert best.density == pytest.approx(1.0, abs=1e-6)


@pytest.mark.parametrize(
    "corners",
    [
        [(0, 0), (100, 10), (80, 70), (-10, 50)],
        [(0, 0), (100, 0), (40, 30), (20, 90)],
        # A house is a convex pentagon with two parallel sides: type 1 of K. Reinhardt, "Ueber
        # die Zerlegung der Ebene in Polygone", dissertation, Frankfurt (1918).
        [(0, 0), (60, 0), (60, 50), (30, 80), (0, 50)],
        # An L is half of a rectangle of two steps, and tiles by pairs: drawn by hand.
        list(ELL.exterior.coords)[:-1],
    ],
    ids=["quadrilateral", "dart", "house", "L"],
)
def test_outlines_that_tile_by_half_turns_do(corners: list[tuple[float, float]]) -> None:
    """Quadrilaterals by half turns about the middles of their sides: Conway's criterion.

    D. Schattschneider, "Will it tile? Try the Conway criterion!", Mathematics Magazine 53
    (1980) 224-233.
    """
    polygon = Polygon(corners)
    best = repeats(polygon)[0]
    assert_apart(polygon, best)
    assert best.density == pytest.approx(1.0, abs=1e-6)


def test_holes_do_not_count_and_centres_are_those_of_the_outline() -> None:
    """A washer with a hole beside its middle is laid as the disc is."""
    disc = Point(20, 30).buffer(40)
    washer = disc.difference(Point(30, 30).buffer(10))
    assert repeats(washer)[0].density == pytest.approx(repeats(disc)[0].density)
    assert_apart(washer, repeats(washer)[0])


def test_long_bars_lie_side_by_side() -> None:
    """A rectangle tiles the plane, also a narrow one that is drawn aslant."""
    bar = affinity.rotate(box(0, 0, 400, 10), 30)
    best = repeats(bar)[0]
    assert_apart(bar, best)
    assert best.density == pytest.approx(1.0, abs=1e-6)
