"""Lot sizes against the recursion of Wagner and Whitin, and a case by hand."""

import random

import pytest

from nestlib.buying.choosing import Case
from nestlib.buying.columns import Column
from nestlib.buying.formats import Format
from nestlib.buying.weekly import Weeks, plan_weeks


def wagner_whitin(demands: list[int], order: int, each: int, keep: int) -> int:
    """Least cost by all splits of the weeks into lots.

    Theorem 2 of H. M. Wagner and T. M. Whitin, Management Science 5 (1958) 89-96: some best
    plan makes whole weeks' demands in lots; F(t) is the least of F(s) plus one order in
    week s + 1 for the weeks s + 1 to t.
    """
    least = [0]
    for t in range(1, len(demands) + 1):
        ways = []
        for s in range(t):
            lot = demands[s:t]
            kept = sum(n * i for i, n in enumerate(lot))
            ways.append(least[s] + (order if sum(lot) else 0) + each * sum(lot) + keep * kept)
        least.append(min(ways))
    return least[-1]


@pytest.mark.parametrize("seed", range(6))
def test_one_part_one_layout_is_wagner_and_whitin(seed):
    """One piece of 1 kg on a sheet of 1 kg, so that it is as dear to keep as the sheet."""
    chance = random.Random(seed)
    demands = [chance.randint(0, 6) for _ in range(6)]
    order, each, keep = chance.choice([300, 900]), 500, chance.choice([40, 150])
    form = Format("F", each, 0, 1.0, 1.0, 0)
    case = Case((0,), (form,), (Column(0, (1,)),), delivery=order)
    weeks = Weeks(tuple((n,) for n in demands), (1.0,), float(keep))
    plan = plan_weeks(case, weeks)
    assert plan.exact
    assert plan.cost == wagner_whitin(demands, order, each, keep)


def test_parts_are_pulled_forward_to_fill_a_sheet():
    """Three in the first week, one in the second, four on a sheet for 10.00, 0.50 to keep one.

    Together one sheet and one week of one piece: 10.50; week by week two sheets, 20.00. At
    storage of 12.00 the second sheet is cheaper.
    """
    form = Format("F", 1000, 0, 1.0, 4.0, 0)
    case = Case((4,), (form,), (Column(0, (4,)),))
    cheap = Weeks(((3,), (1,)), (1.0,), 50.0)
    assert plan_weeks(case, cheap).cost == 1050
    assert plan_weeks(case, cheap).made == ((4,), (0,))
    assert plan_weeks(case, cheap, pull_forward=False).cost == 2000
    assert plan_weeks(case, Weeks(((3,), (1,)), (1.0,), 1200.0)).cost == 2000


def test_what_arrives_too_late_cannot_be_cut():
    """Ordered in the first week at the earliest, two weeks of lead, wanted in the second."""
    form = Format("F", 1000, 0, 1.0, 1.0, 0, lead=2)
    case = Case((1,), (form,), (Column(0, (1,)),))
    assert plan_weeks(case, Weeks(((0,), (1,)), (1.0,), 0.0, first_order=0)) is None
    assert plan_weeks(case, Weeks(((0,), (0,), (1,)), (1.0,), 0.0, first_order=0)).cost == 1000
