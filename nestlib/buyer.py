"""The order for one metal: layouts, a bound, all questions, chance and weeks."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace

import numpy as np

from nestlib.bought import bought_layouts, order_lines
from nestlib.buying.choice import Choice
from nestlib.buying.choosing import Case, choose
from nestlib.buying.demand import newsvendor_level
from nestlib.buying.formats import LeastOrder
from nestlib.buying.questions import Answers, answer
from nestlib.buying.simulating import simulate
from nestlib.errors import StoppedError
from nestlib.interrupts import Patience, finishing
from nestlib.layouts_to_buy import Found, Shop, gather
from nestlib.model import (
    Asked,
    MetalPurchase,
    PriceList,
    Progress,
    Schedule,
    ServiceRow,
    Unplaced,
)
from nestlib.one_metal import OneMetal
from nestlib.order_bound import bound_of
from nestlib.packing import StoppingRule
from nestlib.packing.stopping import seconds_left
from nestlib.scheduling import schedule_of
from nestlib.wanted import LEVELS, Wanted

#: Chance with which each part suffices, unless somebody says otherwise.
USUAL_SERVICE = 0.95

#: What no order can beat is proved further for this share of the time of the search.
_PROVING = 0.25

#: Layouts are looked for also for so many single weeks.
_WEEKS = 4

OnProgress = Callable[[Progress], None]


@dataclass(frozen=True)
class Terms:
    """What is paid, and how chance and weeks are looked at.

    Parameters
    ----------
    prices : PriceList
        What stock, storage and a delivery are worth.
    scrap, service, shortage, weekly, order_from
        As in `nestlib.buy`.
    """

    prices: PriceList
    scrap: float = 0.0
    service: float | None = None
    shortage: float | None = None
    weekly: bool = False
    order_from: str = ""

    @property
    def settings(self) -> dict[str, float]:
        """What was asked with, for the record."""
        given = {"scrap": self.scrap, "service": self.service, "shortage": self.shortage}
        return {key: value for key, value in given.items() if value}


class Buyer:
    """Works out the order for one metal.

    Parameters
    ----------
    metal : OneMetal
        Parts and titles of the jobs.
    shop : Shop
        The same parts, what is at hand and what is offered.
    wanted : Wanted
        How many of them, and when.
    terms : Terms
        Prices, chance and weeks.
    stop, seed, executor, on_progress
        As in `nestlib.buy`.
    """

    def __init__(
        self,
        metal: OneMetal,
        shop: Shop,
        wanted: Wanted,
        terms: Terms,
        stop: StoppingRule,
        seed: int,
        executor: Executor | None,
        on_progress: OnProgress | None,
    ) -> None:
        self.metal, self.wanted, self.terms = metal, wanted, terms
        self.stop, self.seed, self.executor = stop, seed, executor
        self.on_progress = on_progress
        self.demands = wanted.drawn(seed)
        self.cuts = {level: self._cut(level) for level in self._levels(shop)}
        self.most = np.array(list(self.cuts.values())).max(axis=0)
        parts = zip(shop.job.parts, self.most, strict=True)
        asked = tuple(replace(p, quantity=int(n)) for p, n in parts)
        self.shop = replace(shop, job=replace(shop.job, parts=asked))
        self.began = time.monotonic()
        self.stopped = False

    def buy(self) -> MetalPurchase:
        """Gather layouts, prove a bound, ask all questions.

        Raises
        ------
        StoppedError
            If Ctrl-C came before there was any layout.
        """
        found = gather(
            self.shop,
            stop=self.stop,
            seed=self.seed,
            executor=self.executor,
            on_progress=self.on_progress,
            quantities=self._single_weeks(),
            clock=self._clock,
        )
        if found.stopped and not found.columns:
            raise StoppedError("Stopped before anything was placed")
        with finishing() as patience:
            result = self._asked(found, patience)
        self.stopped = found.stopped or patience.interrupted
        return result

    def _asked(self, found: Found, patience: Patience) -> MetalPurchase:
        """Everything that is worked out from the layouts."""

        def go_on() -> bool:
            return not (found.stopped or patience.interrupted)

        services, level = self._services(found, go_on)
        self._tell("proving what no order can beat")
        case, bound_by = self._case(found, self.cuts[level], go_on)
        answers = answer(case, self.seed, go_on=go_on, on_question=self._tell)
        schedule = self._schedule(case) if self.terms.weekly and go_on() else None
        result = self._result(found, case, bound_by, answers, schedule)
        late = self.terms.weekly and schedule is None and go_on()
        notes = (self._late(),) if late else ()
        service = level if services else None
        return replace(result, services=services, notes=notes, service=service)

    def _levels(self, shop: Shop) -> list[float]:
        """Chances with which each part shall suffice: one, if nothing is left to chance."""
        own = self.terms.service or USUAL_SERVICE
        if self.wanted.certain and not self.terms.scrap:
            return [own]
        levels = {*LEVELS, own}
        if self.terms.shortage and shop.offers:
            offered = [
                (o.price(length), length * o.width) for o in shop.offers for length in o.lengths
            ]
            rate = min(price / area for price, area in offered)
            dearest = max(part.area for part in shop.job.parts) * rate / 100
            levels.add(round(min(newsvendor_level(self.terms.shortage, dearest), 0.999), 4))
        return sorted(levels)

    def _cut(self, level: float) -> tuple[int, ...]:
        return self.wanted.to_cut(self.demands, level, self.terms.scrap)

    def _single_weeks(self) -> Sequence[Sequence[int]]:
        """What is wanted in single weeks, where there are several and they matter."""
        if not self.terms.weekly:
            return ()
        rows = dict.fromkeys(self.wanted.by_week(self.most.tolist()))
        several = [row for row in rows if any(row) and row != tuple(self.most.tolist())]
        return several[:_WEEKS]

    def _services(
        self, found: Found, go_on: Callable[[], bool]
    ) -> tuple[tuple[ServiceRow, ...], float]:
        """What each level costs, and the level that is bought for."""
        own = self.terms.service or USUAL_SERVICE
        if len(self.cuts) == 1:
            return (), own
        rows: list[ServiceRow] = []
        for level, cut in self.cuts.items():
            if not go_on() and rows:
                break
            self._tell(f"parts that suffice in {100 * level:g} %")
            choice = choose(self._plain_case(found, cut), seed=self.seed)
            if choice is not None:
                rows.append(self._service(level, cut, choice))
        if self.terms.shortage and self.terms.service is None and rows:
            own = min(rows, key=lambda row: row.expected_cost).service
        return tuple(rows), own

    def _service(self, level: float, cut: Sequence[int], choice: Choice) -> ServiceRow:
        came = simulate(
            np.array(cut),
            self.demands,
            self.terms.scrap,
            float(choice.cost),
            100 * (self.terms.shortage or 0.0),
            np.random.default_rng([self.seed, 1]),
        )
        return ServiceRow(level, choice.cost, came.expected_cost, came.short, came.error)

    def _plain_case(self, found: Found, cut: Sequence[int]) -> Case:
        """What is wanted of what can be made."""
        made = {p for c in found.columns for p, n in enumerate(c.counts) if n}
        wanted = tuple(n if i in made else 0 for i, n in enumerate(cut))
        least = tuple(LeastOrder(o.minimum, o.minimum_weight) for o in self.shop.offers)
        delivery = round(100 * self.terms.prices.delivery)
        return Case(wanted, self.shop.formats, found.columns, least, delivery, plans=found.plans)

    def _case(
        self, found: Found, cut: Sequence[int], go_on: Callable[[], bool]
    ) -> tuple[Case, str]:
        """The same, with what no order for it costs less than."""
        case = self._plain_case(found, cut)
        seconds = _PROVING * (seconds_left(self.stop, 0.0) or 0.0)
        least, why = bound_of(self.shop, case, seconds, go_on)
        return replace(case, bound=least), why

    def _schedule(self, case: Case) -> Schedule | None:
        self._tell("planning week by week")
        return schedule_of(
            case,
            self.shop.job,
            self.wanted.weeks,
            self.wanted.by_week(case.wanted),
            self.terms.prices,
            self.terms.order_from,
            self.seed,
        )

    def _late(self) -> str:
        """What is told where nothing can be planned week by week."""
        first = self.terms.order_from
        begun = f" that begins to order in {first}" if first else ""
        return (
            f"No plan week by week{begun} has everything in time, or none was found in time. "
            "The order told is for all weeks together, as if its dates could be kept: order "
            "earlier, find a shorter lead, or move what is wanted"
        )

    def _result(
        self,
        found: Found,
        case: Case,
        bound_by: str,
        answers: Answers,
        schedule: Schedule | None,
    ) -> MetalPurchase:
        job, best = self.shop.job, answers.best
        parts = list(zip(job.parts, case.wanted, strict=True))
        return MetalPurchase(
            metal=job.metal,
            jobs=self.metal.jobs,
            wanted={p.name: w for p, w in parts},
            lines=order_lines(case, best, self.wanted.first_week, schedule),
            paid=best.paid if best else 0,
            cost=best.cost if best else 0,
            bound=case.bound if best else 0,
            bound_by=bound_by,
            exact=bool(best and best.exact),
            layouts_found=len(found.layouts),
            parts_area=sum(p.area * w for p, w in parts) if best else 0.0,
            sheets_area=sum(
                f.area * n for f, n in zip(case.formats, best.used if best else (), strict=False)
            ),
            layouts=bought_layouts(self.shop, found, case, best),
            by_number=tuple(_in_words("", case, c) for c in answers.by_number),
            alone=tuple(_in_words(name, case, c) for name, c in answers.alone),
            missing=tuple(_in_words(name, case, c) for name, c in answers.missing),
            unplaced=self._unplaced(found, case, best),
            schedule=schedule,
        )

    def _unplaced(self, found: Found, case: Case, best: Choice | None) -> tuple[Unplaced, ...]:
        """What cannot be made, and why."""
        rows = list(enumerate(zip(self.shop.job.parts, case.wanted, strict=True)))
        if best is None:
            why = "nothing is offered for it, and what is at hand does not suffice. Add an offer"
            return tuple(Unplaced(p.name, p.quantity, why) for _, (p, _) in rows if p.quantity)
        usual = "no layout was found in time. Give it more time"
        return tuple(
            Unplaced(p.name, p.quantity, found.reasons.get(i, usual))
            for i, (p, w) in rows
            if p.quantity and not w
        )

    def _clock(self) -> float:
        return time.monotonic() - self.began

    def _tell(self, phase: str) -> None:
        if self.on_progress is not None:
            wanted = sum(p.quantity for p in self.shop.job.parts)
            self.on_progress(Progress(self._clock(), phase, placed=wanted, wanted=wanted))


def _in_words(about: str, case: Case, choice: Choice | None) -> Asked:
    """An answer in the words of an order."""
    if choice is None:
        return Asked(about, (), None)
    pairs = zip(case.formats, choice.packs, strict=True)
    formats = tuple((f.name, n * f.pack) for f, n in pairs if n)
    return Asked(about, formats, choice.cost, choice.exact)
