"""Statics of what is cut free, against closed forms and brute force by shapely."""

import math

import numpy as np
import pytest
import shapely
from shapely import affinity

from nestlib.cutting.bed import supports_under
from nestlib.cutting.tipping import fate, surrounded
from nestlib.geometry.mass import centre_of_mass
from nestlib.geometry.polygons import region
from nestlib.model import Contour, Support

SLATS = Support("slats", (60.0, 60.0))


def on(metal: shapely.Polygon, support: Support) -> str:
    """The fate of a polygon; its centre by shapely."""
    return fate(metal, (metal.centroid.x, metal.centroid.y), support)


def test_half_a_disc_has_its_centre_at_four_thirds_of_r_over_pi():
    """4 r / 3π from the diameter, the classic closed form; to 1e-12 mm."""
    x, y = centre_of_mass(Contour([(-10, 0), (10, 0)], [0, 1]))
    assert (x, y) == pytest.approx((0, 40 / (3 * math.pi)), abs=1e-12)


@pytest.mark.parametrize("degrees", [0.01, 1, 30, 90, 180, 270, 350])
def test_a_circular_segment_has_its_centre_where_the_closed_form_says(degrees):
    """4 r sin³(θ/2) / 3 (θ - sin θ) from the middle of the circle, to 1e-6 mm.

    For small angles θ - sin θ is worked out by its series, whose terms are θ³/6 - θ⁵/120 +
    θ⁷/5040.
    """
    angle, r = math.radians(degrees), 50.0
    less = angle - math.sin(angle)
    if angle < 0.1:
        less = angle**3 / 6 - angle**5 / 120 + angle**7 / 5040
    wanted = 4 * r * math.sin(angle / 2) ** 3 / (3 * less)
    ends = [(r * math.cos(a), r * math.sin(a)) for a in (-angle / 2, angle / 2)]
    x, y = centre_of_mass(Contour(ends, [math.tan(angle / 4), 0]))
    assert (x, y) == pytest.approx((wanted, 0), abs=1e-6)


def test_a_plate_with_a_hole_has_its_centre_where_moments_balance():
    """Plate 100 x 60, round hole of radius 20 at (70, 30): by first moments, to 1e-9 mm."""
    hole = math.pi * 400
    x = (6000 * 50 - hole * 70) / (6000 - hole)
    found = centre_of_mass(
        Contour.rectangle(100, 60).reversed(), [Contour.circle((70, 30), 20).reversed()]
    )
    assert found == pytest.approx((x, 30), abs=1e-9)


def test_centres_of_random_polygons_are_those_of_shapely():
    """40 star-shaped polygons far from the origin, with a hole, to 1e-7 mm."""
    rng = np.random.default_rng(3)
    for _ in range(40):
        angle = np.sort(rng.uniform(0, 2 * np.pi, 12))
        radius = rng.uniform(40, 90, 12)
        points = np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=1) + 5000
        hole = Contour(np.array([(0, 0), (5, 0), (0, 7)]) + 4995 + rng.uniform(0, 4, 2))
        wanted = shapely.Polygon(points, [hole.points]).centroid
        assert centre_of_mass(Contour(points), [hole]) == pytest.approx(
            (wanted.x, wanted.y), abs=1e-7
        )


@pytest.mark.parametrize(
    ("left", "right", "wanted"),
    [(-30, 70, "stays"), (-59, 61, "stays"), (-65, 3, "stays"), (2, 58, "drops"),
     (-59, 57, "tips"), (-5, 55, "tips"), (5, 115, "tips")],
)  # fmt: skip
def test_a_plate_on_two_slats_stays_if_its_middle_lies_between_them(left, right, wanted):
    """Slats at multiples of 60: it needs one on either side of its middle (law of the lever)."""
    support = Support("slats", (60.0, 60.0), (0.0, 0.0))
    assert on(shapely.box(left, 0, right, 80), support) == wanted


def test_a_plate_balanced_on_one_slat_is_not_safe():
    """The slat runs exactly under the middle: the centre is on the hull, not inside."""
    assert on(shapely.box(-20, 0, 20, 80), Support("slats", (60.0, 60.0), (0.0, 0.0))) == "tips"


@pytest.mark.parametrize("pitch", [50.0, 75.0])
@pytest.mark.parametrize("along", ["x", "y"])
def test_a_plate_laid_anywhere_is_safe_from_two_pitches_on(pitch, along):
    """150 and 100 mm for slats 75 and 50 mm apart: where the trade sees the risk begin.

    Common practice, no source; here it follows from the statics, to 0.01 mm.
    """
    support = Support("slats", (pitch, pitch), along=along)
    for more, wanted in ((0.0, "stays"), (-0.01, "tips")):
        size = (2 * pitch + more, 500) if along == "y" else (500, 2 * pitch + more)
        assert on(shapely.box(0, 0, *size), support) == wanted


def test_what_is_short_falls_through_wherever_it_lies():
    """Small parts fall through: common practice, no source; here under half a pitch long."""
    assert on(shapely.box(0, 0, 20, 20), SLATS) == "drops"
    assert on(shapely.box(0, 0, 40, 40), SLATS) == "tips"
    assert fate(shapely.Polygon(), (0, 0), SLATS) == "drops"


