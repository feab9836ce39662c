"""What to buy for some jobs: layouts on all formats, then small programs over them."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import replace

from nestlib.buyer import Buyer, Terms
from nestlib.errors import InputError, Problem
from nestlib.layouts_to_buy import Shop, compile_first
from nestlib.model import (
    ForecastRow,
    Job,
    MetalPurchase,
    Offer,
    PriceList,
    Progress,
    Purchase,
)
from nestlib.nesting import USUAL_STOP, executor_of
from nestlib.one_metal import OneMetal, by_metal, metal_key
from nestlib.packing import StoppingRule
from nestlib.soundness import demand_sound
from nestlib.wanted import Wanted, demand_known, wanted_of

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
    forecast: Sequence[ForecastRow] = (),
    past: Sequence[ForecastRow] = (),
    scrap: float = 0.0,
    service: float | None = None,
    shortage: float | None = None,
    weekly: bool = False,
    order_from: str = "",
) -> Purchase:
    """Work out what to order for one job or several.

    Parameters
    ----------
    jobs : Job or sequence of Job
        Their sheets whose number is given, and their remnants, are at hand and need not be
        bought; those of which there are as many as needed do not count. A job may have none.
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
    forecast : sequence of ForecastRow
        How many are wanted of each part, in place of the quantities of the jobs: of a part
        that it does not name, none.
    past : sequence of ForecastRow
        Weeks that are over; each week to come may be like any of them.
    scrap : float
        Chance that a piece is scrap, 0 to below 1; so many more are cut.
    service : float, optional
        Chance with which each part shall suffice, where demand or scrap are left to chance;
        by default 0.95, or what is cheapest with `shortage`.
    shortage : float, optional
        Cost of each piece that is short, in the list's currency.
    weekly : bool
        Whether orders and cutting are planned week by week too.
    order_from : str
        Week in which the first order can be made, as `ForecastRow.week`; by default early
        enough for everything.

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
        demand_sound(job, sheets=False)  # what is not at hand is bought
    if not at_hand:
        jobs = [replace(job, sheets=()) for job in jobs]
    began = time.monotonic()
    metals = by_metal(jobs)
    demand_known(metals, (*forecast, *past))
    wanted = [wanted_of(metal, forecast, past) for metal in metals]
    metals, wanted = _needed(metals, wanted)
    shops = [_shop(metal, prices) for metal in metals]
    terms = Terms(prices, scrap, service, shortage, weekly, order_from)
    done: list[MetalPurchase] = []
    stopped = False
    compile_first(on_progress)
    with executor_of(workers) as executor:
        for metal, wish, (shop, notes) in zip(metals, wanted, shops, strict=True):
            buyer = Buyer(metal, shop, wish, terms, stop or USUAL_STOP, seed, executor, on_progress)
            result = buyer.buy()
            done.append(replace(result, notes=(*result.notes, *notes)))
            stopped = buyer.stopped
            if stopped:
                break
    if stopped and len(done) < len(metals):
        left = ", ".join(str(m.job.metal) for m in metals[len(done) :])
        done[-1] = replace(done[-1], notes=(*done[-1].notes, f"Stopped before {left}"))
    seconds = time.monotonic() - began
    return Purchase(
        tuple(done),
        prices.currency,
        prices.stock_value,
        prices.file,
        seed,
        seconds,
        stopped,
        terms.settings,
    )


def _needed(
    metals: Sequence[OneMetal], wanted: Sequence[Wanted]
) -> tuple[list[OneMetal], list[Wanted]]:
    """Metals of which anything may be wanted."""
    pairs = [(m, w) for m, w in zip(metals, wanted, strict=True) if w.high.any()]
    if not pairs:
        raise InputError(Problem("", "", "nothing is wanted", "Ask for one piece or more"))
    return [m for m, _ in pairs], [w for _, w in pairs]


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
