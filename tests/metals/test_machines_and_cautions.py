"""Machines: what they can cut, files of one's own, and cautions."""

from __future__ import annotations

import json
from itertools import pairwise

import pytest

from nestlib.errors import InputError, JobError
from nestlib.metals import (
    FAMILIES,
    capabilities,
    catalogue,
    cautions,
    machine,
    machines,
    material,
    materials,
    metal,
    why_not,
)
from nestlib.model import Contour, Sheet

OWN = """
name = "our-laser"
beam = "fibre"
power = 1000
bed = [2500, 1250]
[[row]]
family = "titanium"
thickness = "1/8 in"
gas = "argon"
kerf = 0.15
feed = 1500
pierce = 0.4
"""


@pytest.fixture
def own(tmp_path):
    """Write a machine file of one's own and return its path."""

    def write(text=OWN):
        path = tmp_path / "our-laser.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return write


def test_all_generic_machines_are_listed():
    """Four profiles, each under its own name."""
    assert [m.name for m in machines()] == ["co2-150", "co2-250", "co2-400", "fibre-2000"]


def test_families_are_complete():
    """Every family has a material and every material a known family."""
    assert {m.family for m in materials()} == set(FAMILIES)


def test_rows_get_slower_as_metal_gets_thicker():
    """In every generic profile feed falls and piercing takes longer with thickness."""
    for profile in machines():
        for capability in capabilities(profile):
            bands = capability.bands
            for thin, thick in pairwise(bands):
                assert thin.thickness < thick.thickness
                assert thin.feed > thick.feed
                assert thin.pierce <= thick.pierce
                assert thin.kerf <= thick.kerf


def test_capabilities_tell_limits_in_mm_and_inches():
    """A family without a row has no limit."""
    found = {c.family: c for c in capabilities(machine("co2-400"))}
    assert tuple(found) == FAMILIES
    assert found["mild-steel"].inches == pytest.approx(0.1875)
    assert found["titanium"].inches is None


@pytest.mark.parametrize(
    ("name", "metal_name", "thickness", "fragment"),
    [
        ("co2-150", "aluminium-5052", 1, "does not cut aluminium"),
        ("co2-400", "titanium-2", 1, "no row for titanium"),
        ("co2-400", "mild-steel", 5, "up to 4.7625 mm (0.1875 in), not 5 mm"),
        ("co2-250", "brass-cuzn37", 0.6, "up to 0.5 mm"),
    ],
)
def test_a_metal_beyond_the_limit_is_refused_with_the_limit(name, metal_name, thickness, fragment):
    """The problem names machine, metal and limit."""
    problem = why_not(machine(name), metal(metal_name, thickness))
    assert problem is not None
    assert fragment in str(problem)
    assert problem.remedy


def test_a_metal_at_the_limit_is_cut():
    """0.1875 in on the machine whose limit it is; 1 mm aluminium below 0.040 in."""
    assert why_not(machine("co2-400"), metal("mild-steel", "0.1875 in")) is None
    assert why_not(machine("co2-250"), metal("aluminium-5052", 1)) is None


def test_a_machine_of_ones_own_is_read(own):
    """Inches become mm, and what is left out has a default."""
    found = machine(own())
    assert found.limit("titanium") == pytest.approx(3.175)
    assert found.title == "our-laser"
    assert found.bed == (2500.0, 1250.0)
    assert why_not(found, metal("titanium-2", 3)) is None


def test_all_problems_of_a_machine_file_are_told_at_once(own):
    """Each with its line, what is wrong and what to give."""
    text = OWN.replace("power = 1000", "power = -1\nwheels = 4").replace("0.15", '"thin"')
    text = text.replace('"titanium"', '"tin"').replace("[2500, 1250]", "[2500]")
    with pytest.raises(JobError) as caught:
        machine(own(text))
    told = str(caught.value)
    assert len(caught.value.problems) == 5
    assert "line 4, key power: -1 is not more than 0" in told
    assert 'line 5, key wheels: unknown key "wheels"' in told
    assert "key bed: [2500] is not a list of 2 or more" in told
    assert 'key row[1].family: there is no family "tin"' in told
    assert 'key row[1].kerf: "thin" is not a number' in told


