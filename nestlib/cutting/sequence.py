"""In which order things are visited when some have to come before others, and where each."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import KDTree

from nestlib.cutting.kernels_chance import seeded
from nestlib.cutting.kernels_sequence import (
    Sequencing,
    best_places,
    nearest_first,
    search,
    way_cost,
)
from nestlib.model.contour import FloatArray

#: Items worth coming next, and how many places are looked at to find them.
_NEAR, _LOOKED_AT = 10, 25

#: Disturbances for each item, more for each of the first ones, and how many these are:
#: a short way is then rarely left a little too long, for at most 45,000 more of them.
_ROUNDS, _MORE, _FIRST = 60, 90, 500

#: Disturbances between two looks at whether to go on.
_AT_ONCE = 2000

#: A step that is too short costs as much as so many times the distance to be kept.
_PRICE = 5.0

Point = tuple[float, float]
Pair = tuple[int, int]
GoOn = Callable[[], bool]


@dataclass(frozen=True)
class Stop:
    """Something to be visited.

    Parameters
    ----------
    places : tuple of (float, float)
        Where the beam may begin, in mm; one at least.
    ends : tuple of (float, float)
        Where it ends then; where it began, if empty.
    unit : int
        Stops of the same unit are visited in a row.
    piece : int
        The part it belongs to.
    """

    places: tuple[Point, ...]
    ends: tuple[Point, ...] = ()
    unit: int = 0
    piece: int = 0


@dataclass(frozen=True)
class Way:
    """An order of stops.

    Parameters
    ----------
    order : tuple of int
        The stops.
    places : tuple of int
        Which of its places each stop of the order is entered at.
    cost : float
        Length in mm, and what short steps cost.
    """

    order: tuple[int, ...] = ()
    places: tuple[int, ...] = ()
    cost: float = field(default=0.0, compare=False)


def short_sequence(
    stops: Sequence[Stop],
    pairs: Sequence[Pair] = (),
    start: Point = (0.0, 0.0),
    *,
    apart: float = 0.0,
    rounds: int | None = None,
    seed: int = 0,
    go_on: GoOn = lambda: True,
) -> Way:
    """Return a short open way through all stops that keeps what has to come first.

    Parameters
    ----------
    stops : sequence of Stop
        What to visit; places in mm.
    pairs : sequence of (int, int)
        The first of each comes before the second; units can be put in a row.
    start : (float, float)
        Where the way begins.
    apart : float
        Steps between stops shorter than this, in mm, are avoided where that is possible.
    rounds : int, optional
        How many times to disturb the way and mend it; by default 150 for each of the first
        500 stops and 60 for each further one. None are done with 0, and the way always goes
        to the nearest stop then.
    seed : int
        Of all chance; the same seed and rounds give the same way.
    go_on : callable
        Asked now and then; False ends the search with the best so far.

    Returns
    -------
    Way

    Raises
    ------
    ValueError
        If what has to come before what goes round in a circle.

    Examples
    --------
    >>> way = short_sequence([Stop(((9.0, 0.0),)), Stop(((4.0, 0.0),), unit=1)], [(0, 1)])
    >>> way.order, way.cost
    ((0, 1), 14.0)
    """
    if not stops:
        return Way()
    q = _sequencing(stops, pairs, start, apart)
    order, chosen = nearest_first(q)
    if order.min() < 0:
        raise ValueError("what has to come before what goes round in a circle")
    left = _usual_rounds(len(stops)) if rounds is None else rounds
    if left and len(stops) > 1:
        _search(q, order, chosen, seeded(seed), left, go_on)
    if left:
        best_places(q, order, chosen)
    return Way(
        tuple(order.tolist()),
        tuple((chosen - q.first[:-1])[order].tolist()),
        float(way_cost(q, order, chosen)),
    )


def _usual_rounds(stops: int) -> int:
    return _ROUNDS * stops + _MORE * min(stops, _FIRST)


def _search(
    q: Sequencing,
    order: NDArray[np.int64],
    chosen: NDArray[np.int64],
    state: NDArray[np.uint64],
    left: int,
    go_on: GoOn,
) -> None:
    best_places(q, order, chosen)
    search(q, order, chosen, state, 0)
    while left > 0 and go_on():
        some = min(left, _AT_ONCE)
        search(q, order, chosen, state, some)
        left -= some


def _sequencing(
    stops: Sequence[Stop], pairs: Sequence[Pair], start: Point, apart: float
) -> Sequencing:
    into = np.array([p for s in stops for p in s.places], dtype=np.float64)
    out = np.array([p for s in stops for p in s.ends or s.places], dtype=np.float64)
    first = np.cumsum([0, *(len(s.places) for s in stops)])
    _, unit = np.unique([s.unit for s in stops], return_inverse=True)
    after, after_first = _grouped(pairs, len(stops))
    before, before_first = _grouped([(b, a) for a, b in pairs], len(stops))
    return Sequencing(
        into,
        out,
        first.astype(np.int64),
        unit.astype(np.int64),
        np.array([s.piece for s in stops], dtype=np.int64),
        after,
        after_first,
        before,
        before_first,
        _near(into, first, apart),
        np.array(start, dtype=np.float64),
        float(apart),
        _PRICE * apart,
    )


def _grouped(pairs: Sequence[Pair], n: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Second ones of all pairs, by their first ones; and where each group begins."""
    table = np.array(sorted(set(pairs)), dtype=np.int64).reshape(-1, 2)
    starts = np.searchsorted(table[:, 0], np.arange(n + 1)).astype(np.int64)
    return np.ascontiguousarray(table[:, 1]), starts


def _near(into: FloatArray, first: NDArray[np.int64], apart: float) -> NDArray[np.int64]:
    """For every item those worth coming next; with `apart`, more of them and not too near."""
    n = len(first) - 1
    owner = np.repeat(np.arange(n), np.diff(first))
    found: list[list[int]] = []
    tree = KDTree(into)
    distances, places = tree.query(into, min(len(into), _LOOKED_AT + int(np.diff(first).max())))
    distances, places = distances.reshape(len(into), -1), places.reshape(len(into), -1)
    for a in range(n):
        rows = slice(first[a], first[a + 1])
        near = _distinct(distances[rows].ravel(), owner[places[rows].ravel()], a)[:_NEAR]
        if apart:
            near += _nearest(into[rows], into, owner, a, apart)
        found.append(near)
    width = max(1, *(len(f) for f in found))
    # An item that is named again at the end does no harm.
    return np.array([(f + [f[-1] if f else a] * width)[:width] for a, f in enumerate(found)])


def _distinct(distances: FloatArray, items: NDArray[np.int64], own: int) -> list[int]:
    """Items from the nearest to the farthest, each once, without `own`."""
    sorted_items = items[np.argsort(distances, kind="stable")]
    _, where = np.unique(sorted_items, return_index=True)
    return [int(i) for i in sorted_items[np.sort(where)] if i != own]


def _nearest(
    places: FloatArray, into: FloatArray, owner: NDArray[np.int64], own: int, apart: float
) -> list[int]:
    """Nearest items that lie `apart` or farther from the first place of an item."""
    distances = np.hypot(*(into - places[0]).T)
    far = np.flatnonzero(distances >= apart)
    some = far[np.argsort(distances[far], kind="stable")[: 4 * _LOOKED_AT]]
    return _distinct(distances[some], owner[some], own)[:_NEAR]
