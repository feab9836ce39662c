"""What no plan can beat, by area alone."""

from __future__ import annotations

import math
from collections.abc import Sequence

from nestlib.model import Bound
from nestlib.packing.interface import Container, Shape


def lower_bound(
    shapes: Sequence[Shape], containers: Sequence[Container], missing: Sequence[int] = ()
) -> Bound:
    """Return the least number of containers and their least cost, proved by area.

    The true areas of all pieces must find room in the usable areas of the containers:
    the fewest are needed if the largest are taken first, and the cheapest area if those
    with the lowest price for their area are, the last of them in part.

    Parameters
    ----------
    shapes : sequence of Shape
        What has to be placed; fillers do not count.
    containers : sequence of Container
        What there is.
    missing : sequence of int
        For each shape, how many pieces were not placed and so do not count.

    Returns
    -------
    Bound
        The cost is 0 if any container has no price.

    Examples
    --------
    >>> from shapely import MultiPolygon, box
    >>> part = Shape("plate", box(0, 0, 60, 60), 3600.0, quantity=10)
    >>> sheet = Container("sheet", MultiPolygon([box(0, 0, 100, 100)]), 10_000.0, cost=5.0)
    >>> lower_bound([part], [sheet]).sheets
    4
    """
    left_out = [*missing, *[0] * (len(shapes) - len(missing))]
    needed = sum(
        s.area * (s.quantity - n) for s, n in zip(shapes, left_out, strict=True) if not s.filler
    )
    usable = [min(c.area, c.room.area) for c in containers]
    stock = [math.inf if c.quantity is None else c.quantity for c in containers]
    sheets = _fewest(needed, usable, stock)
    cost = _cheapest(needed, usable, stock, [c.cost for c in containers])
    method = "true area of the parts against the usable area of the sheets"
    if any(left_out):
        method += ", for the pieces that were placed"
    return Bound(sheets, cost, method)


def _fewest(needed: float, usable: Sequence[float], stock: Sequence[float]) -> int:
    count = 0
    for i in sorted(range(len(usable)), key=lambda i: -usable[i]):
        if needed <= 0 or usable[i] <= 0:
            break
        # The margin keeps rounding from asking for one sheet too many.
        taken = int(min(stock[i], math.ceil(needed / usable[i] * (1 - 1e-9))))
        needed -= taken * usable[i] * (1 + 1e-9)
        count += taken
    return count


def _cheapest(
    needed: float,
    usable: Sequence[float],
    stock: Sequence[float],
    prices: Sequence[float | None],
) -> float:
    known = [p for p in prices if p is not None]
    if len(known) < len(prices):
        return 0.0
    total = 0.0
    real = [i for i in range(len(usable)) if usable[i] > 0]
    for i in sorted(real, key=lambda i: known[i] / usable[i]):
        share = min(stock[i], max(needed, 0.0) / usable[i])
        total += share * known[i]
        needed -= share * usable[i]
    return total * (1 - 1e-9)
