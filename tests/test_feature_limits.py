"""Features against the thickness, when a job is nested: told with their rule, or refused.

The rule of the trade: holes, slots, webs and edges no smaller than the sheet is thick
(common practice, no source).
"""

from dataclasses import replace

import pytest

import nestlib as nl
from nestlib.feature_limits import feature_cautions
from nestlib.metals.machines import why_not
from nestlib.model import Contour, CutSetting, Part, Spacing
from tests.layouts import job_of


def plate(*holes):
    """A plate of 100 by 60 mm."""
    return Part("plate", Contour.rectangle(100, 60), tuple(h.reversed() for h in holes))


#: The metal of these jobs is 2 mm thick.
@pytest.mark.parametrize(
    ("part", "fragment"),
    [
        (plate(Contour.circle((30, 30), 0.95)), "1 hole smaller than the thickness 2 mm"),
        (plate(Contour.circle((30, 30), 0.65)), "rarely comes out at all"),
        (plate(Contour.circle((30, 30), 5), Contour.circle((41.5, 30), 5)), "1 web of metal"),
        (plate(Contour([(20, 30), (60, 30), (60, 31.5), (20, 31.5)])), "1 slot narrower"),
        (plate(Contour.circle((6.5, 30), 5)), "1 web of metal thinner than the thickness 2 mm"),
    ],
)
def test_what_is_small_is_told_with_its_rule(part, fragment):
    """A hole of 1.9 and one of 1.3 mm, webs of 1.5 mm, a slot of 1.5 mm."""
    (told,) = feature_cautions(job_of((part,)))
    assert told.startswith("plate: ")
    assert fragment in told
    assert "common practice, no source" in told


@pytest.mark.parametrize(
    "part",
    [
        plate(Contour.circle((30, 30), 1.05)),
        plate(Contour.circle((30, 30), 5), Contour.circle((42.5, 30), 5)),
        plate(Contour([(20, 30), (60, 30), (60, 32.5), (20, 32.5)])),
        plate(Contour.circle((7.5, 30), 5)),
    ],
)
def test_what_is_as_large_as_the_thickness_is_not(part):
    """The same, half a millimetre and more larger."""
    assert list(feature_cautions(job_of((part,)))) == []


@pytest.mark.parametrize(("least", "told"), [(1.0, 0), (2.5, 1)])
def test_a_limit_in_the_machine_s_file_counts_instead(least, told):
    """A hole of 1.9 mm in 2 mm of metal: enough for one machine, too little for another."""
    job = job_of((plate(Contour.circle((30, 30), 0.95)),))
    family = job.metal.material.family
    row = CutSetting(family, 3.0, "oxygen", 0.2, 2000.0, 0.5, least_feature=least)
    job = replace(job, machine=replace(job.machine, settings=(row,)))
    found = list(feature_cautions(job))
    assert len(found) == told
    assert all(f"1 hole smaller than the limit of {job.machine.name}, 2.5 mm" in f for f in found)


def test_metal_between_slots_and_at_the_edge():
    """1 mm each on a sheet of 2 mm; the usual 3 and 10 mm are enough."""
    job = job_of((plate(),))
    between, edge = feature_cautions(replace(job, spacing=Spacing(0.2, 1.0, 1.0)))
    assert "1 mm of metal between two slots" in between
    assert "1 mm of metal at the edge" in edge
    assert "no source" in between


def test_a_plan_carries_them_before_the_last_word():
    """First what is particular, last that makers, codes and practice come first."""
    job = job_of((replace(plate(Contour.circle((30, 30), 0.95)), quantity=1),))
    plan = nl.nest(job, stop=nl.Iterations(0))
    assert "smaller than the thickness" in plan.cautions[0]
    assert "come first" in plan.cautions[-1]


def test_titanium_is_not_cut_with_oxygen():
    """A machine whose table says so is refused, and one that names argon is not."""
    metal = nl.metal("titanium-2", 1)
    rows = {g: (CutSetting("titanium", 2.0, g, 0.2, 1000.0, 0.5),) for g in ("oxygen", "argon")}
    laser = nl.machine("co2-400")
    assert "burns" in why_not(replace(laser, settings=rows["oxygen"]), metal).problem
    assert why_not(replace(laser, settings=rows["argon"]), metal) is None
