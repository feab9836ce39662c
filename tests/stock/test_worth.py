"""What remnants are worth, and which are offered first: worked by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from nestlib.stock import Stocked, Terms
from nestlib.stock.choosing import MOST_REMNANTS, choose

DAY = date(2030, 7, 1)

#: 1000 x 500 mm bought for 20; of a square metre 20 · 2 = 40.
FULL = Stocked(
    1, False, "mild-steel", 2.0, 1000.0, 500.0, 5e5, 4.704e5, 0.0, "", 20.0, "EUR", "", "", "",
    "2030-07-01", None, 3, 0,
)  # fmt: skip

#: 500 x 400 mm of it; 480 x 380 mm are 10 mm away from the edges.
REST = FULL._replace(
    id=2, remnant=True, width=500.0, height=400.0, area=2e5, usable=1.824e5, price=8.0
)

TERMS = Terms(share=0.5, half_life=100.0, keeping=73.0, stay=10.0)


@pytest.mark.parametrize(
    ("since", "worth"),
    [
        ("2030-07-01", 8.0 * 0.5 * 0.912),  # today
        ("2030-03-23", 8.0 * 0.5 * 0.912 / 2),  # 100 days, a half-life
        ("2029-12-13", 8.0 * 0.5 * 0.912 / 4),  # 200 days
        ("2031-01-01", 8.0 * 0.5 * 0.912),  # from the future: not more than today
    ],
)
def test_worth_falls_with_age(since, worth):
    """By half after each half-life, from the share for the usable part of the area."""
    assert TERMS.worth(REST._replace(since=since), DAY) == pytest.approx(worth)


def test_taking_a_remnant_saves_keeping_it():
    """73 a square metre and year are 0.40 for 0.2 m² and 10 days; below nothing is nothing."""
    assert TERMS.cost(REST, DAY) == pytest.approx(8.0 * 0.5 * 0.912 - 0.40)
    assert replace(TERMS, keeping=5000.0).cost(REST, DAY) == 0.0
    assert TERMS.cost(FULL, DAY) == 20.0
    assert TERMS.cost(REST._replace(price=None), DAY) is None


def test_new_remnants_are_worth_their_share_less_keeping():
    """0.5 m² cost 20, and keeping them for 10 days 1.00: 0.05 of it."""
    assert TERMS.share_of(20.0, 5e5) == pytest.approx(0.45)
    assert TERMS.share_of(0.0, 5e5) == 0.0


def offered(items: list[Stocked], smallest=(100.0, 50.0), bed=(1000.0, 500.0)) -> list[int]:
    """Numbers of what is offered."""
    return [item.id for item in choose(items, smallest, bed, TERMS, DAY)]


def test_remnants_come_first_the_cheapest_for_its_area_before_others():
    """Old ones are cheaper; then the older, then the smaller one."""
    old = REST._replace(id=3, since="2030-01-01")
    dear = REST._replace(id=4, price=9.0)
    free = REST._replace(id=5, price=None)
    small = REST._replace(id=6, area=1e5, usable=0.912e5, price=4.0)
    cheap = FULL._replace(id=7, price=19.0)
    assert offered([FULL, REST, old, dear, free, small, cheap]) == [5, 3, 6, 2, 4, 7, 1]


def test_what_does_not_fit_is_not_offered():
    """The smallest part goes in, in either turn, and the sheet lies on the bed."""
    assert offered([REST], smallest=(450.0, 390.0)) == [2]
    assert offered([REST], smallest=(390.0, 450.0)) == [2]
    assert offered([REST], smallest=(450.0, 401.0)) == []
    assert offered([FULL], bed=(500.0, 1000.0)) == [1]
    assert offered([FULL], bed=(900.0, 900.0)) == []


def test_a_full_rack_is_not_offered_whole():
    """So many remnants, the best of them."""
    many = [REST._replace(id=i, price=float(i)) for i in range(MOST_REMNANTS + 10, 0, -1)]
    assert offered(many) == list(range(1, MOST_REMNANTS + 1))
