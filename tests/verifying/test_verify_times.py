"""Times of cuts, worked out by the verifier alone: closed forms, and lies that it names."""

import json
import math
from dataclasses import replace

import pytest

import nestlib as nl
from nestlib.cutting import cut_path
from nestlib.model import Bound, Plan
from nestlib.verifying.pace import Drive
from nestlib.verifying.times import run
from tests.layouts import JOB, mixed_layout


def line(length):
    """A straight way to the right."""
    return (length, math.inf, 1 + 0j, 1 + 0j)


@pytest.mark.parametrize(
    ("way", "drive", "seconds"),
    [
        # d / v; d / v + v / a; 2 √(d / a): uniformly accelerated motion, any textbook.
        (100.0, Drive(10.0, None), 10.0),
        (100.0, Drive(10.0, 5.0), 12.0),
        (5.0, Drive(10.0, 20.0), 1.0),
        # With jerk: ∛(32 d / j); 3 ramps of a / j up and down; and the speed held besides.
        (2.0, Drive(100.0, 100.0, 1.0), 4.0),
        (12.0, Drive(100.0, 2.0, 2.0), 6.0),
        (24.0, Drive(4.0, 2.0, 2.0), 9.0),
    ],
)
def test_a_straight_move_from_rest_to_rest(way, drive, seconds):
    """By hand; the same worked examples as those of the planner's own code."""
    assert run([line(way)], drive) == pytest.approx(seconds, rel=1e-9)


def test_a_corner_without_a_rule_is_a_stop():
    """Two moves of 5 mm with a right angle between them take twice one of them."""
    corner = [line(5.0), (5.0, math.inf, 1j, 1j)]
    assert run(corner, Drive(10.0, 20.0)) == pytest.approx(2.0)


@pytest.mark.parametrize("jerk", [None, 9000.0])
def test_a_changed_time_of_a_cut_is_named(tmp_path, jerk):
    """Half a second less than it takes, for the beam and for the way there."""
    machine = replace(JOB.machine, acceleration=900.0, corner_deviation=0.05, lift=0.4, jerk=jerk)
    layout = mixed_layout()
    parts = tuple(replace(p, quantity=2 * layout.counts[p.name]) for p in JOB.parts)
    job = replace(JOB, machine=machine, parts=parts)
    layout = replace(layout, path=cut_path(layout, job), remnants=())
    plan = Plan(job, (layout,), (), Bound(2, 80.0, "area")).write(tmp_path / "plan")
    assert plan.verification.violations == ()
    path = tmp_path / "plan" / "plan.json"
    record = json.loads(path.read_text(encoding="utf-8"))
    first, second = record["layouts"][0]["path"][-2:]
    first["work"]["cutting"] -= 0.5
    second["work"]["moving"] -= 0.5
    path.write_text(json.dumps(record), encoding="utf-8")
    found = [v for v in nl.verify(tmp_path / "plan").violations if v.code == "time-differs"]
    assert len(found) == 2
