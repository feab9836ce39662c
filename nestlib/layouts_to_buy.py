"""Layouts on everything that is offered or at hand, gathered once for all questions.

The packer works on all formats together, with their prices, and then on each offer with what
is at hand, so that there are good layouts on every one of them. All different layouts that it
finds on its way are kept, not only those of its best plan.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, field, replace

import numpy as np
from shapely import MultiPolygon, Polygon, box

from nestlib.bundling import plain_things
from nestlib.buying.choice import Runs
from nestlib.buying.columns import Column, without_dominated
from nestlib.buying.formats import Format, formats_of
from nestlib.buying.lengths import shortest_holding, tried
from nestlib.common_lines import Hurried
from nestlib.for_packer import containers_of, remnants_first, shapes_of
from nestlib.geometry import cos_sin
from nestlib.model import Contour, Job, Offer, Progress, Sheet
from nestlib.packing import (
    Container,
    Iterations,
    PackedSheet,
    Packing,
    Shape,
    StoppingRule,
    pack,
)

#: After this share of the time all formats together are done.
_TOGETHER = 0.5


@dataclass(frozen=True, eq=False)
class Shop:
    """Everything of one metal: what is wanted, at hand and offered.

    Parameters
    ----------
    job : Job
        Its sheets are at hand.
    offers : tuple of Offer
        Of its metal.
    stock_value : float
        What a sheet in stock is worth: this share of its price.
    """

    job: Job
    offers: tuple[Offer, ...]
    stock_value: float
    formats: tuple[Format, ...] = field(init=False)

    def __post_init__(self) -> None:
        offered = [f for i, o in enumerate(self.offers) for f in formats_of(o, i, self.stock_value)]
        object.__setattr__(self, "formats", (*map(self._own, self.job.sheets), *offered))

    def _own(self, sheet: Sheet) -> Format:
        price = round(100 * (sheet.cost or 0.0))
        return Format(
            f"at hand: {sheet.name}",
            price,
            int(price * self.stock_value),
            sheet.area,
            self.job.metal.weight(sheet.area),
            at_hand=sheet.quantity or 0,
            size=sheet.size,
        )

    def first_format(self, offer: int) -> int:
        """Return the index of the first format of an offer."""
        return len(self.job.sheets) + sum(len(o.lengths) for o in self.offers[:offer])


@dataclass(frozen=True, eq=False)
class Found:
    """Layouts, as columns and as they lie.

    Parameters
    ----------
    columns : tuple of Column
        None of them superfluous; their `layout` is an index of `layouts`.
    layouts : tuple of PackedSheet
        Pieces, and where they lie.
    reasons : dict
        Why a part of this index is on no layout.
    stopped : bool
        Whether the user stopped the search.
    plans : tuple of tuple
        What each search found as a whole: layouts, and how often each is cut.
    """

    columns: tuple[Column, ...]
    layouts: tuple[PackedSheet, ...]
    reasons: dict[int, str]
    stopped: bool
    plans: tuple[Runs, ...]


@dataclass(frozen=True, eq=False)
class _Pass:
    """One search: a job whose sheets are offered or at hand, and what each sheet stands for."""

    job: Job
    offer_of: dict[str, int]
    until: float


def compile_first(on_progress: Callable[[Progress], None] | None) -> None:
    """Compile what the packer needs before any clock runs, and say so."""
    square = box(0, 0, 1, 1)
    container = Container("square", MultiPolygon([square]), 1.0)
    pack([Shape("square", square, 1.0)], [container], stop=Iterations(0), on_progress=on_progress)


def gather(
    shop: Shop,
    *,
    stop: StoppingRule,
    seed: int,
    executor: Executor | None,
    on_progress: Callable[[Progress], None] | None,
    quantities: Sequence[Sequence[int]] = (),
    clock: Callable[[], float],
) -> Found:
    """Gather layouts.

    Parameters
    ----------
    shop : Shop
        What is wanted, at hand and offered.
    stop : StoppingRule
        When to stop; the searches share its time, and what it counts is counted in each.
    seed : int
        Of all chance.
    executor : concurrent.futures.Executor, optional
        Where to search.
    on_progress : callable, optional
        Told how far each search is.
    quantities : sequence of sequence of int
        Other numbers of the pieces for which there shall be good layouts too: of single
        weeks, for example.
    clock : callable
        Seconds since the beginning of the first search of this stopping rule.

    Returns
    -------
    Found
        After Ctrl-C what there was until then.
    """
    keep = _Kept(shop)
    for each in _passes(shop, quantities):
        packing = pack(
            shapes_of(each.job, plain_things(each.job)),
            containers_of(each.job),
            stop=Hurried(stop, each.until, clock()),
            seed=seed,
            executor=executor,
            on_progress=_without_cost(on_progress),
        )
        keep.add(each, packing)
        if packing.stopped:
            break
    return keep.found()


def _without_cost(
    on_progress: Callable[[Progress], None] | None,
) -> Callable[[Progress], None] | None:
    """Told of a search, but not what its sheets cost: an order may cost less than each."""
    if on_progress is None:
        return None
    return lambda p: on_progress(replace(p, cost=None, gap=None))


def _passes(shop: Shop, quantities: Sequence[Sequence[int]]) -> Iterator[_Pass]:
    """All offers together, then the single weeks, then each offer by itself."""
    every = list(range(len(shop.offers)))
    single = [[i] for i in every] if len(every) > 1 else []
    number = len(quantities) + len(single)
    step = (1 - _TOGETHER) / max(1, number)
    yield _pass(shop, every, None, _TOGETHER if number else 1.0)
    for i, numbers in enumerate(quantities, start=1):
        yield _pass(shop, every, numbers, _TOGETHER + i * step)
    for i, offers in enumerate(single, start=len(quantities) + 1):
        yield _pass(shop, offers, None, _TOGETHER + i * step)


def _pass(
    shop: Shop, offers: Sequence[int], quantities: Sequence[int] | None, until: float
) -> _Pass:
    sheets = [own_sheet(shop, i) for i in range(len(shop.job.sheets))]
    offer_of: dict[str, int] = {}
    for i in offers:
        offer = shop.offers[i]
        for length in tried(offer.lengths):
            name = f"offer {i}: {length:g}"
            offer_of[name] = i
            sheets.append(new_sheet(name, length, offer.width, offer.price(length)))
    parts = shop.job.parts
    if quantities is not None:
        parts = tuple(replace(p, quantity=n) for p, n in zip(parts, quantities, strict=True))
    return _Pass(replace(shop.job, parts=parts, sheets=tuple(sheets)), offer_of, until)


def own_sheet(shop: Shop, index: int) -> Sheet:
    """Return a sheet that is at hand, at what it is worth."""
    form = shop.formats[index]
    return replace(shop.job.sheets[index], name=form.name, cost=float(form.value))


def new_sheet(name: str, length: float, width: float, price: int) -> Sheet:
    """Return a sheet of which any number can be bought, at a price in hundredths."""
    return Sheet(name, Contour.rectangle(length, width), quantity=None, cost=float(price))


class _Kept:
    """Layouts of all searches so far."""

    def __init__(self, shop: Shop) -> None:
        self.shop = shop
        self.layouts: list[PackedSheet] = []
        self.columns: dict[tuple[int, tuple[int, ...]], Column] = {}
        self.plans: list[Runs] = []
        self.reasons: dict[int, str] = {}
        self.stopped = False

    def add(self, each: _Pass, packing: Packing) -> None:
        """Keep what a search found."""
        shapes = shapes_of(each.job, plain_things(each.job))
        containers, sheets = containers_of(each.job), remnants_first(each.job)

        def column(layout: PackedSheet) -> Column:
            sheet = sheets[layout.container]
            needed = _needed_length(sheet, containers[layout.container], layout, shapes)
            counts = np.bincount([p.shape for p in layout.placements], minlength=len(shapes))
            key = self._format(each, sheet.name, needed), tuple(int(n) for n in counts)
            if key not in self.columns:
                self.columns[key] = Column(*key, len(self.layouts))
                self.layouts.append(layout)
            return self.columns[key]

        for layout in packing.tried:
            column(layout)
        runs: Counter[Column] = Counter()
        for layout in packing.sheets:
            runs[column(layout)] += layout.runs
        self.plans.append(tuple(runs.items()))
        for shape, _, reason in packing.unplaced:
            self.reasons.setdefault(shape, reason)
        self.stopped |= packing.stopped

    def _format(self, each: _Pass, sheet: str, needed: float) -> int:
        """The format that a layout is cut from: the shortest length that holds it."""
        if sheet not in each.offer_of:
            return next(i for i, f in enumerate(self.shop.formats) if f.name == sheet)
        offer = each.offer_of[sheet]
        lengths = self.shop.offers[offer].lengths
        return self.shop.first_format(offer) + shortest_holding(lengths, needed)

    def found(self) -> Found:
        """Return all that matter."""
        columns = tuple(without_dominated(self.columns.values()))
        made = {part for c in columns for part, n in enumerate(c.counts) if n}
        reasons = {part: why for part, why in self.reasons.items() if part not in made}
        return Found(columns, tuple(self.layouts), reasons, self.stopped, tuple(self.plans))


def _needed_length(
    sheet: Sheet, container: Container, layout: PackedSheet, shapes: Sequence[Shape]
) -> float:
    """How long a sheet has to be for a layout that begins at its left edge, in mm."""
    reach = max(
        _right(shapes[p.shape].polygon, p.rotation, p.flip) + p.x for p in layout.placements
    )
    return float(sheet.size[0] - (container.room.bounds[2] - reach))


def _right(polygon: Polygon, rotation: float, flip: bool) -> float:
    """How far a polygon reaches along x once it is turned, in mm."""
    x, y = np.asarray(polygon.exterior.coords).T
    cos, sin = cos_sin(rotation)
    return float(np.max((-x if flip else x) * cos - y * sin))
