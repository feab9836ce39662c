"""Tables for the terminal: in colour where there is one, plain when piped."""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any, Protocol

from rich.console import Console
from rich.table import Table
from rich.text import Text

from nestlib.model import CutSetting, Drawing, Finding, Machine, Plan, Verification, Work
from nestlib.reporting import texts
from nestlib.reporting.screen import add_row, new_console, new_table, say
from nestlib.reporting.unloading import unloading_figures

#: More violations than this are counted and not listed.
_LISTED = 20


class Capability(Protocol):
    """What a machine can do with one metal family."""

    @property
    def family(self) -> str:
        """Metal family."""

    @property
    def thickness(self) -> float | None:
        """Greatest thickness in mm; None if the metal cannot be cut."""

    @property
    def known(self) -> bool:
        """Whether the machine says anything about the family."""

    @property
    def bands(self) -> tuple[CutSetting, ...]:
        """Rows of the cutting table."""


def print_plan(
    plan: Plan,
    folder: str | Path,
    *,
    known: Container[str] = (),
    console: Console | None = None,
) -> None:
    """Print the figures of a plan: layouts, parts that are missing, and the verdict.

    Parameters
    ----------
    plan : Plan
        With its verification.
    folder : path-like
        Where it was written.
    known : container of str
        Cautions that were printed before; they are left out.
    console : rich.console.Console, optional
        Where to print; the standard output by default.
    """
    out = console or new_console()
    say(out, f"{plan.job.title} · {plan.job.metal} · {plan.job.machine.title}", "bold")
    table = new_table(
        "", ">Layout", "Sheet", ">Runs", ">Pieces", ">Used", ">Cut", ">Pierces", ">Time"
    )
    area = {p.name: p.area for p in plan.job.parts}
    for number, layout in enumerate(plan.layouts, start=1):
        used = sum(area[name] * n for name, n in layout.counts.items()) / layout.sheet.area
        path = layout.path
        add_row(
            table, number, f"{layout.sheet.name} ({texts.size(*layout.sheet.size)})", layout.runs,
            len(layout.placements), texts.share(used), texts.metres(path.cut_length), path.pierces,
            "" if plan.work is None else texts.duration(plan.work.layouts[number - 1].seconds),
        )  # fmt: skip
    if plan.layouts:
        out.print(table)
    for line in _plan_lines(plan):
        say(out, line)
    for line in _missing_lines(plan):
        say(out, line, "yellow")
    for caution in (c for c in plan.cautions if c not in known):
        say(out, f"Caution: {caution}", "yellow")
    for number, layout in enumerate(plan.layouts, start=1):
        for warning in layout.path.warnings:
            say(out, f"Layout {number}: {warning}", "yellow")
    if plan.stopped:
        say(out, "Stopped early: this is the best so far.", "yellow")
    if plan.verification is not None:
        print_verification(plan.verification, console=out)
    say(out, f"Written to {folder}: open report.html there.")


def print_verification(check: Verification, *, console: Console | None = None) -> None:
    """Print the verdict on a written plan, and each rule that it breaks.

    Parameters
    ----------
    check : Verification
        As `nestlib.verifying.verify` returns it.
    console : rich.console.Console, optional
        Where to print.
    """
    out = console or new_console()
    if check.passed:
        kept = texts.count(check.pieces, "piece keeps every rule", "pieces keep every rule")
        say(out, f"Verified: {kept}.", "green")
    else:
        broken = texts.count(len(check.violations), "rule is broken", "rules are broken")
        say(out, f"NOT VERIFIED: {broken}. Do not cut this plan.", "bold red")
    for v in check.violations[:_LISTED]:
        place = f" at ({v.place[0]:.1f}, {v.place[1]:.1f})" if v.place else ""
        where = f"{v.layout}: " if v.layout else ""
        say(out, f"  {v.code}: {where}{v.message}{place}", "red")
    if len(check.violations) > _LISTED:
        say(out, f"  and {len(check.violations) - _LISTED} more")
    say(
        out,
        f"Smallest distance between pieces {texts.millimetres(check.between_parts)}, "
        f"to an edge {texts.millimetres(check.to_edge)}; "
        f"largest deviation {check.largest_deviation:.6f} mm.",
    )
    for note in check.notes:
        say(out, f"Note: {note}")


