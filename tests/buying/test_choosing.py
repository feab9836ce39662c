"""Orders against all combinations of packs, and an example by hand."""

import itertools
import random

import pytest

from nestlib.buying.choosing import Case, choose
from nestlib.buying.columns import Column, without_dominated
from nestlib.buying.formats import Format, LeastOrder
from nestlib.buying.proving import least_cost
from nestlib.buying.questions import answer


def cheapest(case: Case, most_formats: int = 99, most_packs: int = 4) -> int | None:
    """Cost of the best order by trying all packs and, for each, all ways to cut them."""
    best = None
    ranges = [range(most_packs + 1) if f.orderable else [0] for f in case.formats]
    for packs in itertools.product(*ranges):
        if sum(n > 0 for n in packs) > most_formats or not keeps_least(case, packs):
            continue
        sheets = [f.at_hand + n * f.pack for f, n in zip(case.formats, packs, strict=True)]
        for used in itertools.product(*(range(n + 1) for n in sheets)):
            if not can_make(case, used):
                continue
            cost = case.delivery * any(packs)
            for f, n, u in zip(case.formats, packs, used, strict=True):
                cost += f.price * f.pack * n - f.value * (f.pack * n - u)
            best = cost if best is None else min(best, cost)
    return best


def keeps_least(case: Case, packs: tuple[int, ...]) -> bool:
    """Whether every offer that is ordered from gets its least order."""
    for offer, least in enumerate(case.least):
        own = [(f, n) for f, n in zip(case.formats, packs, strict=True) if f.offer == offer and n]
        sheets = sum(f.pack * n for f, n in own)
        weight = sum(f.pack * n * f.weight for f, n in own)
        if own and (sheets < least.sheets or weight < least.weight):
            return False
    return True


def can_make(case: Case, used: tuple[int, ...]) -> bool:
    """Whether sheets suffice, by trying every layout on every one of them."""
    made = {tuple(0 for _ in case.wanted)}
    for form, number in enumerate(used):
        own = {c.counts for c in case.columns if c.format == form}
        for _ in range(number):
            made |= {
                tuple(min(w, a + b) for w, a, b in zip(case.wanted, m, c, strict=True))
                for m in made
                for c in own
            }
    return case.wanted in made


def random_case(seed: int) -> Case:
    """Two offers, one sheet at hand, two parts, a few layouts."""
    chance = random.Random(seed)
    formats = []
    for offer in range(2):
        price = chance.randint(5, 30)
        value = chance.randint(0, price)
        pack = chance.randint(1, 2)
        formats.append(Format(f"F{offer}", price, value, 1.0, chance.randint(1, 5), offer, pack))
    formats.append(Format("rack", 9, chance.randint(0, 9), 1.0, 1.0, None, at_hand=1))
    columns = [
        Column(form, (chance.randint(0, 3), chance.randint(0, 2)), i)
        for i, form in enumerate([0, 0, 1, 1, 2])
    ]
    least = (LeastOrder(chance.choice([0, 2, 3])), LeastOrder(0, chance.choice([0.0, 6.0])))
    wanted = (chance.randint(1, 4), chance.randint(0, 3))
    return Case(wanted, tuple(formats), tuple(columns), least, chance.choice([0, 7]))


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("most", [None, 1])
def test_orders_are_as_cheap_as_the_best_of_all_combinations(seed, most):
    """Packs, least orders, stock, delivery, number of formats: against trying everything."""
    case = random_case(seed)
    choice = choose(case, most_formats=most)
    # More than four packs are never of use: with one sheet a piece would be made by seven.
    expected = cheapest(case, most or 99, 7 if choice is None else max(4, *choice.packs))
    assert (choice and choice.cost) == expected
    assert choice is None or choice.exact


