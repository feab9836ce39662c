"""A shop's own work: jobs of as many pieces as one asks for, the same for the same seed.

Three kinds of parts in ten are wanted in tens to hundreds and the rest a few; many parts are
small and few are large. Sheets come in two sizes at the price of their weight, and two
leftovers with a fixed value lie on the rack.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Sequence

import numpy as np

from benchmarks.shop_parts import KINDS, Kind, Random, rounded
from nestlib.geometry import moved
from nestlib.metals import machine, metal
from nestlib.model import Contour, Job, Metal, Part, Sheet, Spacing

#: Sizes of jobs that are measured, in pieces.
PIECES = (50, 200, 1000, 5000)

#: Distances kept, in mm.
SPACING = Spacing(kerf=0.2, spacing=3.0, margin=10.0)

#: Share of the kinds that are wanted in tens to hundreds, and the fewest of each.
_REPEATED, _TENS = 0.3, 10

#: Most pieces of a kind of which a few are wanted, and their share of a small job.
_FEW, _SHARE_OF_FEW = 8, 0.4

#: Longer sides in mm that a share of the kinds stays below: of a few pieces, and of many.
_SIZES_OF_FEW = ((0.0, 0.3, 0.6, 0.87, 1.0), (20.0, 80.0, 250.0, 600.0, 1500.0))
_SIZES_OF_MANY = ((0.0, 0.5, 0.85, 1.0), (20.0, 100.0, 300.0, 600.0))

#: Price of one kg of sheet, and what a leftover counts for.
_PRICE_OF_KG, _VALUE_OF_REMNANT = 1.2, 10.0


def shop_job(pieces: int, seed: int = 1) -> Job:
    """Return a job.

    Parameters
    ----------
    pieces : int
        Pieces over all parts, 30 or more.
    seed : int
        Of all chance.

    Returns
    -------
    Job
        Of mild steel, 2 mm.

    Examples
    --------
    >>> sum(part.quantity for part in shop_job(50).parts)
    50
    """
    random = np.random.default_rng((seed, pieces))
    steel = metal("mild-steel", "2")
    return Job(
        title=f"Work of a shop, {pieces} pieces, seed {seed}",
        parts=_parts(pieces, random),
        sheets=sheets(steel),
        metal=steel,
        machine=machine("fibre-2000"),
        spacing=SPACING,
    )


def sheets(of: Metal) -> tuple[Sheet, ...]:
    """Return what is on the rack: two sizes of sheets, and two leftovers that have no box."""
    l_shaped = [(0, 0), (1400, 0), (1400, 450), (600, 450), (600, 1100), (0, 1100)]
    notched = [(0, 0), (1250, 0), (1250, 600), (950, 900), (0, 900)]
    return (
        _stock("sheet-3000x1500", Contour.rectangle(3000, 1500), of),
        _stock("sheet-2500x1250", Contour.rectangle(2500, 1250), of),
        _remnant("remnant-l", Contour(l_shaped), ()),
        _remnant("remnant-hole", rounded(notched, 0.0), (Contour.circle((420, 430), 190),)),
    )


def _stock(name: str, outline: Contour, of: Metal) -> Sheet:
    price = round(_PRICE_OF_KG * of.weight(outline.area), 2)
    return Sheet(name, outline, quantity=None, cost=price)


def _remnant(name: str, outline: Contour, holes: tuple[Contour, ...]) -> Sheet:
    return Sheet(name, outline, holes, cost=_VALUE_OF_REMNANT, remnant=True)


def _parts(pieces: int, random: Random) -> tuple[Part, ...]:
    quantities = _quantities(pieces, random)
    many = sum(q >= _TENS for q in quantities)
    sizes = [
        *_sizes(many, _SIZES_OF_MANY, random),
        *_sizes(len(quantities) - many, _SIZES_OF_FEW, random),
    ]
    kinds = deque(KINDS[k] for k in random.permutation(len(KINDS)))
    return tuple(
        _part(_next_kind(kinds, size), number, size, quantity, random)
        for number, (size, quantity) in enumerate(zip(sizes, quantities, strict=True), start=1)
    )


def _quantities(pieces: int, random: Random) -> list[int]:
    """Return how many pieces there are of each kind, those of many first; exact in total."""
    count = round(math.sqrt(2 * pieces))
    many = round(_REPEATED * count)
    most = min(_FEW, int(_SHARE_OF_FEW * pieces) // (count - many))
    few = [int(n) for n in random.integers(1, most + 1, count - many)]
    rest = pieces - sum(few) - _TENS * many
    # From tens to hundreds evenly by their logarithms.
    share = np.exp(random.uniform(0.0, math.log(10.0), many))
    ends = np.rint(np.cumsum(share) / share.sum() * rest).astype(int)
    return [_TENS + int(n) for n in np.diff(ends, prepend=0)] + few


def _sizes(count: int, levels: tuple[Sequence[float], ...], random: Random) -> list[float]:
    """Return lengths in whole mm, one from each of as many equal shares of the kinds."""
    shares, lengths = levels
    at = (np.arange(count) + random.uniform(0.0, 1.0, count)) / count
    chosen = np.exp(np.interp(at, shares, np.log(lengths)))
    return [float(round(size)) for size in random.permutation(chosen)]


def _next_kind(kinds: deque[Kind], size: float) -> Kind:
    """Return the kind that waits longest among those that make sense in a size."""
    kind = next(k for k in kinds if k.least <= size <= k.most)
    kinds.remove(kind)
    kinds.append(kind)
    return kind


def _part(kind: Kind, number: int, size: float, quantity: int, random: Random) -> Part:
    outer, holes = kind.draw(size, random)
    x, y, _, _ = outer.bounds
    return Part(
        name=f"{kind.name}-{number:03d}",
        outer=moved(outer, -x, -y).oriented(ccw=True),
        inners=tuple(moved(hole, -x, -y).oriented(ccw=False) for hole in holes),
        quantity=quantity,
        rotations=kind.rotations,
    )
