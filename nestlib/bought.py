"""A choice of layouts in the words of an order: lines, sheets to cut, what is left of them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from nestlib.buying.choice import Choice
from nestlib.buying.choosing import Case
from nestlib.buying.formats import Format, holders
from nestlib.for_packer import placement_of
from nestlib.geometry import placed
from nestlib.layouts_to_buy import Found, Shop
from nestlib.model import BoughtLayout, Contour, Placement, PurchaseLine, Schedule, Sheet
from nestlib.model.forecast import week_later, week_number
from nestlib.packing import PackedSheet, leftover


def order_lines(
    case: Case, choice: Choice | None, first_week: str = "", schedule: Schedule | None = None
) -> tuple[PurchaseLine, ...]:
    """Return what is ordered, and what is used of what is at hand.

    Parameters
    ----------
    case : Case
        Its formats.
    choice : Choice or None
        What was chosen; None for nothing.
    first_week : str
        The first in which anything is wanted, if that is known.
    schedule : Schedule, optional
        What is ordered when, where weeks are planned.
    """
    if choice is None:
        return ()
    lines = []
    for f, n, used in zip(case.formats, choice.packs, choice.used, strict=True):
        if n or used:
            order_by = _order_by(f, first_week, schedule) if n else ""
            terms = f.price, f.weight, f.lead, f.at_hand, order_by
            lines.append(PurchaseLine(f.name, f.size, n * f.pack, f.pack, used, *terms))
    return tuple(lines)


def _order_by(form: Format, first_week: str, schedule: Schedule | None) -> str:
    """The week of its first order: as planned, or early enough for the first week."""
    weeks = () if schedule is None else schedule.weeks
    planned = (row.week for row in weeks if form.name in dict(row.ordered))
    week = next(planned, "") or week_later(first_week, -form.lead)
    # Before week 1 of weeks that are only numbered there is none that has a name.
    return week if week_number(week)[1] >= 1 else ""


def bought_layouts(
    shop: Shop, found: Found, case: Case, choice: Choice | None
) -> tuple[BoughtLayout, ...]:
    """Return what is cut from what, and what is left of it.

    Parameters
    ----------
    shop : Shop
        Parts and sheets.
    found : Found
        Layouts, as the columns of the choice count them.
    case : Case
        Its formats.
    choice : Choice or None
        What was chosen; None for nothing.
    """
    if choice is None:
        return ()
    areas = [part.area for part in shop.job.parts]
    layouts = []
    for form, layout, runs in _on_sheets(found, case, choice):
        area = sum(areas[p.shape] for p in layout.placements)
        at = tuple(placement_of(shop.job.parts[p.shape], p) for p in layout.placements)
        pieces = dict(Counter(p.part for p in at))
        left = _left(shop, form, at)
        name, share = case.formats[form].name, area / case.formats[form].area
        layouts.append(BoughtLayout(name, runs, pieces, share, left, at))
    return tuple(layouts)


def _on_sheets(found: Found, case: Case, choice: Choice) -> Iterator[tuple[int, PackedSheet, int]]:
    """Each layout with the sheets that it is cut from: the shortest left that hold it."""
    left = list(choice.used)
    # What needs the longest sheets chooses first, or there may be none left for it.
    for column, runs in sorted(choice.runs, key=lambda pair: -pair[0].format):
        for form in holders(case.formats, column.format):
            take = min(runs, left[form])
            if take:
                left[form] -= take
                runs -= take
                yield form, found.layouts[column.layout], take


def _left(shop: Shop, form: int, at: tuple[Placement, ...]) -> tuple[float, float] | None:
    """Sides of what one straight cut can save."""
    job = shop.job
    used = [placed(job.part(p.part).outer, p) for p in at]
    sheet = (
        job.sheets[form]
        if form < len(job.sheets)
        else Sheet("", Contour.rectangle(*shop.formats[form].size))
    )
    remnant = leftover(sheet, used, job.spacing, job.remnant_size, "")
    if remnant is None:
        return None
    x0, y0, x1, y1 = remnant.outline.bounds
    return x1 - x0, y1 - y0
