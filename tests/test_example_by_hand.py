"""The example of README.md, worked out by hand there, step by step."""

import pytest

import nestlib as nl
from nestlib.model import Contour, Job, Money, Part, Sheet, Spacing


def test_the_plan_of_the_worked_example() -> None:
    """Two large sheets for 140, which is proved; remnants worth 28 and set-ups of 5 leave 117."""
    job = Job(
        title="by hand",
        parts=(Part("plate", Contour.rectangle(600, 600), quantity=5, rotations=(0.0,)),),
        sheets=(
            Sheet("small", Contour.rectangle(1000, 1000), quantity=None, cost=40.0),
            Sheet("large", Contour.rectangle(2000, 1000), quantity=None, cost=70.0),
        ),
        metal=nl.metal("mild-steel", "1.5"),
        machine=nl.machine("co2-400"),
        spacing=Spacing(kerf=0.0, spacing=0.0, margin=0.0),
        money=Money(set_up=2.5, remnant_worth=0.5),
    )
    plan = nl.nest(job, stop=nl.Iterations(8))
    assert [layout.sheet.name for layout in plan.layouts] == ["large", "large"]
    assert plan.cost == pytest.approx(140.0)
    assert plan.bound.cost == pytest.approx(140.0)
    assert plan.bound.sheets == 2
    assert plan.utilisation == pytest.approx(0.45)
    assert plan.remnant_value == pytest.approx(28.0, abs=0.5)
    assert plan.net_cost == pytest.approx(117.0, abs=0.5)
    assert plan.bound.net_cost == pytest.approx(110.0, abs=0.01)
