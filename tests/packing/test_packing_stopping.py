"""Stopping rules."""

from nestlib.packing import After, First, Iterations, SearchState, Stalled


def test_each_rule_looks_at_its_own_figure() -> None:
    """Time, rounds and rounds without improvement."""
    state = SearchState(seconds=5, iterations=3, stalled=2)
    assert After(5)(state)
    assert not After(5.1)(state)
    assert Iterations(3)(state)
    assert not Iterations(4)(state)
    assert Stalled(2)(state)
    assert not Stalled(3)(state)


def test_the_first_rule_that_says_stop_stops() -> None:
    """Any of several is enough, and none of none."""
    state = SearchState(seconds=5, iterations=3)
    assert First(After(100), Iterations(3))(state)
    assert not First(After(100), Iterations(9))(state)
    assert not First()(state)
