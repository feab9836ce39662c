"""What to buy for some jobs: layouts on all formats, then small programs over them."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import replace

from nestlib.bought import bought_layouts, order_lines
from nestlib.buying.choosing import Case, Choice
from nestlib.buying.formats import LeastOrder
from nestlib.buying.questions import Answers, answer
from nestlib.errors import InputError, Problem, StoppedError
from nestlib.interrupts import finishing
from nestlib.layouts_to_buy import Found, Shop, bound_of, compile_first, gather
from nestlib.model import (
    Asked,
    Job,
    MetalPurchase,
    Offer,
    PriceList,
    Progress,
    Purchase,
    Unplaced,
)
from nestlib.nesting import USUAL_STOP, executor_of
from nestlib.one_metal import OneMetal, by_metal, metal_key
from nestlib.packing import StoppingRule
from nestlib.soundness import demand_sound

OnProgress = Callable[[Progress], None]


def buy(
    jobs: Job | Sequence[Job],
    prices: PriceList,
    *,
    stop: StoppingRule | None = None,
    seed: int = 0,
    workers: int | Executor = 1,
    on_progress: OnProgress | None = None,
    at_hand: bool = True,
) -> Purchase:
    """Work out what to order for one job or several.

    Parameters
    ----------
    jobs : Job or sequence of Job
        Their sheets whose number is given, and their remnants, are at hand and need not be
        bought; those of which there are as many as needed do not count.
    prices : PriceList
        What is offered.
    stop : StoppingRule, optional
        When to stop looking for better layouts, for each metal and thickness; by default as
        in `nest`.
    seed : int
        Of all chance. The same seed and a rule that counts give the same order.
    workers : int or concurrent.futures.Executor
        Processes to use.
    on_progress : callable, optional
        Called with a `Progress` a few times a second.
    at_hand : bool
        Whether sheets and remnants of the jobs count; else as if the rack were empty.

    Returns
    -------
    Purchase
        After Ctrl-C the best for the layouts that were found until then.

    Raises
    ------
    InputError
        If a job is not sound, or nothing is offered for it and nothing is at hand.
    StoppedError
        If Ctrl-C came before there was any layout.
    """
    jobs = [jobs] if isinstance(jobs, Job) else list(jobs)
    for job in jobs:
        demand_sound(job)
    if not at_hand:
        jobs = [replace(job, sheets=()) for job in jobs]
    began = time.monotonic()
    metals = by_metal(jobs)
    shops = [_shop(metal, prices) for metal in metals]
    done: list[MetalPurchase] = []
    stopped = False
    compile_first(on_progress)
    with executor_of(workers) as executor:
        for metal, (shop, notes) in zip(metals, shops, strict=True):
            buyer = _Buyer(metal, shop, prices, stop or USUAL_STOP, seed, executor, on_progress)
            done.append(replace(buyer.buy(), notes=notes))
            stopped = buyer.stopped
            if stopped:
                break
    if stopped and len(done) < len(metals):
        left = ", ".join(str(m.job.metal) for m in metals[len(done) :])
        done[-1] = replace(done[-1], notes=(*done[-1].notes, f"Stopped before {left}"))
    seconds = time.monotonic() - began
    return Purchase(
        tuple(done), prices.currency, prices.stock_value, prices.file, seed, seconds, stopped
    )


class _Buyer:
    """Works out the order for one metal."""

    def __init__(
        self,
        metal: OneMetal,
        shop: Shop,
        prices: PriceList,
        stop: StoppingRule,
        seed: int,
        executor: Executor | None,
        on_progress: OnProgress | None,
    ) -> None:
        self.metal, self.shop, self.prices = metal, shop, prices
        self.stop, self.seed, self.executor = stop, seed, executor
        self.on_progress = on_progress
        self.began = time.monotonic()
        self.stopped = False

    def buy(self) -> MetalPurchase:
        """Gather layouts, prove a bound, ask all questions."""
        found = gather(
            self.shop,
            stop=self.stop,
            seed=self.seed,
            executor=self.executor,
            on_progress=self.on_progress,
            clock=self._clock,
        )
        if found.stopped and not found.columns:
            raise StoppedError("Stopped before anything was placed")
        with finishing() as patience:
            self._tell("proving what no order can beat")
            case, bound_by = self._case(found)
            answers = answer(
                case,
                self.seed,
                go_on=lambda: not (found.stopped or patience.interrupted),
                on_question=self._tell,
            )
            result = self._result(found, case, bound_by, answers)
        self.stopped = found.stopped or patience.interrupted
        return result

    def _case(self, found: Found) -> tuple[Case, str]:
        """What is wanted of what can be made, and what no order for it costs less than."""
        parts = self.shop.job.parts
        made = {p for c in found.columns for p, n in enumerate(c.counts) if n}
        wanted = tuple(p.quantity if i in made else 0 for i, p in enumerate(parts))
        bound = bound_of(self.shop, [p.quantity - w for p, w in zip(parts, wanted, strict=True)])
        least = math.ceil(bound.cost - 1e-6)
        offers = tuple(LeastOrder(o.minimum, o.minimum_weight) for o in self.shop.offers)
        delivery = round(100 * self.prices.delivery)
        case = Case(wanted, self.shop.formats, found.columns, offers, delivery, least)
        return case, bound.method

    def _result(self, found: Found, case: Case, bound_by: str, answers: Answers) -> MetalPurchase:
        job, best = self.shop.job, answers.best
        parts = list(zip(job.parts, case.wanted, strict=True))
        reasons = {
            i: found.reasons.get(i, "no layout was found in time")
            for i, (part, wanted) in enumerate(parts)
            if wanted < part.quantity
        }
        if best is None:
            short = "nothing is offered, and what is at hand does not suffice. Add an offer"
            reasons = dict.fromkeys(range(len(parts)), short)
        used = best.used if best else ()
        areas = zip(case.formats, used, strict=False)
        return MetalPurchase(
            metal=job.metal,
            jobs=self.metal.jobs,
            wanted={p.name: w for p, w in parts},
            lines=order_lines(case, best),
            paid=best.paid if best else 0,
            cost=best.cost if best else 0,
            bound=case.bound,
            bound_by=bound_by,
            exact=bool(best and best.exact),
            layouts_found=len(found.layouts),
            parts_area=sum(p.area * w for p, w in parts) if best else 0.0,
            sheets_area=sum(f.area * n for f, n in areas),
            layouts=bought_layouts(self.shop, found, case, best),
            by_number=tuple(_asked("", case, c) for c in answers.by_number),
            alone=tuple(_asked(name, case, c) for name, c in answers.alone),
            missing=tuple(_asked(name, case, c) for name, c in answers.missing),
            unplaced=tuple(
                Unplaced(job.parts[i].name, job.parts[i].quantity, why)
                for i, why in sorted(reasons.items())
            ),
        )

    def _clock(self) -> float:
        return time.monotonic() - self.began

    def _tell(self, phase: str) -> None:
        if self.on_progress is not None:
            wanted = sum(p.quantity for p in self.shop.job.parts)
            self.on_progress(Progress(self._clock(), phase, placed=wanted, wanted=wanted))


def _asked(about: str, case: Case, choice: Choice | None) -> Asked:
    """An answer in the words of an order."""
    if choice is None:
        return Asked(about, (), None)
    pairs = zip(case.formats, choice.packs, strict=True)
    formats = tuple((f.name, n * f.pack) for f, n in pairs if n)
    return Asked(about, formats, choice.cost, choice.exact)


def _shop(metal: OneMetal, prices: PriceList) -> tuple[Shop, tuple[str, ...]]:
    """What is offered of a metal and fits on the machine, and what does not."""
    job = metal.job
    offers = [o for o in prices.offers if metal_key(o.metal) == metal_key(job.metal)]
    fitting = [o for o in (_on_bed(o, job) for o in offers) if o is not None]
    if not fitting and not job.sheets:
        problem = f"nothing is offered of {job.metal}"
        if offers:
            problem = f"no offer of {job.metal} fits on {job.machine.name}"
        raise InputError(Problem(prices.file, "", problem, "Add an offer of this metal"))
    bed = " x ".join(f"{side:g}" for side in job.machine.bed)
    notes = tuple(
        f"{o.name} does not fit, or not in all lengths, on {job.machine.name} ({bed} mm)"
        for o in offers
        if o not in fitting
    )
    return Shop(job, tuple(fitting), prices.stock_value), notes


#: A sheet may be longer than the bed by this much, in mm: inch sizes are often rounded.
_BED_SLACK = 1.0


def _on_bed(offer: Offer, job: Job) -> Offer | None:
    """The offer in those lengths that the machine holds; None if it holds none."""
    longest, shortest = (side + _BED_SLACK for side in (max(job.machine.bed), min(job.machine.bed)))
    lengths = tuple(
        length
        for length in offer.lengths
        if max(length, offer.width) <= longest and min(length, offer.width) <= shortest
    )
    return replace(offer, lengths=lengths) if lengths else None