def print_check(
    drawing: Drawing, findings: Iterable[Finding], *, console: Console | None = None
) -> None:
    """Print what a drawing holds, what was found in it and what is left out.

    Parameters
    ----------
    drawing : Drawing
        As it was read.
    findings : iterable of Finding
        As `nestlib.drawings.check_drawing` returns them.
    console : rich.console.Console, optional
        Where to print.
    """
    out = console or new_console()
    given = {"file": "as the file says", "user": "as you say", "job": "which the file does not say"}
    source = given.get(drawing.units_from, drawing.units_from)
    say(out, f"{drawing.file} · {drawing.version} · {drawing.units}, {source}", "bold")
    table = new_table("", "Part", ">Pieces", ">Size", ">Area", ">Cut", ">Pierces", ">Marks")
    for part in drawing.parts:
        add_row(
            table, part.name, part.quantity, texts.size(*part.size), f"{part.area:.1f} mm²",
            f"{part.cut_length:.1f} mm", part.pierces, len(part.marks),
        )  # fmt: skip
    if drawing.parts:
        out.print(table)
    styles = {"error": "bold red", "warning": "yellow"}
    for found in findings:
        say(out, f"{found.level} {found.code}: {_about(found)}", styles.get(found.level, ""))
        if found.remedy:
            say(out, f"    {found.remedy}")
    for left in drawing.left_out:
        layer = f" on layer {left.layer}" if left.layer else ""
        say(out, f"left out: {left.count} {left.kind}{layer}: {left.reason}", "dim")


def print_capabilities(
    machine: Machine, rows: Sequence[Capability], *, console: Console | None = None
) -> None:
    """Print what a machine can cut, row by row of its table.

    Parameters
    ----------
    machine : Machine
        The machine.
    rows : sequence of Capability
        One for each metal family, as `nestlib.metals.capabilities` returns them.
    console : rich.console.Console, optional
        Where to print.
    """
    out = console or new_console()
    bed = texts.size(*machine.bed)
    say(out, f"{machine.name}: {machine.title}", "bold")
    say(out, f"{machine.beam}, {machine.power:g} W, sheets up to {bed}")
    table = new_table("", "Metal", ">Up to mm", "Gas", ">Slot mm", ">mm/min", ">Pierce s")
    for row in rows:
        if row.thickness is None:
            why = "not cut" if row.known else "not stated"
            add_row(table, row.family, why, "", "", "", "")
        for band in row.bands:
            add_row(
                table, row.family, f"{band.thickness:g}", band.gas, f"{band.kerf:g}",
                f"{band.feed:g}", f"{band.pierce:g}",
            )  # fmt: skip
    out.print(table)
    if machine.support is not None:
        pitch = " and ".join(f"{p:g}" for p in dict.fromkeys(machine.support.pitch))
        where = "" if machine.support.offset else ", a sheet laid anywhere"
        say(out, f"Sheets lie on {machine.support.kind} {pitch} mm apart{where}")
    if not all(row.known for row in rows):
        say(out, "Not stated: take the limit from the machine's own papers and add a row.")
    if machine.source:
        say(out, f"Source: {machine.source}", "dim")


def print_catalogue(catalogue: Mapping[str, Any], *, console: Console | None = None) -> None:
    """Print materials, gauges, formats and machines.

    Parameters
    ----------
    catalogue : mapping
        As `nestlib.metals.catalogue` returns it.
    console : rich.console.Console, optional
        Where to print.
    """
    out = console or new_console()
    table = new_table("Materials", "Name", "Title", ">g/cm³", "Gauges")
    for m in catalogue["materials"]:
        add_row(table, m["name"], m["title"], f"{m['density']:g}", m["gauge"])
    out.print(table)
    out.print(_gauges(catalogue["gauges"]))
    table = new_table("Formats", "Name", ">Length mm", ">Width mm", "System")
    for f in catalogue["formats"]:
        add_row(table, f["name"], f"{f['length']:g}", f"{f['width']:g}", f["system"])
    out.print(table)
    table = new_table("Machines", "Name", "Title", ">W", ">Bed")
    for m in catalogue["machines"]:
        add_row(table, m["name"], m["title"], f"{m['power']:g}", texts.size(*m["bed"]))
    out.print(table)
    say(out, "What a machine can cut: nestlib metals --machine NAME")


def _missing_lines(plan: Plan) -> Iterable[str]:
    """What found no place: how many pieces, of which drawing, why, and what to do about it."""
    for missing in plan.unplaced:
        source = plan.job.part(missing.part).source
        drawn = f" ({source.file})" if source is not None else ""
        pieces = texts.count(missing.quantity, "piece")
        yield f"Not placed: {pieces} of {missing.part}{drawn}: {missing.reason}."


