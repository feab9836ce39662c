"""Plans to begin with: against the programs, which know nothing of them."""

from dataclasses import replace

import pytest

from nestlib.buying.beginning import Runs, beginning
from nestlib.buying.choosing import Case, choose
from nestlib.buying.columns import Column
from nestlib.buying.formats import Format, LeastOrder
from tests.buying.test_choosing import random_case


def of_all_columns(case: Case) -> tuple[Runs, ...]:
    """Plans that cut every layout, or those of one format, as often as any piece is wanted."""
    most = max(case.wanted)
    groups = [case.columns, *([c for c in case.columns if c.format == f] for f in range(3))]
    return tuple(tuple((column, most) for column in group) for group in groups if group)


@pytest.mark.parametrize("seed", range(40))
def test_a_plan_costs_what_the_program_says_of_the_same_layouts(seed):
    """Cut as often as the plan does and with its packs, so the two add up money alike."""
    case = random_case(seed)
    begin = beginning(of_all_columns(case), case.wanted, case.formats, case.least)
    best = choose(case)
    if begin is None or best is None:
        pytest.skip("this case has no such plan")
    known = replace(case, plans=(begin.runs,))
    assert best.cost <= begin.cost + case.delivery * any(begin.packs)
    assert choose(known).cost == best.cost
    without_search = choose(known, effort=0.0)
    assert best.cost <= without_search.cost <= begin.cost + case.delivery * any(begin.packs)


def test_a_plan_that_may_not_be_ordered_is_left_out():
    """One format too many, a format not offered any more, too few for the least order."""
    large, small = Format("large", 300, 0, 4.0, 4.0, 0), Format("small", 100, 0, 1.0, 1.0, 1)
    both = ((Column(0, (4,)), 1), (Column(1, (1,)), 1))
    assert beginning([both], [5], [large, small]).cost == 400
    assert beginning([both], [6], [large, small]) is None
    assert beginning([both], [5], [large, small], most_formats=1) is None
    assert beginning([both], [5], [large, replace(small, barred=True)]) is None
    least = [LeastOrder(), LeastOrder(2)]
    assert beginning([both], [5], [large, small], least) is None