@pytest.mark.parametrize(
    ("change", "fragment"),
    [
        ((OWN, ""), "the file is empty"),
        (("beam", "beam ="), "line 3"),
        (('"1/8 in"', '"16 ga"'), "no gauge table"),
        (("1500", "nan"), "nan is not a finite number"),
        (('"argon"', '"steam"'), "'air', 'oxygen', 'nitrogen' or 'argon'"),
        (("kerf = 0.15", "kerf = true"), "true is not a number"),
        (("feed = 1500", ""), '"feed" is missing'),
    ],
)
def test_a_bad_machine_file_is_refused(own, change, fragment):
    """One clear message."""
    with pytest.raises(JobError) as caught:
        machine(own(OWN.replace(*change)))
    assert fragment in str(caught.value)


def test_two_rows_for_the_same_thickness_are_refused(own):
    """It would be unclear which one counts."""
    with pytest.raises(JobError, match="two rows for titanium"):
        machine(own(OWN + OWN[OWN.index("[[row]]") :]))


@pytest.mark.parametrize(
    ("look_up", "name", "fragment"),
    [
        (machine, "co2-40", 'Did you mean "co2-400"'),
        (machine, "elsewhere/none.toml", "There is no folder"),
        (material, "mild-stel", 'Did you mean "mild-steel"'),
        (material, "stainless", "Choose one of: stainless-304, stainless-316"),
        (material, "wood", "Known are: mild-steel"),
    ],
)
def test_unknown_names_are_answered_with_known_ones(look_up, name, fragment):
    """The nearest name or all of them."""
    with pytest.raises(InputError) as caught:
        look_up(name)
    assert fragment in str(caught.value)


def test_density_can_be_set():
    """Sources disagree, so a job may set its own, and it says so."""
    heavier = metal("mild-steel", 1, density=7.87)
    assert heavier.weight(1e6) == pytest.approx(7.87)
    assert heavier.material.source == "given with the job"


@pytest.mark.parametrize(
    ("metal_name", "words", "never"),
    [
        ("stainless-304", ["hexavalent chromium", "Nitrogen:"], ["Zinc:", "Titanium:"]),
        ("galvanised", ["Zinc:"], ["chromium", "Oxygen:"]),
        ("aluminium-5052", ["Reflection:", "fines"], ["Zinc:", "chromium"]),
        ("copper", ["Reflection:"], ["fines"]),
        ("titanium-2", ["never cut it with oxygen", "class D"], ["Reflection:", "Oxygen:"]),
        ("mild-steel", ["Oxygen:", "class 4", "PVC", "fire watch"], ["Reflection:", "Zinc:"]),
    ],
)
def test_only_the_cautions_that_apply_are_given(metal_name, words, never):
    """By family and by the gas of the row; the last one says whose word counts."""
    given = cautions(metal(metal_name, 1.5), machine("co2-400"))
    told = "\n".join(given)
    assert all(w in told for w in words)
    assert not any(w in told for w in never)
    assert "maker" in given[-1]
    assert "local codes" in given[-1]
    assert "licensed" in given[-1]


@pytest.mark.parametrize(
    ("size", "words", "lift"),
    [
        ((2500, 1250), "A sheet of 2500 x 1250 mm weighs about 74 kg: use lifting gear", True),
        ((500, 400), "A sheet of 500 x 400 mm weighs about 4.7 kg.", False),
    ],
)
def test_handling_speaks_of_the_sheet_at_hand(size, words, lift):
    """3 mm steel at 7.85 g/cm³ weighs 23.55 kg/m²; only a heavy sheet wants lifting gear."""
    sheet = Sheet("s", Contour.rectangle(*size))
    told = "\n".join(cautions(metal("mild-steel", 3), machine("co2-400"), sheet))
    assert words in told
    assert ("lifting gear" in told) == lift


def test_titanium_with_an_oxygen_row_is_a_stop(own):
    """A table that names oxygen for titanium is answered first of all."""
    given = cautions(metal("titanium-2", 1), machine(own(OWN.replace('"argon"', '"oxygen"'))))
    assert given[0].startswith("Titanium and oxygen")


def test_the_catalogue_is_plain_data():
    """It survives JSON unchanged."""
    everything = catalogue()
    assert json.loads(json.dumps(everything)) == everything
    assert len(everything["machines"]) == len(machines())
