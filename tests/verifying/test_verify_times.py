"""Times of cuts, worked out by the verifier alone: closed forms, and lies that it names."""

import cmath
import json
import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import nestlib as nl
from nestlib.cutting import cut_path
from nestlib.cutting.motion import Limits, Stretch, run_time, stretches
from nestlib.model import Bound, Contour, Entry, Plan
from nestlib.verifying.curves import Curve
from nestlib.verifying.pace import Drive
from nestlib.verifying.times import run, segments
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


#: Length, radius (infinite for lines), turn along it, and turn at the corner behind it.
pieces = st.tuples(
    st.floats(0.01, 300.0),
    st.one_of(st.just(math.inf), st.floats(0.2, 100.0)),
    st.sampled_from([-1, 1]),
    st.one_of(st.just(0.0), st.floats(-2.5, 2.5)),
)


@settings(max_examples=200, deadline=None, derandomize=True)
@given(
    st.lists(pieces, min_size=1, max_size=12),
    st.sampled_from([50.0, 500.0]),
    st.sampled_from([500.0, 10000.0]),
    st.sampled_from([None, 500.0, 9000.0, 1e6]),
    st.sampled_from([(None, None), (10.0, None), (None, 0.05), (10.0, 0.05)]),
)
def test_both_codes_find_the_same_time_of_a_chain(chain, speed, a, jerk, corners):
    """Passes and roots of the planner, labels and halvings of the verifier: within 1e-9."""
    heading, ours, theirs = 0.0, [], []
    for length, radius, side, corner in chain:
        angle = side * min(length / radius, 3.0)
        way = abs(angle) * radius if angle else length
        ours.append(Stretch(way, radius, heading, heading + angle))
        ends = cmath.rect(1.0, heading), cmath.rect(1.0, heading + angle)
        theirs.append((way, radius, *ends))
        heading += angle + corner
    planned = run_time(ours, Limits(speed, a, *corners, jerk))
    assert run(theirs, Drive(speed, a, jerk, *corners)) == pytest.approx(planned, rel=1e-9)


def test_what_rounding_leaves_of_a_segment_takes_no_time():
    """1e-13 mm around a corner: from rest to rest they would take ∛(32 d / j), 1.5 µs."""
    whole = Contour([(0, 0), (20, 0)], closed=False)
    rest = Contour([(0, 0), (20, 0), (20, 1e-13)], closed=False)
    limits, drive = Limits(50.0, 500.0, jerk=900.0), Drive(50.0, 500.0, 900.0)
    assert run_time(stretches(rest), limits) == run_time(stretches(whole), limits)
    times = [run(list(segments(Curve.of(contour))), drive) for contour in (rest, whole)]
    assert times[0] == times[1]


@pytest.mark.parametrize(
    ("jerk", "entry"),
    [
        (None, Entry()),
        (9000.0, Entry()),
        (9000.0, Entry(lead_out="arc", over_cut=0.5)),
        (None, Entry(end_gap=0.4)),
    ],
)
def test_a_changed_time_of_a_cut_is_named(tmp_path, jerk, entry):
    """Half a second less than it takes, for the beam and for the way there."""
    machine = replace(JOB.machine, acceleration=900.0, corner_deviation=0.05, lift=0.4, jerk=jerk)
    layout = mixed_layout()
    parts = tuple(replace(p, quantity=2 * layout.counts[p.name]) for p in JOB.parts)
    job = replace(JOB, machine=machine, parts=parts, entry=entry)
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
