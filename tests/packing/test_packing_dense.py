"""The engine's view of a problem is made once, whoever asks for it."""

import threading
from concurrent.futures import ThreadPoolExecutor

import pytest
from shapely import MultiPolygon, box

from nestlib.packing import Container, PackedPlacement, Shape
from nestlib.packing import dense as dense_module
from nestlib.packing.dense import dense
from nestlib.packing.problem import Problem, prepare


def problem(token: str) -> Problem:
    """Nothing to place, nowhere to place it."""
    return Problem((), (), (), (), token)


def test_threads_share_what_is_made_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Eight threads that ask at once get one and the same object, made once."""
    made: list[str] = []
    start = threading.Barrier(8)

    class Slow(dense_module.Dense):
        """One whose making takes long enough for the others to ask."""

        def __init__(self, problem: Problem) -> None:
            made.append(problem.token)
            threading.Event().wait(0.05)
            super().__init__(problem)

    def ask(_: int) -> dense_module.Dense:
        start.wait()
        return dense(problem("shared"))

    monkeypatch.setattr(dense_module, "Dense", Slow)
    with ThreadPoolExecutor(8) as pool:
        found = list(pool.map(ask, range(8)))
    assert made == ["shared"]
    assert all(f is found[0] for f in found)


def test_threads_with_many_problems_do_not_throw_out_each_others() -> None:
    """Each gets its own problem, though more of them are asked for than are kept."""
    tokens = [f"problem {k % 7}" for k in range(200)]
    with ThreadPoolExecutor(8) as pool:
        found = list(pool.map(lambda t: dense(problem(t)).problem.token, tokens))
    assert found == tokens


def test_more_pieces_than_are_wanted_are_left_out_first() -> None:
    """A layout of four tiles where three are wanted in all: three stay."""
    tile = Shape("tile", box(0, 0, 10, 10), 100.0, 3, (0.0,))
    given = prepare([tile], [Container("tray", MultiPolygon([box(0, 0, 40, 10)]), 400.0)])
    four = [PackedPlacement(0, 0.0, False, 10.0 * k, 0.0) for k in range(4)]
    found = dense(given).filled(0, four, [3], [100.0], (1,), 2, lambda: False)
    assert len(found) == 3