@pytest.mark.parametrize("seed", range(12))
def test_no_bound_is_above_the_best_of_all_combinations(seed):
    """For weights of the parts by chance, with what the fullest layout of a format holds."""
    case, chance = random_case(seed), random.Random(1000 + seed)
    best = cheapest(case, most_packs=5)
    if best is None:
        return
    weights = [(1, 1), (1, 0), (chance.randint(0, 5), chance.randint(0, 5))]
    capacities = [
        [
            max(sum(w * n for w, n in zip(row, c.counts, strict=True)) for c in own)
            for own in ([c for c in case.columns if c.format == f] for f in range(3))
        ]
        for row in weights
    ]
    totals = [sum(w * n for w, n in zip(row, case.wanted, strict=True)) for row in weights]
    bound = least_cost(case, [[0], [1], [2]], capacities, totals)
    assert bound <= best


def test_the_worked_example():
    """Ten plates, by hand.

    A large sheet for 70.00 holds 3, a small one for 40.00 holds 1, and small ones come in
    packs of two. Large alone: 4 sheets, 280. With packs: 3 large hold 9, and the tenth takes a
    pack of two, 210 + 80 = 290. Small alone: 5 packs, 400. If an unused sheet is worth
    half, the pack costs 80 - 20 = 60, and 3 large with it 270.
    """
    large, small = Format("large", 7000, 0, 2.0, 2.0, 0), Format("small", 4000, 0, 1.0, 1.0, 1, 2)
    columns = Column(0, (3,)), Column(1, (1,))
    asked = answer(Case((10,), (large, small), columns))
    assert asked.best.packs == (4, 0)
    assert asked.best.cost == 28000
    assert [(name, c.cost) for name, c in asked.alone] == [("large", 28000), ("small", 40000)]
    assert [(name, c.cost) for name, c in asked.missing] == [("large", 40000)]
    half = Format("small", 4000, 2000, 1.0, 1.0, 1, 2)
    choice = choose(Case((10,), (large, half), columns))
    assert (choice.packs, choice.paid, choice.cost) == ((3, 1), 29000, 27000)


def test_a_longer_sheet_holds_what_a_shorter_one_does():
    """Of one offer, cut to length: two layouts of 1 m and one of 2 m, only 2 m to be had.

    Three sheets of 2 m at 5.00; as it is, two of 1 m at 2.00 and one of 2 m make 9.00.
    """
    short, long = Format("1 m", 200, 0, 1.0, 1.0, 0), Format("2 m", 500, 0, 2.0, 2.0, 0)
    columns = Column(0, (1, 0)), Column(1, (0, 1))
    case = Case((2, 1), (short, long), columns)
    assert choose(case).cost == 900
    asked = answer(case)
    # Of 1 m alone the second kind cannot be made: the length that costs least is told.
    assert [(name, c.cost) for name, c in asked.alone] == [("2 m", 1500)]
    assert [c.cost for c in asked.by_number] == [1500, 900]


@pytest.mark.parametrize("seed", range(8))
def test_what_is_asked_fits_together(seed):
    """More formats never cost more, one less never costs less, and none beats the best."""
    asked = answer(random_case(seed))
    if asked.best is None:
        return
    costs = [c.cost for c in asked.by_number if c is not None]
    assert costs == sorted(costs, reverse=True)
    others = [c for _, c in (*asked.alone, *asked.missing) if c is not None]
    assert all(c.cost >= asked.best.cost for c in others)


def test_a_column_with_fewer_pieces_is_superfluous():
    """It is, but only beside one of the same format."""
    columns = [Column(0, (2, 1)), Column(0, (2, 0)), Column(0, (0, 2)), Column(1, (2, 0))]
    kept = without_dominated(columns)
    assert sorted((c.format, c.counts) for c in kept) == [(0, (0, 2)), (0, (2, 1)), (1, (2, 0))]


def test_nothing_is_chosen_where_something_cannot_be_made():
    """A part on no layout, and stock that does not suffice."""
    rack = Format("rack", 1, 0, 1.0, 1.0, at_hand=2)
    assert choose(Case((1, 1), (rack,), (Column(0, (1, 0)),))) is None
    assert choose(Case((3,), (rack,), (Column(0, (1,)),))) is None
