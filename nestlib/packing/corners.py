"""A room filled without any waste, corner by corner.

Whatever covers a corner of the free region has a vertex exactly there and an edge exactly
along its side. So the corner that fewest pieces fit into is filled in every possible way,
each leaves a smaller region, and so on: a depth-first search, as for jigsaws and exact
covers, that is begun anew in another order when it has got nowhere for a while.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from nestlib.packing import kernels_tiling as kernels
from nestlib.packing.kernels import FloatArray, IntArray
from nestlib.packing.tiling_ways import Put, Ways

#: Nodes before the search is begun anew for the first time, and how many times as many later.
_FIRST, _GROWTH = 2000, 1.4

#: Most states that are remembered as leading nowhere.
_REMEMBERED = 200_000

#: Container and pieces.
Filled = tuple[int, tuple[Put, ...]]


class GaveUpError(Exception):
    """The search ended before everything was tried."""


class CornerSearch:
    """Fills one room after the other without any waste.

    Parameters
    ----------
    ways : sequence of Ways
        The pieces, for each container.
    regions : sequence of ndarray
        What is free in each container.
    stock : sequence of float
        How many containers of each kind there are.
    most : sequence of int
        How many pieces of each kind there are.
    areas : sequence of float
        Of a piece of each kind.
    eps : float
        Points closer than this are the same.

    Attributes
    ----------
    found : list of (int, tuple of Put)
        All rooms filled on the way, in the order in which they were.
    nodes : int
        Regions looked at so far.
    """

    def __init__(
        self,
        ways: Sequence[Ways],
        regions: Sequence[FloatArray],
        stock: Sequence[float],
        most: Sequence[int],
        areas: Sequence[float],
        eps: float,
    ) -> None:
        self.ways, self.regions, self.stock = ways, regions, stock
        self.most, self.areas, self.eps = np.array(most), np.array(areas), eps
        self.rooms = [float(kernels.areas(r).sum()) for r in regions]
        self.found: list[Filled] = []
        self.nodes = 0
        self._dead: set[tuple[int, bytes, bytes]] = set()

    def run(self, effort: int, seed: int, over: Callable[[], bool]) -> bool:
        """Search until all that can be filled is, or until the effort is spent.

        Parameters
        ----------
        effort : int
            Most regions to look at.
        seed : int
            Of the order in which pieces are tried, after the first time.
        over : callable
            Asked for each region whether to end early.

        Returns
        -------
        bool
            Whether so many containers were filled that no other is of use.
        """
        self.over, self.random, share = over, np.random.default_rng(seed), float(_FIRST)
        last = self.nodes + effort
        for attempt in range(effort):
            self.noise = 1.0 if attempt else 0.0
            self.until = min(last, self.nodes + int(share))
            self.left: IntArray = self.most.copy()
            self.used = [0] * len(self.rooms)
            try:
                return self._fill_next(0)
            except GaveUpError:
                if self.nodes >= last or over():
                    break
            share *= _GROWTH
        return False

    def _fill_next(self, first: int) -> bool:
        """Fill another container, of the same kind or a later one than the last."""
        total = float(self.left @ self.areas)
        useful = [
            c
            for c, room in enumerate(self.rooms)
            if 0 < room <= total * (1 + 1e-9) and self.used[c] < self.stock[c]
        ]
        for c in useful:
            if c >= first:
                self.used[c] += 1
                if self._fill(c, self.regions[c], ()):
                    return True
                self.used[c] -= 1
        return not useful

    def _fill(self, c: int, region: FloatArray, puts: tuple[Put, ...]) -> bool:
        """Fill what is left of a container, and all that follow."""
        if not len(region):
            self.found.append((c, puts))
            return self._fill_next(c)
        key = c, self.left.tobytes(), self._name(region)
        if key in self._dead:
            return False
        if self.nodes >= self.until or self.over():
            raise GaveUpError
        self.nodes += 1
        ways = self.ways[c]
        for way, dx, dy in self._ranked(
            ways, kernels.fewest(region, *ways.tables, self.left, self.eps)
        ):
            rest = kernels.cut_off(region, ways.outlines[way], dx, dy, self.eps, True)[1]
            self.left[ways.kinds[way]] -= 1
            if self._may_be_filled(rest) and self._fill(c, rest, (*puts, (way, dx, dy))):
                return True
            self.left[ways.kinds[way]] += 1
        if len(self._dead) < _REMEMBERED:
            self._dead.add(key)
        return False

    def _ranked(self, ways: Ways, fits: FloatArray) -> list[Put]:
        """Pieces that match the corner in more respects first, then large ones."""
        area = self.areas[ways.kinds[fits[:, 0].astype(np.int64)]]
        score = fits[:, 3:].sum(axis=1) + area / self.areas.max()
        score += self.noise * self.random.random(len(fits))
        order = np.argsort(-score, kind="stable")
        return [(int(fits[k, 0]), float(fits[k, 1]), float(fits[k, 2])) for k in order]

    def _name(self, region: FloatArray) -> bytes:
        """What tells a region from others: where its vertices are."""
        cells = np.round(region[:, :2] / (100 * self.eps))
        return cells[np.lexsort(cells.T)].tobytes()

    def _may_be_filled(self, region: FloatArray) -> bool:
        """Whether no part is smaller than the smallest piece, or between one and two."""
        parts = kernels.areas(region)
        if not len(parts) or parts.min() < 0:
            return True
        left = np.sort(np.repeat(self.areas, np.minimum(self.left, 2)))
        if not len(left) or parts.min() < left[0] * (1 - 1e-9):
            return False
        two = left[:2].sum() * (1 - 1e-9) if len(left) > 1 else np.inf
        return all(_is_among(left, a) for a in parts[parts < two])


def _is_among(areas: FloatArray, area: float) -> bool:
    return bool(np.isclose(areas, area, rtol=1e-7, atol=0.0).any())
