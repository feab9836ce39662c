"""What a purchaser is told in sentences: what it costs, why it is this order, what to heed."""

from __future__ import annotations

from collections.abc import Iterator

from nestlib.model import Asked, MetalPurchase, Purchase
from nestlib.reporting import texts
from nestlib.reporting.purchase_tables import ordered

#: Leftovers that are told one by one.
_LEFTOVERS = 6

#: Holds for every order that is worked out from a list.
CAUTIONS = (
    "Prices, leads and what can be had are as the price list states them: ask the supplier"
    " before you order.",
    "The order rests on layouts that nobody has verified: nest the jobs on the sheets that"
    " come (nestlib nest) before anything is cut.",
    "Leftovers are told and not counted.",
    "Sheets are heavy and their edges are sharp: order them in packs that your crane and rack"
    " can hold. What their makers, local codes and licensed people say comes first.",
)


def title(purchase: Purchase) -> str:
    """Return what the page of a purchase is called."""
    jobs = dict.fromkeys(job for metal in purchase.metals for job in metal.jobs)
    return f"Which sheets to order: {', '.join(jobs)}" if jobs else "Which sheets to order"


def notices(purchase: Purchase) -> Iterator[str]:
    """Yield what has to be read first."""
    if purchase.stopped:
        yield "Stopped early: this is the best so far."
    yield from (f"{note}." for note in purchase.notes)
    for metal in purchase.metals:
        for missing in metal.unplaced:
            pieces = texts.count(missing.quantity, "piece")
            yield f"Not bought for: {pieces} of {missing.part}: {missing.reason}."
        for note in metal.notes:
            yield f"{metal.metal}: {note}."


def figures(metal: MetalPurchase, currency: str) -> Iterator[tuple[str, str, str]]:
    """Yield name and value of what is asked first, and what belongs to it."""
    delivery = delivered(metal)
    beside = f"delivery {texts.hundredths(delivery, currency)} included" if delivery else ""
    yield "To pay", texts.hundredths(metal.paid, currency), beside
    if metal.paid != metal.cost:
        stock = "with what the stock gains or loses"
        yield "Cost", texts.hundredths(metal.cost, currency), stock
    saving = f"at most {texts.share(metal.gap)} of the cost could be saved"
    proved = saving if metal.cost > metal.bound else "the order costs no more"
    yield "No order costs less than", texts.hundredths(metal.bound, currency), proved
    sheets = sum(line.sheets for line in metal.lines)
    yield "Ordered", texts.kilograms(metal.weight), texts.count(sheets, "sheet")
    yield "Used", texts.share(metal.utilisation), "of the sheets that are cut becomes parts"


def delivered(metal: MetalPurchase) -> int:
    """Return what is paid besides the sheets, in hundredths."""
    return metal.paid - sum(line.amount for line in metal.lines)


def reasons(metal: MetalPurchase, purchase: Purchase) -> Iterator[str]:
    """Yield why it is this order, and how its cost rises with another."""
    currency = purchase.currency
    yield from _best(metal, currency)
    for number, asked in enumerate(metal.by_number[:-1], start=1):
        yield _said(f"With at most {texts.count(number, 'format')}", asked, metal, currency)
    for asked in metal.missing:
        yield _said(f"If {asked.about} cannot be had", asked, metal, currency)
    if metal.paid != metal.cost:
        yield f"Sheets in stock count with {texts.share(purchase.stock_value)} of their price."
    yield f"No order costs less than {bound_line(metal, currency)}"
    yield proof_line(metal)
    yield from _chance(metal)
    left = leftover_line(metal)
    yield f"{left[0].upper()}{left[1:]}."


def _best(metal: MetalPurchase, currency: str) -> Iterator[str]:
    if metal.lines and not any(line.sheets for line in metal.lines):
        yield "Nothing has to be ordered: what is at hand suffices."
    elif metal.lines:
        what = ordered((line.format, line.sheets) for line in metal.lines if line.sheets)
        cost = texts.hundredths(metal.cost, currency)
        yield f"The best order that was found: {what}, at a cost of {cost}."


def _said(condition: str, asked: Asked, metal: MetalPurchase, currency: str) -> str:
    if asked.cost is None:
        return f"{condition}, not all pieces can be made."
    more = asked.cost - metal.cost
    rise = f"{texts.hundredths(more, currency)} more" if more else "no more"
    return f"{condition}: {ordered(asked.formats)}, which costs {rise}."


def _chance(metal: MetalPurchase) -> Iterator[str]:
    row = next((s for s in metal.services if s.service == metal.service), None)
    if row is not None:
        short = f"{texts.share(row.short)} ± {100 * row.error:.1f} %"
        yield (
            f"It is bought so that each part by itself suffices with a chance of"
            f" {texts.share(row.service)}; any of them is short with one of {short}."
        )


def bound_line(metal: MetalPurchase, currency: str) -> str:
    """Return what no order costs less than, how far that is below, and what proves it."""
    bound = texts.hundredths(metal.bound, currency)
    return f"{bound} ({texts.share(metal.gap)} below): {metal.bound_by}."


def proof_line(metal: MetalPurchase) -> str:
    """Return what the order was chosen from, and whether it is the best of that."""
    found = texts.count(metal.layouts_found, "layout")
    proof = "none cheaper" if metal.exact else "a cheaper one is not ruled out"
    return f"Chosen from {found}: of orders for these, {proof}."


def leftover_line(metal: MetalPurchase) -> str:
    """Return what is left that is worth keeping."""
    left = [x.leftover for x in metal.layouts for _ in range(x.runs) if x.leftover]
    if not left:
        return "no leftover worth keeping"
    more = " …" if len(left) > _LEFTOVERS else ""
    return f"leftovers: {', '.join(texts.size(*sides) for sides in left[:_LEFTOVERS])}{more}"
