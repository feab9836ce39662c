"""Do the quantities and figures of a plan add up?"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from nestlib.model import Contour, Violation
from nestlib.verifying.curves import Curve
from nestlib.verifying.written import WrittenLayout, WrittenPlan

#: Figures may differ by this share, since plans may round them.
_ROUNDING = 1e-5


def check_counts(plan: WrittenPlan) -> Iterator[Violation]:
    """Check that the pieces and the sheets add up.

    Parameters
    ----------
    plan : WrittenPlan
        As written.

    Yields
    ------
    Violation
    """
    if not plan.layouts:
        yield _whole("nothing-placed", "no piece was placed: there is nothing to cut")
    placed: Counter[str] = Counter()
    for layout in plan.layouts:
        for placement in layout.placements:
            placed[placement.part] += layout.runs
    unplaced: Counter[str] = Counter()
    for name, quantity in plan.unplaced:
        unplaced[name] += quantity
    for name in unplaced.keys() - plan.parts.keys():
        yield _whole("unknown-part", f"'{name}' is listed as unplaced but is no part of the plan")
    for name, written in plan.parts.items():
        yield from _part(plan, name, placed[name], unplaced[name])
        if written.placed != placed[name]:
            text = f"'{name}': the layouts hold {placed[name]}, the plan says {written.placed}"
            yield _whole("quantity-differs", text)
    yield from _sheets(plan)


def check_figures(plan: WrittenPlan) -> Iterator[Violation]:
    """Check areas, utilisation, weight and cost against the contours.

    Parameters
    ----------
    plan : WrittenPlan
        As written.

    Yields
    ------
    Violation
    """
    areas = {name: _area(w.part.outer, w.part.inners) for name, w in plan.parts.items()}
    for name, written in plan.parts.items():
        yield from _figure(f"area of '{name}'", written.area, areas[name], "")
    parts_total = sheets_total = cost = 0.0
    for layout in plan.layouts:
        parts = sum(areas[p.part] for p in layout.placements)
        sheet = _area(layout.sheet.outline, layout.sheet.holes)
        used = parts / sheet if sheet else 0.0
        yield from _figure("utilisation", layout.utilisation, used, layout.dxf)
        yield from _pierces(layout)
        parts_total += parts * layout.runs
        sheets_total += sheet * layout.runs
        cost += (layout.sheet.cost or 0.0) * layout.runs
    used = parts_total / sheets_total if sheets_total else 0.0
    yield from _figure("utilisation", plan.utilisation, used, "")
    weight = parts_total * plan.thickness * plan.density * 1e-6
    yield from _figure("weight", plan.weight, weight, "")
    if plan.cost is not None:
        yield from _figure("cost", plan.cost, cost, "")
    yield from _money(plan)


def _money(plan: WrittenPlan) -> Iterator[Violation]:
    """Check set-ups, what remnants are worth, and what all of it costs."""
    if plan.set_up_cost is not None:
        yield from _figure("set_up_cost", plan.set_up_cost, plan.set_up * len(plan.layouts), "")
    if plan.remnant_value is not None:
        value = 0.0
        for r in plan.remnants:
            sheet = plan.sheets[r.sheet]
            share = _area(r.outline, ()) / _area(sheet.outline, sheet.holes)
            value += plan.remnant_worth * (sheet.cost or 0.0) * share * r.runs
        yield from _figure("remnant_value", plan.remnant_value, value, "")
    known = (plan.cost, plan.set_up_cost, plan.remnant_value)
    if plan.net_cost is not None and None not in known:
        cost, set_ups, kept = (k or 0.0 for k in known)
        yield from _figure("net_cost", plan.net_cost, cost + set_ups - kept, "")


def check_bound(plan: WrittenPlan) -> Iterator[Violation]:
    """Check that the plan itself does not beat what no plan can beat.

    A plan with pieces missing may, so only a whole one is checked.

    Parameters
    ----------
    plan : WrittenPlan
        As written.

    Yields
    ------
    Violation
    """
    if plan.unplaced:
        return
    used = sum(layout.runs for layout in plan.layouts)
    if plan.least_sheets > used:
        text = f"no plan is said to need fewer than {plan.least_sheets} sheets, this one has {used}"
        yield _whole("bound-too-high", text)
    money = (("cost", plan.cost, plan.least_cost), ("net cost", plan.net_cost, plan.least_net_cost))
    for what, cost, least in money:
        if cost is not None and least is not None and least > cost + _ROUNDING * max(1.0, cost):
            text = f"no plan is said to have a lower {what} than {least:g}, this one has {cost:g}"
            yield _whole("bound-too-high", text)


def _part(plan: WrittenPlan, name: str, placed: int, unplaced: int) -> Iterator[Violation]:
    part = plan.parts[name].part
    if placed > part.quantity:
        text = f"'{name}': {placed} placed, and only {part.quantity} wanted"
        yield _whole("too-many-pieces", text)
    elif placed + unplaced != part.quantity and not part.filler:
        text = (
            f"'{name}': {placed} placed and {unplaced} unplaced do not make "
            f"the {part.quantity} wanted"
        )
        yield _whole("pieces-lost", text)


def _sheets(plan: WrittenPlan) -> Iterator[Violation]:
    used: Counter[str] = Counter()
    for layout in plan.layouts:
        used[layout.sheet.name] += layout.runs
    for name, n in used.items():
        on_hand = plan.sheets[name].quantity
        if on_hand is not None and n > on_hand:
            yield _whole("too-many-sheets", f"'{name}': {n} cut, and only {on_hand} on hand")


def _pierces(layout: WrittenLayout) -> Iterator[Violation]:
    pierces = sum(1 + len(cut.joints) for cut in layout.path if cut.role != "mark")
    if pierces != layout.pierces:
        text = f"the plan says {layout.pierces} pierces, its path has {pierces}"
        yield Violation("figure-differs", layout.dxf, text)


def _figure(what: str, said: float, true: float, file: str) -> Iterator[Violation]:
    if abs(said - true) > _ROUNDING * max(1.0, abs(true)):
        text = f"{what}: the plan says {said:g}, its contours give {true:g}"
        yield Violation("figure-differs", file, text)


def _area(outer: Contour, holes: tuple[Contour, ...]) -> float:
    return _enclosed(outer) - sum(_enclosed(h) for h in holes)


def _enclosed(contour: Contour) -> float:
    return abs(Curve.of(contour).area)


def _whole(code: str, text: str) -> Violation:
    return Violation(code, "", text)
