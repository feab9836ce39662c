"""Which sheets of the rack a job may take, or several jobs that one buys for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from nestlib.errors import Problem, StockError
from nestlib.model import Contour, Job, Sheet
from nestlib.one_metal import metal_key
from nestlib.stock import Rack, Stocked, Terms, Wanted, today
from nestlib.stock.choosing import choose


@dataclass(frozen=True)
class OnRack:
    """What lies on the rack for a job.

    Parameters
    ----------
    sheets : tuple of Sheet
        At what taking them costs, remnants first.
    currency : str
        In which they are priced.
    remnant_worth : float
        Share of its price that a new remnant is worth, as the rack says.
    left_out : tuple of str
        What fits and is priced in another currency.
    """

    sheets: tuple[Sheet, ...]
    currency: str
    remnant_worth: float
    left_out: tuple[str, ...]


def on_rack(
    job: Job, rack: Rack, *, document: str | None = None, stated_by: str = "the job"
) -> OnRack:
    """Return the free sheets of the rack that a job may take.

    Parameters
    ----------
    job : Job
        Its metal, machine and parts say which items fit: see `nestlib.stock.choosing`.
    rack : Rack
        Where from.
    document : str, optional
        Type of the inspection document by EN 10204 that the metal needs at least.
    stated_by : str
        What states the currency, for what is told of items in another one.
    """
    metal, terms, day = job.metal, rack.terms, today()
    wanted = Wanted(metal.material.name, metal.thickness, document=document, free=True)
    free = rack.items(wanted)
    currency = job.currency or next((i.currency for i in free if i.currency), "")
    smallest = min((part.size for part in job.parts), key=lambda size: (min(size), max(size)))
    same = [i for i in free if i.currency in ("", currency)]
    other = [i for i in free if i.currency not in ("", currency)]
    chosen = choose(same, smallest, job.machine.bed, terms, day)
    left = choose(other, smallest, job.machine.bed, terms, day)
    outlines = rack.outlines(item.id for item in chosen)
    return OnRack(
        tuple(_sheet(item, outlines[item.id], terms.cost(item, day)) for item in chosen),
        currency,
        _share(chosen, terms),
        tuple(_left_out(item, stated_by, job.currency, currency) for item in left),
    )


def job_from_stock(job: Job, rack: Rack, *, document: str | None = None) -> Job:
    """Return a job with the free sheets of the rack in place of its own.

    Each sheet costs what taking it costs (`nestlib.stock.worth`), and remnants that a job
    says nothing about are worth what the rack says.

    Parameters
    ----------
    job : Job
        Its metal, machine and parts say which items fit: see `nestlib.stock.choosing`. What
        is priced in another currency is left out; a job that states none gets the rack's.
    rack : Rack
        Where from.
    document : str, optional
        Type of the inspection document by EN 10204 that the metal needs at least.

    Raises
    ------
    StockError
        If nothing on the rack fits.
    """
    return with_sheets_of(job, on_rack(job, rack, document=document), rack, document)


def with_sheets_of(job: Job, there: OnRack, rack: Rack, document: str | None) -> Job:
    """Return a job with what lies on the rack for it.

    Raises
    ------
    StockError
        If that is nothing.
    """
    if not there.sheets:
        raise StockError(Problem(rack.place, "", *_nothing(job, document, there.left_out)))
    worth = job.money.remnant_worth or there.remnant_worth
    money = replace(job.money, remnant_worth=worth)
    return replace(job, sheets=there.sheets, money=money, currency=there.currency)


def jobs_to_buy_for(
    jobs: Sequence[Job], rack: Rack, *, currency: str = "", document: str | None = None
) -> tuple[list[Job], tuple[str, ...]]:
    """Return jobs at whose hand lies what the rack has for them, and what was left out.

    Jobs of one metal and thickness share what lies there, so the first of them gets it; what
    the rack does not have is bought. Nothing is held.

    Parameters
    ----------
    jobs : sequence of Job
        Their own sheets are left out.
    rack : Rack
        What is at hand.
    currency : str
        Of the price list: what is priced in another is left out.
    document : str, optional
        Type of the inspection document by EN 10204 that the metal needs at least.

    Returns
    -------
    list of Job
        In the same order.
    tuple of str
        What fits and was left out for its currency.
    """
    groups: dict[tuple[str, float], list[Job]] = {}
    for job in jobs:
        groups.setdefault(metal_key(job.metal), []).append(job)
    at_hand: dict[tuple[str, float], tuple[Sheet, ...]] = {}
    left_out: list[str] = []
    for key, group in groups.items():
        every = tuple(part for job in group for part in job.parts)
        if every:
            whole = replace(group[0], parts=every, currency=currency)
            there = on_rack(whole, rack, document=document, stated_by="the price list")
            at_hand[key] = there.sheets
            left_out += there.left_out
    # The first job of a metal takes what lies there, and the others find nothing more.
    ready = [replace(job, sheets=at_hand.pop(metal_key(job.metal), ())) for job in jobs]
    return ready, tuple(left_out)


def _left_out(item: Stocked, by: str, stated: str, taken: str) -> str:
    """Say why an item that fits was left out: amounts of two currencies have no sum."""
    why = f"{by} is in {stated}" if stated else f"{by} states none and {taken} came first"
    return f"{item.free} x {item.code} left out: priced in {item.currency}, {why}"


def _nothing(job: Job, document: str | None, left_out: Sequence[str]) -> tuple[str, str]:
    """What is wrong where nothing fits, and what to do."""
    papers = f" with document {document} or better" if document else ""
    problem = f"nothing on the rack fits: no free {job.metal} that takes a part{papers}"
    if left_out:
        return f"{problem}; {'; '.join(left_out)}", "Price the job in the currency of the rack"
    remedy = "nestlib stock list shows what there is; without --from-stock the job's own serve"
    return problem, remedy


def _sheet(item: Stocked, contours: Sequence[Contour], cost: float | None) -> Sheet:
    return Sheet(
        name=item.code,
        outline=contours[0],
        holes=tuple(contours[1:]),
        quantity=item.free,
        grain=item.grain,
        cost=cost,
        remnant=bool(item.remnant),
        heat=item.heat,
        item=item.code,
    )


def _share(chosen: list[Stocked], terms: Terms) -> float:
    """Which share of its price a new remnant is worth: for the mean of the sheets offered."""
    priced = [item for item in chosen if item.price]
    price = sum(item.price or 0.0 for item in priced)
    area = sum(item.area for item in priced)
    return terms.share_of(price, area)