def _plan_lines(plan: Plan) -> Iterable[str]:
    """The figures below the table of layouts."""
    wanted = sum(p.quantity for p in plan.job.parts)
    if not plan.layouts:
        yield f"Nothing was placed: none of {texts.count(wanted, 'piece')}, {plan.seconds:.1f} s"
        return
    yield (
        f"{sum(plan.placed.values())} of {wanted} pieces on "
        f"{texts.count(plan.sheets_used, 'sheet')} (no plan needs fewer than {plan.bound.sheets}), "
        f"{texts.share(plan.utilisation)} used, {plan.weight:.2f} kg, {plan.seconds:.1f} s"
    )
    if plan.cost is not None:
        least = texts.money(plan.bound.cost, plan.job.currency)
        yield f"Sheets cost {texts.money(plan.cost, plan.job.currency)} (at least {least})"
    if plan.net_cost is not None and plan.net_cost != plan.cost:
        money = (plan.set_up_cost, plan.remnant_value, plan.net_cost, plan.bound.net_cost)
        set_ups, kept, net, least = (texts.money(m or 0.0, plan.job.currency) for m in money)
        yield (
            f"With set-ups ({set_ups}) and without what remnants are worth ({kept}): "
            f"{net} (at least {least})"
        )
    if plan.work is not None:
        yield from _work(plan.work, plan.job.currency)
    saved = plan.saved_in_all
    if saved is not None:
        yield (
            f"{texts.count(plan.shared_cuts, 'shared cut')}: saves {texts.saved(saved)} against "
            "cutting each contour by itself"
        )
    joints = sum(x.path.joints * x.runs for x in plan.layouts)
    lifts = sum(x.path.lifts * x.runs for x in plan.layouts)
    way = texts.metres(sum(x.path.lifted_length * x.runs for x in plan.layouts))
    yield f"{texts.count(joints, 'joint')}; the head is lifted {texts.count(lifts, 'time')}, {way}"
    waits = sum(x.path.waiting * x.runs for x in plan.layouts)
    if waits:
        yield f"The head waits {texts.duration(waits)} for the sheet to cool"
    for name, value in unloading_figures(plan):
        yield f"{name}: {value}"
    yield from _when_and_where(plan)
    for layout in plan.layouts:
        for r in layout.remnants:
            x0, y0, x1, y1 = r.outline.bounds
            yield (
                f"Keep: {r.name}, {texts.size(x1 - x0, y1 - y0)} of {layout.sheet.name}"
                + (f", {layout.runs} pieces" if layout.runs > 1 else "")
            )
    if plan.hold:
        yield f"Held on the rack: {texts.held(plan)}, for {plan.hold}; once it is cut, book it"


def _work(work: Work, currency: str) -> Iterable[str]:
    """Times and costs, and what is missing for them."""
    effort, cost = work.total, work.cost
    etching = f"etching {texts.duration(effort.marking)}, " if effort.mark_length else ""
    yield (
        f"Machine time about {texts.duration(effort.seconds)}: cutting "
        f"{texts.duration(effort.cutting)}, {etching}"
        f"piercing {texts.duration(effort.piercing)}, rapids "
        f"and lifts {texts.duration(effort.moving)}; gas {texts.gas(effort.gas)}"
    )
    time = texts.hundredths(cost.machine, currency)
    yield (
        f"Cost of all that is stated {texts.hundredths(cost.total, currency)}: machine time "
        f"{time}, gas {texts.hundredths(cost.gas, currency)}; each part's in parts.csv"
    )
    for missing in work.not_stated:
        yield f"Not stated: {missing}"
    if work.basis:
        yield f"Figures of the machine: {work.basis}"


def _when_and_where(plan: Plan) -> Iterable[str]:
    """With which layout each due date is met, and on which layouts each kit lies."""
    for day in sorted({p.due for p in plan.job.parts if p.due}):
        parts = [p.name for p in plan.job.parts if p.due == day]
        last = max(plan.layouts_with(*parts), default=None)
        done = "nothing placed" if last is None else f"done with layout {last}"
        yield f"Due {day}: {', '.join(parts)}: {done}"
    for kit, names in plan.kits.items():
        numbers = ", ".join(map(str, plan.layouts_with(*names)))
        yield f"Kit {kit}: {f'layout {numbers}' if numbers else 'nothing placed'}"


def _gauges(tables: Mapping[str, Sequence[Mapping[str, float]]]) -> Table:
    """All gauge tables side by side."""
    table = new_table("Gauges, mm", ">Gauge", *(f">{name}" for name in tables))
    sizes = {name: {row["number"]: row["mm"] for row in rows} for name, rows in tables.items()}
    for number in sorted({n for rows in sizes.values() for n in rows}):
        known = [f"{s[number]:.3f}" if number in s else "" for s in sizes.values()]
        add_row(table, f"{number:g}", *known)
    return table


def _about(found: Finding) -> str:
    """A finding with its part and its first place."""
    part = f"{found.part}: " if found.part else ""
    layer = f", layer {found.layer}" if found.layer else ""
    handle = f", handle {found.handle}" if found.handle else ""
    place = ""
    if found.places:
        x, y = found.places[0]
        more = f" and {len(found.places) - 1} more" if len(found.places) > 1 else ""
        place = f" at ({x:.3f}, {y:.3f}){more}"
    return f"{part}{found.message}{place}{layer}{handle}"


def print_table(
    title: str,
    columns: Sequence[str],
    rows: Iterable[Sequence[object]],
    *,
    console: Console | None = None,
) -> None:
    """Print rows under a title.

    Parameters
    ----------
    title : str
        Stands above; may be empty.
    columns : sequence of str
        Heads; a column whose head begins with > is aligned to the right.
    rows : iterable of sequence
        Cells.
    console : rich.console.Console, optional
        Where to print.
    """
    table = new_table(title, *columns)
    for row in rows:
        table.add_row(*(Text(str(cell)) for cell in row))
    (console or new_console()).print(table)
