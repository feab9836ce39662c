"""Gauges against the statute, the formulas behind the charts, and printed values."""

from __future__ import annotations

from itertools import pairwise

import pytest

from nestlib.metals import gauge_numbers, gauge_thickness, gauge_weight

POUND = 0.45359237  # kg, by definition
FOOT2 = 0.3048**2  # m², by definition

# number, inches, ounces per square foot, kg/m²: 15 U.S.C. 206, seen in the official text.
STATUTE = [
    (3, 0.25, 160, 48.82),
    (10, 0.140625, 90, 27.46),
    (11, 0.125, 80, 24.41),
    (16, 0.0625, 40, 12.21),
    (20, 0.0375, 24, 7.324),
]
# number, inches printed for MSG, GALV and Brown & Sharpe. The MSG values 3, 4 and 20 and the
# B&S values 3 and 4 were seen in secondary copies; the others follow from the formulas.
CHART = [
    (3, 0.2391, None, 0.2294),
    (4, 0.2242, None, 0.2043),
    (8, 0.1644, 0.1681, 0.1285),
    (11, 0.1196, 0.1233, 0.0907),
    (14, 0.0747, 0.0785, 0.0641),
    (16, 0.0598, 0.0635, 0.0508),
    (20, 0.0359, 0.0396, 0.0320),
    (24, 0.0239, 0.0276, 0.0201),
    (30, 0.0120, 0.0157, 0.0100),
]


@pytest.mark.parametrize(("number", "inches", "ounces", "mass"), STATUTE)
def test_us_standard_gauge_is_that_of_the_statute(number, inches, ounces, mass):
    """Thickness is exact; the weights agree with the printed 4 digits."""
    assert gauge_thickness("USG", number) == pytest.approx(inches * 25.4, abs=1e-12)
    assert gauge_weight("USG", number) == pytest.approx(ounces / 16 * POUND / FOOT2, rel=1e-12)
    assert gauge_weight("USG", number) == pytest.approx(mass, abs=0.006)


@pytest.mark.parametrize("number", gauge_numbers("USG"))
def test_statute_weight_is_640_ounces_per_inch(number):
    """The official basis: 640 oz per square foot and inch (15 U.S.C. 206), 480 lb/ft³."""
    density = gauge_weight("USG", number) / (gauge_thickness("USG", number) / 1000)
    assert density == pytest.approx(480 * POUND / 0.3048**3, rel=1e-12)
    assert density == pytest.approx(7688.9, abs=0.05)


@pytest.mark.parametrize(("number", "msg", "galv", "awg"), CHART)
def test_formulas_give_the_printed_charts(number, msg, galv, awg):
    """Within half a unit of the fourth decimal of an inch."""
    for table, printed in (("MSG", msg), ("GALV", galv), ("AWG", awg)):
        if printed is not None:
            assert gauge_thickness(table, number) / 25.4 == pytest.approx(printed, abs=0.5001e-4)


def test_carbon_steel_gauge_constant_is_not_a_density():
    """41.82 lb/ft² per inch is 8038.7 kg/m³: weight by gauge is 2.40 % above 7850 (computed)."""
    for number in gauge_numbers("MSG"):
        by_size = gauge_thickness("MSG", number) / 1000 * 7850
        assert gauge_weight("MSG", number) / by_size == pytest.approx(1.0240, abs=1e-4)


def test_brown_and_sharpe_ends_are_fixed_by_definition():
    """ASTM B258, recalled from memory: number 36 is 0.005 in, number 0 is 0.3249 in."""
    assert gauge_thickness("AWG", 36) == pytest.approx(0.005 * 25.4, rel=1e-12)
    assert gauge_thickness("AWG", 0) / 25.4 == pytest.approx(0.3249, abs=1e-4)


@pytest.mark.parametrize("table", ["USG", "MSG", "GALV", "AWG"])
def test_a_higher_number_is_a_thinner_sheet(table):
    """All tables fall strictly."""
    sizes = [gauge_thickness(table, n) for n in gauge_numbers(table)]
    assert all(a > b for a, b in pairwise(sizes))


def test_the_same_number_differs_from_metal_to_metal():
    """16 ga is four different thicknesses, up to a quarter apart."""
    sizes = {round(gauge_thickness(t, 16) / 25.4, 4) for t in ("USG", "MSG", "GALV", "AWG")}
    assert sizes == {0.0625, 0.0598, 0.0635, 0.0508}
