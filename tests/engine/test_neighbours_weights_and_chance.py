"""Who is near, what a pair weighs, and random numbers."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from shapely import box

from nestlib.engine import Item
from nestlib.engine.grid import parts_near
from nestlib.engine.layouts import Board
from nestlib.engine.meetings import PARTNERS, decay, gather, meetings, raise_weight, spread
from nestlib.engine.problem import StripProblem
from nestlib.engine.rng import stream, uniform

WORD = (1 << 64) - 1


def splitmix(state: int, count: int) -> list[int]:
    """SplitMix64 as printed in Steele, Lea, Flood (OOPSLA 2014), in whole numbers of Python."""
    found = []
    for _ in range(count):
        state = (state + 0x9E3779B97F4A7C15) & WORD
        z = ((state ^ (state >> 30)) * 0xBF58476D1CE4E5B9) & WORD
        z = ((z ^ (z >> 27)) * 0x94D049BB133111EB) & WORD
        found.append(z ^ (z >> 31))
    return found


def test_the_plain_generator_is_the_published_one() -> None:
    """Its first numbers for the seed 1234567; recalled from memory."""
    assert splitmix(1234567, 3) == [6457827717110365317, 3203168211198807973, 9817491932198370423]


@pytest.mark.parametrize("seed", [0, 1, 1234567, WORD])
def test_random_numbers_are_those_of_the_published_generator(seed: int) -> None:
    """The upper 53 bits of each, exactly."""
    state = np.array([seed], dtype=np.uint64)
    drawn = [uniform(state) for _ in range(1000)]
    assert drawn == [(z >> 11) / 2**53 for z in splitmix(seed, 1000)]
    assert 0.0 <= min(drawn) < 0.01
    assert 0.99 < max(drawn) < 1.0


def test_streams_differ_by_every_number_of_their_seed() -> None:
    """All seeds of three small numbers give streams of their own, again and again."""
    states = {int(stream(*seed)[0]) for seed in product(range(10), repeat=3)}
    assert len(states) == 1000
    assert stream(2, 3, 4) == stream(2, 3, 4)


@pytest.mark.parametrize("parts", [12, 79, 81, 300])
def test_neighbours_are_those_of_a_full_scan(parts: int) -> None:
    """For 60 random boxes, some outside the strip, while parts keep moving about.

    Above and below the number from which on a grid is used.
    """
    items = [
        Item("bar", box(0, 0, 3, 0.4), parts // 2, (0.0, 90.0)),
        Item("block", box(0, 0, 1, 1.3), parts - parts // 2),
    ]
    random, problem = np.random.default_rng(parts), StripProblem.of(items, 9.0)
    board, out, found = Board(problem), np.zeros(parts + 1, np.int64), 0
    first, kind = problem.cat.first, problem.kind
    board.length = 2.0 * parts / problem.width
    for _ in range(4):
        turn = random.integers(first[kind], first[kind + 1])
        x, y = (random.uniform(0, top, parts) for top in (board.length, problem.width))
        board.place(turn, x, y)
        boxes, room = board.layout.box, board.room
        for _ in range(15):
            i = int(random.integers(parts))
            left, low = (random.uniform(-2, room[k] + 1) for k in (2, 3))
            right, high = left + random.uniform(0.1, 5), low + random.uniform(0.1, 5)
            count = parts_near(board.layout.grid, boxes, i, left, low, right, high, out)
            meets = (boxes[0] < right) & (boxes[2] > left) & (boxes[1] < high) & (boxes[3] > low)
            meets[i] = False
            assert sorted(out[:count]) == list(np.flatnonzero(meets))
            found += count
    assert found > 60


def row(met: object, i: int, parts: int) -> list[float]:
    """What the pairs of one part weigh; the scratch row is left as it was."""
    weights = np.ones(parts)
    spread(met, i, weights)
    seen = list(weights)
    gather(met, i, weights)
    assert list(weights) == [1.0] * parts
    return seen


def test_weights_are_those_of_a_table() -> None:
    """Raised and decayed at random they equal those of a full table, to 1e-12."""
    parts, random = 9, np.random.default_rng(4)
    met, table = meetings(parts), np.ones((parts, parts))
    for _ in range(300):
        i, j = (int(k) for k in random.choice(parts, 2, replace=False))
        if random.random() < 0.3:
            decay(met, 0.8)
            table = np.maximum(1.0, 0.8 * table)
        factor = random.uniform(1.1, 2.0)
        raise_weight(met, i, j, factor)
        table[i, j] = table[j, i] = table[i, j] * factor
    assert table.max() > 2.0
    for i in range(parts):
        assert row(met, i, parts) == pytest.approx(list(table[i]), rel=1e-12)


def test_the_least_weight_is_forgotten_first() -> None:
    """One partner more than there is room for drives out the lightest, not the heaviest."""
    parts = PARTNERS + 10
    met = meetings(parts)
    for j in range(1, PARTNERS + 1):
        raise_weight(met, 0, j, 1.5 + 0.01 * ((7 * j) % PARTNERS))
    before = row(met, 0, parts)
    lightest = 1 + int(np.argmin(before[1 : PARTNERS + 1]))
    raise_weight(met, 0, PARTNERS + 1, 3.0)
    after = row(met, 0, parts)
    assert after[PARTNERS + 1] == 3.0
    assert after[lightest] == 1.0
    assert sum(a != b for a, b in zip(before, after, strict=True)) == 2
