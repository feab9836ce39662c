"""Set-ups, the number of layouts and what is left: what counts besides the price of sheets."""

import pytest
from shapely import MultiPolygon, box

from nestlib.packing import Aims, Container, Iterations, PackedPlacement, PackedSheet, Shape, pack
from nestlib.packing.problem import prepare
from nestlib.packing.score import net_cost, worth
from nestlib.packing.sheets import choose_layouts

TRAY = Container("tray", MultiPolygon([box(0, 0, 100, 50)]), 5000.0, cost=20.0)


def plate(name: str, width: float, height: float, quantity: int) -> Shape:
    """A rectangle that keeps its direction."""
    return Shape(name, box(0, 0, width, height), width * height, quantity, (0.0,))


def laid(*spots: tuple[int, float, float], runs: int = 1) -> PackedSheet:
    """A layout of shapes at places."""
    return PackedSheet(0, tuple(PackedPlacement(s, 0.0, False, x, y) for s, x, y in spots), runs)


def test_what_is_left_is_worth_its_share_of_the_price() -> None:
    """By hand: 30 of 100 mm used leave 70 %, worth 7 at half of 20; 40 x 50 is too narrow."""
    shapes = [plate("plate", 30, 50, 9)]
    problem = prepare(shapes, [TRAY], Aims(set_up=3.0, worth=0.5, least_side=45))
    one, two = laid((0, 0, 0)), laid((0, 0, 0), (0, 30, 0))
    assert worth(problem, one) == pytest.approx(7.0)
    assert worth(problem, two) == 0.0
    assert net_cost(problem, [one, two]) == pytest.approx(2 * 20 - 7 + 2 * 3)


def test_the_larger_of_both_ends_counts() -> None:
    """A low piece of 90 x 10 leaves 100 x 40 above it, 80 % of the sheet."""
    problem = prepare([plate("strip", 90, 10, 1)], [TRAY], Aims(worth=1.0, least_side=20))
    assert worth(problem, laid((0, 0, 0))) == pytest.approx(16.0)


def layouts() -> list[PackedSheet]:
    """Two pure layouts without waste and a mixed one that wastes half."""
    pure = [laid(*((s, 25.0 * k, 0.0) for k in range(4))) for s in (0, 1)]
    return [*pure, laid((0, 0, 0), (1, 25, 0))]


@pytest.mark.parametrize(("set_up", "expected"), [(0.0, 2), (50.0, 1)])
def test_dear_set_ups_make_few_layouts(set_up: float, expected: int) -> None:
    """Eight of each: 4 sheets in 2 layouts cost 80; 8 sheets of one layout 160, but one set-up.

    At 50 for a set-up that is 180 against 210; at 0 it is 80 against 160.
    """
    shapes = [plate("a", 25, 50, 8), plate("b", 25, 50, 8)]
    dear = Container("tray", TRAY.room, TRAY.area, cost=20.0 if set_up == 0.0 else 10.0)
    problem = prepare(shapes, [dear], Aims(set_up=set_up))
    chosen = choose_layouts(problem, layouts(), seed=1)
    assert len(chosen) == expected


@pytest.mark.parametrize(("most", "expected"), [(None, 2), (1, 1)])
def test_so_many_layouts_at_most(most: int | None, expected: int) -> None:
    """One layout for all although it takes twice as many sheets."""
    shapes = [plate("a", 25, 50, 8), plate("b", 25, 50, 8)]
    problem = prepare(shapes, [TRAY], Aims(most_layouts=most))
    assert len(choose_layouts(problem, layouts(), seed=1)) == expected


def test_the_packer_keeps_to_few_layouts() -> None:
    """Three kinds that would fill sheets of their own share one layout."""
    shapes = [plate(name, 25, 50, 12) for name in "abc"]
    packing = pack(shapes, [TRAY], stop=Iterations(20), aims=Aims(most_layouts=1))
    assert not packing.unplaced
    assert len(packing.sheets) == 1


def test_a_sheet_with_more_left_wins_where_that_is_worth_it() -> None:
    """One piece of 30 x 50: the small sheet costs 13, the large one 20 less 14 for what is left."""
    small = Container("small", MultiPolygon([box(0, 0, 40, 50)]), 2000.0, cost=13.0)
    shapes = [plate("plate", 30, 50, 1)]
    for aims, expected in ((Aims(), 0), (Aims(worth=1.0, least_side=30), 1)):
        packing = pack(shapes, [small, TRAY], stop=Iterations(20), aims=aims)
        assert [s.container for s in packing.sheets] == [expected]


def test_no_piece_is_left_out_to_save_a_set_up() -> None:
    """Two pieces on sheets of their own: both are made, however dear a set-up is."""
    shapes = [plate("a", 60, 50, 1), plate("b", 60, 50, 1)]
    problem = prepare(shapes, [TRAY], Aims(set_up=5000.0))
    chosen = choose_layouts(problem, [laid((0, 0, 0)), laid((1, 0, 0))], seed=1)
    assert len(chosen) == 2


@pytest.mark.parametrize("order", [1, -1])
def test_a_layout_that_leaves_no_surplus_is_one_layout(order: int) -> None:
    """Four pieces on layouts of two or three: twice two, not three and one."""
    problem = prepare([plate("a", 25, 50, 4)], [TRAY], Aims(most_layouts=1))
    three, two = (laid(*((0, 25.0 * k, 0.0) for k in range(n))) for n in (3, 2))
    (only,) = choose_layouts(problem, [three, two][::order], seed=1)
    assert only.runs == 2


def test_fillers_make_no_further_layouts_where_few_are_wanted() -> None:
    """Three runs of one sheet and a single filler: it is left out."""
    filler = Shape("washer", box(0, 0, 10, 10), 100.0, 1, (0.0,), filler=True)
    packing = pack(
        [plate("a", 60, 50, 3), filler], [TRAY], stop=Iterations(2), aims=Aims(most_layouts=1)
    )
    assert [s.runs for s in packing.sheets] == [3]
