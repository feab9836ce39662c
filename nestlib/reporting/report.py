"""The report of a plan: one HTML file that needs nothing else."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from markupsafe import Markup

from nestlib.model import Layout, Plan, Work
from nestlib.reporting import texts
from nestlib.reporting.given_away import given_away
from nestlib.reporting.page import page
from nestlib.reporting.palette import fill
from nestlib.reporting.path_picture import NUMBERED
from nestlib.reporting.picture import hatch_step, layout_svg
from nestlib.reporting.replay import replay_data
from nestlib.reporting.unloading import unloading_figures

#: More violations than this are counted and not listed.
_LISTED = 50


def report_html(plan: Plan, files: Sequence[str]) -> str:
    """Write the report of a plan.

    Parameters
    ----------
    plan : Plan
        With or without its verification.
    files : sequence of str
        Name of the DXF file of each layout, in the same order.

    Returns
    -------
    str
        An HTML document that asks nothing of the network, follows the reader's choice
        of light or dark, prints, and is complete where scripts do not run.

    Raises
    ------
    ValueError
        If there is not one file name for each layout.
    """
    return page(
        title=plan.job.title or "Nest",
        job=plan.job,
        plan=plan,
        check=plan.verification,
        listed=_LISTED,
        data=replay_data(plan),
        numbered=NUMBERED,
        notices=list(_notices(plan)),
        headline=list(_headline(plan)),
        figures=list(_figures(plan)),
        layouts=[_layout(plan, i, file) for i, file in _numbered(plan, files)],
        parts=_parts(plan),
        dated=any(part.due for part in plan.job.parts),
        ordered=any(part.orders for part in plan.job.parts),
        kits=[(kit, parts, plan.layouts_with(*parts)) for kit, parts in plan.kits.items()],
        remnants=list(_remnants(plan)),
        spacing=plan.job.spacing,
    )


def _numbered(plan: Plan, files: Sequence[str]) -> Iterator[tuple[int, str]]:
    for i, (_, file) in enumerate(zip(plan.layouts, files, strict=True)):
        yield i, file


def _notices(plan: Plan) -> Iterator[str]:
    """What people should read first."""
    if plan.stopped:
        yield "The search was stopped early; this is the best that it had found."
    for missing in plan.unplaced:
        pieces = texts.count(missing.quantity, "piece")
        yield f"{missing.part}: {pieces} not placed: {missing.reason}."
    yield from plan.cautions
    for number, layout in enumerate(plan.layouts, start=1):
        for warning in layout.path.warnings:
            yield f"Layout {number}: {warning}"


def _headline(plan: Plan) -> Iterator[tuple[str, str, str]]:
    """Name, value and what belongs to it of what people ask first."""
    currency, bound = plan.job.currency, plan.bound
    if plan.work is not None and plan.work.cost.total is not None:
        yield "Cost of all that is stated", texts.hundredths(plan.work.cost.total, currency), ""
    least = f"no plan can cost less than {texts.money(bound.cost, currency)}"
    known = plan.cost is not None
    yield "Sheets cost", texts.money(plan.cost, currency), least if known else "no price stated"
    yield "Used", texts.share(plan.utilisation), "of the sheets' area becomes parts"
    fewest = texts.count(bound.sheets, "sheet")
    yield "Sheets", str(plan.sheets_used), f"no plan can do with fewer than {fewest}"
    if plan.work is not None:
        yield "Machine time", texts.duration(plan.work.total.seconds), "an estimate"
    wanted = sum(p.quantity for p in plan.job.parts)
    yield "Pieces", str(sum(plan.placed.values())), f"of {wanted} wanted"


def _figures(plan: Plan) -> Iterator[tuple[str, str]]:
    """Names and values of the figures at the head."""
    pieces = sum(plan.placed.values())
    yield "Pieces placed", f"{pieces} of {sum(p.quantity for p in plan.job.parts)}"
    yield "Sheets cut", f"{plan.sheets_used} in {texts.count(len(plan.layouts), 'layout')}"
    yield "No plan can do with fewer than", texts.count(plan.bound.sheets, "sheet")
    yield "Sheet area that becomes parts", texts.share(plan.utilisation)
    yield "Kept as remnants", _of_sheets(plan, plan.remnant_area)
    yield (
        "Lost at arcs, where distances are rounded up",
        _of_sheets(plan, given_away(plan), digits=3),
    )
    yield "Weight of the pieces", f"{plan.weight:.2f} kg"
    if plan.cost is not None:
        currency = plan.job.currency
        yield "Cost of the sheets", texts.money(plan.cost, currency)
        yield "No plan can cost less than", texts.money(plan.bound.cost, currency)
    if plan.net_cost is not None and plan.net_cost != plan.cost:
        yield "Set-ups", texts.money(plan.set_up_cost, currency)
        yield "Remnants are worth", texts.money(plan.remnant_value or 0.0, currency)
        yield "Net cost", texts.money(plan.net_cost, currency)
        yield "No plan can have a net cost below", texts.money(plan.bound.net_cost, currency)
    runs = [(layout, layout.runs) for layout in plan.layouts]
    yield "Cut, with leads", texts.metres(sum(x.path.cut_length * n for x, n in runs))
    joints = sum(x.path.joints * n for x, n in runs)
    if joints:
        yield "Joints to break", str(joints)
    lifts = sum(x.path.lifts * n for x, n in runs)
    way = texts.metres(sum(x.path.lifted_length * n for x, n in runs))
    yield "Lifts of the head", f"{lifts}, over {way}"
    waits = sum(x.path.waiting * n for x, n in runs)
    if waits:
        yield "Waiting for the sheet to cool", texts.duration(waits)
    yield from unloading_figures(plan)
    yield "Pierces", str(sum(x.path.pierces * n for x, n in runs))
    saved = plan.saved_in_all
    if saved is not None:
        yield "Cuts shared by pieces", str(plan.shared_cuts)
        yield "Saved by sharing, against single contours", texts.saved(saved)
    if plan.work is not None:
        yield from _work_figures(plan.work, plan.job.currency)
    if plan.hold:
        yield "Held on the rack", f"{texts.held(plan)}, for {plan.hold}"
    yield "Time of the search", f"{plan.seconds:.1f} s, seed {plan.seed}"


def _work_figures(work: Work, currency: str) -> Iterator[tuple[str, str]]:
    """Times and costs of the whole plan."""
    effort, cost = work.total, work.cost
    yield "Machine time, estimate", texts.duration(effort.seconds)
    yield "of it cutting", texts.duration(effort.cutting)
    yield "of it piercing", texts.duration(effort.piercing)
    yield "of it etching", texts.duration(effort.marking)
    yield "of it rapids and lifts", texts.duration(effort.moving)
    yield "Assist gas, estimate", texts.gas(effort.gas)
    yield "Cost of machine time", texts.hundredths(cost.machine, currency)
    yield "Cost of gas", texts.hundredths(cost.gas, currency)
    yield "Cost of all that is stated", texts.hundredths(cost.total, currency)


def _of_sheets(plan: Plan, area: float, digits: int = 1) -> str:
    whole = plan.sheet_area
    return f"{100 * area / whole if whole else 0.0:.{digits}f} % of the sheets"


def _layout(plan: Plan, index: int, file: str) -> dict[str, Any]:
    """What the report says about one layout."""
    layout = plan.layouts[index]
    found = plan.verification.violations[:_LISTED] if plan.verification else ()
    faults = [fault for fault in found if fault.layout == file]
    return {
        "number": index + 1,
        "file": file,
        "layout": layout,
        "size": texts.size(*layout.sheet.size),
        "used": texts.share(_used(plan, layout)),
        "seconds": None if plan.work is None else plan.work.layouts[index].seconds,
        "cost": None if plan.work is None else plan.work.layout_costs[index].total,
        "svg": Markup(layout_svg(layout, plan.job, prefix=f"layout-{index + 1}", faults=faults)),
        "parts": _listed(plan, index),
        "legend": list(_legend(layout, any(fault.place for fault in faults))),
    }


def _legend(layout: Layout, faulty: bool) -> Iterator[tuple[str, float, str, str]]:
    """Colour, width and dashes of each kind of line on a layout, and what it is."""
    path, roles = layout.path, {cut.role for cut in layout.path.cuts}
    yield "--edge", 2, "", "contour"
    if "shared" in roles:
        yield "--shared", 3, "9 2", "shared cut"
    if "mark" in roles:
        yield "--edge", 1.5, "2 2", "mark"
    if "skeleton" in roles:
        yield "--last", 1.6, "12 2 2 2", "cut in the skeleton"
    if "cut_off" in roles:
        yield "--last", 2.6, "12 2 2 2", "cut that frees a remnant"
    if path.joints:
        yield "--joint", 6, "0.1 9", "joint, left uncut"
    if path.cuts:
        yield "--lead", 1.5, "", "lead; a dot where the beam pierces"
        yield "--rapid", 1.5, "3 3", "rapid"
    if path.lifts:
        yield "--rapid", 1.5, "1 4", "rapid with the head lifted"
    if faulty:
        yield "--bad", 4, "", "cross: a rule is broken there"


def _listed(plan: Plan, index: int) -> list[dict[str, Any]]:
    """The parts on a layout, with the fill that its picture gives them."""
    layout = plan.layouts[index]
    numbered = [(i, p.name) for i, p in enumerate(plan.job.parts) if p.name in layout.counts]
    side = f"{8 * hatch_step(layout.sheet):.4g}"
    return [
        {
            "name": name,
            "pieces": layout.counts[name],
            "fill": f"url(#layout-{index + 1}-fill-{place})" if fill(i)[1] else fill(i)[0],
            "swatch": f"{side} {side}",
        }
        for place, (i, name) in enumerate(numbered)
    ]


def _used(plan: Plan, layout: Layout) -> float:
    """Share of one sheet that becomes pieces."""
    area = {p.name: p.area for p in plan.job.parts}
    return sum(area[name] * n for name, n in layout.counts.items()) / layout.sheet.area


def _parts(plan: Plan) -> list[dict[str, Any]]:
    """Rows of the table of parts."""
    return [
        {
            "name": part.name,
            "wanted": part.quantity,
            "placed": plan.placed[part.name],
            "filler": part.filler,
            "due": "" if part.due is None else part.due.isoformat(),
            "layouts": plan.layouts_with(part.name),
            "last": max(plan.layouts_with(part.name), default=""),
            "orders": ", ".join(f"{o.line} ({o.quantity})" for o in part.orders),
            "size": texts.size(*part.size),
            "weight": plan.job.metal.weight(part.area),
            "source": part.source.file if part.source else "",
            "own": plan.work and texts.duration(plan.work.parts[part.name].beam),
            "cost": plan.work and _cost_of(plan, part.name),
            "short": plan.placed[part.name] < part.quantity and not part.filler,
        }
        for part in plan.job.parts
    ]


def _cost_of(plan: Plan, part: str) -> str:
    """What all placed pieces of a part cost, and one of them."""
    assert plan.work is not None
    total, number = plan.work.part_costs[part].total, plan.placed[part]
    text = texts.hundredths(total, plan.job.currency)
    return text if total is None or number < 2 else f"{text} ({total / number / 100:.2f} each)"


def _remnants(plan: Plan) -> Iterator[dict[str, Any]]:
    """Rows of the table of remnants."""
    for number, layout in enumerate(plan.layouts, start=1):
        for remnant in layout.remnants:
            x0, y0, x1, y1 = remnant.outline.bounds
            yield {
                "name": remnant.name,
                "layout": number,
                "sheet": layout.sheet.name,
                "runs": layout.runs,
                "size": texts.size(x1 - x0, y1 - y0),
                "area": remnant.area / 1e6,
                "heat": layout.sheet.heat,
            }
