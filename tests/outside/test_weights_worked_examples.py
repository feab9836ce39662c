"""Weights, densities and cutting limits against published or stated values."""

from __future__ import annotations

import pytest

from nestlib.metals import gauge_weight, machine, material, materials, metal, parse_size

# Computed by hand at 7.85 g/cm³.
MASSES = [
    ("1000x2000", 2, 31.400),
    ("1250x2500", 1, 24.531),
    ("1500x3000", 3, 105.975),
    ("2000x4000", 10, 628.000),
]
# g/cm³. EN 10088-1 annex in a reproduction for the stainless steels; the others are recalled
# from memory of the EN product standards, ASM Handbook and copper alloy data.
DENSITIES = {
    "mild-steel": 7.85,
    "stainless-304": 7.9,
    "stainless-316": 8.0,
    "stainless-430": 7.7,
    "stainless-2205": 7.8,
    "galvanised": 7.85,
    "aluminium-1050": 2.705,
    "aluminium-5052": 2.68,
    "aluminium-6061": 2.70,
    "brass-c26000": 8.53,
    "brass-cuzn37": 8.44,
    "copper": 8.94,
    "titanium-2": 4.51,
    "titanium-6al4v": 4.43,
}
# Greatest thickness in inches: common practice, no source.
LIMITS = {
    "co2-150": {"stainless": 0.075, "mild-steel": 0.090, "aluminium": None, "brass": None},
    "co2-250": {
        "stainless": 0.080,
        "mild-steel": 0.125,
        "aluminium": 0.040,
        "brass": 0.5 / 25.4,
    },
    "co2-400": {
        "stainless": 0.125,
        "mild-steel": 0.1875,
        "aluminium": 0.060,
        "brass": 0.040,
    },
}


@pytest.mark.parametrize(("size", "thickness", "mass"), MASSES)
def test_sheets_weigh_what_the_worked_examples_say(size, thickness, mass):
    """Within half a gram of the three decimals given."""
    length, width = parse_size(size)
    assert metal("mild-steel", thickness).weight(length * width) == pytest.approx(mass, abs=5.1e-4)


def test_a_gauge_16_sheet_of_48_by_96_inches_weighs_80_pounds():
    """32 ft² of 2.5 lb each, by the statute (15 U.S.C. 206)."""
    length, width = parse_size("48x96in")
    assert gauge_weight("USG", 16) * length * width * 1e-6 / 0.45359237 == pytest.approx(80.0)


def test_formats_have_the_stated_areas():
    """m² and ft², computed: 48x120 in is 3.7161 m²."""
    for size, area in {"1000x2000": 2.0, "1250x2500": 3.125, "48x120in": 3.7161}.items():
        length, width = parse_size(size)
        assert length * width * 1e-6 == pytest.approx(area, abs=5e-5)


@pytest.mark.parametrize(("name", "density"), DENSITIES.items())
def test_densities_are_those_of_their_source(name, density):
    """Each density equals its source's and names it."""
    assert material(name).density == density
    assert len(material(name).source) > 10


def test_every_material_is_checked():
    """No material without a density to compare with."""
    assert {m.name for m in materials()} == set(DENSITIES)


@pytest.mark.parametrize("name", LIMITS)
def test_generic_co2_profiles_end_at_the_common_practice_limits(name):
    """Exactly the stated inches, within 1e-9 mm; metals not stated have no row."""
    profile = machine(name)
    for family, inches in LIMITS[name].items():
        wanted = None if inches is None else pytest.approx(inches * 25.4, abs=1e-9)
        assert profile.limit(family) == wanted


@pytest.mark.parametrize("name", [*LIMITS, "fibre-2000"])
def test_no_generic_profile_states_a_limit_that_nobody_gave(name):
    """Titanium and galvanised steel: the machine's own limit, so no row here."""
    assert machine(name).limit("titanium") is None
    assert machine(name).limit("galvanised") is None
    assert "no source" in machine(name).source