def test_an_angle_rests_on_slats_though_its_centre_lies_off_the_metal():
    """L of two legs of 300 x 30: the centre is outside, the hull of the supports around it."""
    angle = shapely.Polygon([(0, 0), (300, 0), (300, 30), (30, 30), (30, 300), (0, 300)])
    assert not angle.contains(angle.centroid)
    assert on(angle, Support("slats", (60.0, 60.0), (10.0, 0.0))) == "stays"
    # A single slat under the upright leg carries nothing safely.
    assert on(angle, Support("slats", (400.0, 400.0), (10.0, 0.0))) == "tips"


def test_spikes_carry_where_they_stand_under_metal_only():
    """A frame whose hole holds all the spikes drops; a whole plate on the same ones stays."""
    support = Support("spikes", (50.0, 50.0), (0.0, 0.0))
    plate = shapely.box(-60, -60, 60, 60)
    assert on(plate, support) == "stays"
    assert on(plate.difference(shapely.box(-55, -55, 55, 55)), support) == "drops"


def _brute(metal: shapely.Polygon, support: Support, offsets) -> list[bool]:
    """Whether it rests, offset by offset: hull of all that lies under it, by shapely."""
    x0, y0, x1, y1 = metal.bounds
    rests = []
    for ox, oy in offsets:
        xs = np.arange(math.ceil((x0 - ox) / support.pitch[0]), (x1 - ox) / support.pitch[0] + 1)
        ys = np.arange(math.ceil((y0 - oy) / support.pitch[1]), (y1 - oy) / support.pitch[1] + 1)
        xs, ys = ox + xs * support.pitch[0], oy + ys * support.pitch[1]
        if support.kind == "spikes":
            under = shapely.MultiPoint([(x, y) for x in xs for y in ys])
        elif support.along == "y":
            under = shapely.MultiLineString([[(x, y0 - 9), (x, y1 + 9)] for x in xs])
        else:
            under = shapely.MultiLineString([[(x0 - 9, y), (x1 + 9, y)] for y in ys])
        hull = metal.intersection(under).convex_hull
        inside = hull.contains(metal.centroid)
        rests.append(hull.geom_type == "Polygon" and inside)
    return rests


def _shapes(rng: np.random.Generator):
    """Plates, angles, frames and stars, turned at random."""
    angle = shapely.Polygon([(0, 0), (200, 0), (200, 25), (25, 25), (25, 160), (0, 160)])
    frame = shapely.box(0, 0, 130, 90).difference(shapely.box(12, 12, 118, 60))
    for shape in (angle, frame, shapely.box(0, 0, 118, 90), shapely.box(0, 0, 180, 125)):
        yield affinity.translate(
            affinity.rotate(shape, rng.uniform(0, 360)), *rng.uniform(0, 99, 2)
        )
    t = np.sort(rng.uniform(0, 2 * np.pi, 9))
    r = rng.uniform(30, 120, 9)
    yield shapely.Polygon(np.stack([r * np.cos(t), r * np.sin(t)], axis=1)).buffer(0)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("kind", ["slats", "spikes"])
def test_fates_are_those_of_brute_force(kind, seed):
    """Offset by offset the same as shapely's hulls; unknown, no worse one is ever missed."""
    rng = np.random.default_rng(seed)
    for metal in _shapes(rng):
        along = "x" if seed % 2 else "y"
        centre = metal.centroid.x, metal.centroid.y
        offsets = [tuple(o) for o in rng.uniform(0, 60, (40, 2))]
        brute = _brute(metal, Support(kind, (60.0, 60.0), along=along), offsets)
        for offset, rests in zip(offsets, brute, strict=True):
            known = Support(kind, (60.0, 60.0), offset, along)
            assert (fate(metal, centre, known) == "stays") == rests
        anywhere = Support(kind, (60.0, 60.0), along=along)
        if not all(brute):
            assert fate(metal, centre, anywhere) != "stays"
        # What the library saw, seen again: the offsets at which it found no rest are real.
        found = surrounded(supports_under(metal, centre, anywhere), centre)
        assert found.any() or not any(brute)


def test_supports_of_a_slat_are_where_it_passes_under_the_edge():
    """A frame over a slat: four points, as shapely's section has them, to 1e-9 mm."""
    frame = shapely.box(0, 0, 100, 80).difference(shapely.box(20, 20, 80, 60))
    found = supports_under(frame, (50, 40), Support("slats", (70.0, 70.0), (30.0, 0.0)))
    section = frame.intersection(shapely.LineString([(30, -1), (30, 99)]))
    wanted = np.unique(shapely.get_coordinates(section)[:, 1])
    assert sorted(found.points[:, 1]) == pytest.approx(wanted, abs=1e-9)
    assert set(found.points[:, 0]) == {30.0}


def test_arcs_count_as_arcs():
    """A half disc of radius 120 on slats 68 mm apart: its centre lies 4 r / 3π = 50.93 mm off."""
    contour = Contour([(0, -120), (0, 120)], [1, 0])
    metal, centre = region(contour, chord=0.01), centre_of_mass(contour)
    for slat, wanted in ((50.9, "stays"), (51.0, "tips")):
        support = Support("slats", (68.0, 68.0), (slat, 0.0))
        assert fate(metal, centre, support) == wanted


def test_a_large_plate_on_many_spikes_is_looked_at_within_bounds():
    """3 x 1.5 m on spikes 5 mm apart: it stays, and few places are looked at."""
    plate = shapely.box(0, 0, 3000, 1500)
    support = Support("spikes", (5.0, 5.0))
    assert on(plate, support) == "stays"
    assert len(supports_under(plate, (1500, 750), support).points) < 2_000_000
