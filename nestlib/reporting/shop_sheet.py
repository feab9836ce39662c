"""Shop sheets: a PDF with a page for each layout, for the person at the machine.

What to load, what to cut, what comes off the table and what to watch for, with room to sign.
The QR code says plan and layout, such as ``5f0c1d2e3a4b5c6d/2``. What finds no room on the
page of its layout goes on on another.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from reportlab.lib.units import mm
from reportlab.platypus import KeepTogether, PageBreak, Paragraph, Spacer, Table

from nestlib.model import Layout, Plan
from nestlib.pdf_drawing import draw_qr, register_fonts
from nestlib.reporting.layout_pdf import draw_layout, height_for, part_numbers
from nestlib.reporting.palette import fill
from nestlib.reporting.paper import (
    HEAD,
    PLAIN,
    RULED,
    SMALL,
    TEXT,
    TITLE,
    Sketch,
    cell,
    pages,
    safe,
    text_width,
)
from nestlib.reporting.texts import count, duration, plain, size

#: Where a plan was made in code and brings no cautions; those of `nest` end like this.
_DEFER = (
    "The instructions of the machine's maker, local codes and the practice of licensed people"
    " come first."
)

_QR, _HIGHEST = 26 * mm, 105 * mm


def shop_sheets_pdf(plan: Plan, files: Sequence[str], name: str, paper: str = "a4") -> bytes:
    """Return the shop sheets of a plan; the same plan gives the same file.

    Parameters
    ----------
    plan : Plan
        With or without times and verification, which are then said to be missing.
    files : sequence of str
        Name of the DXF file of each layout.
    name : str
        By which the QR codes call the plan.
    paper : {"a4", "letter"}
        Size of the pages.

    Returns
    -------
    bytes

    Raises
    ------
    ValueError
        If there is not one file name for each layout.
    """
    register_fonts()
    register_fonts()
    title = f"Shop sheets · {plain(plan.job.title) or 'Nest'}"
    story: list[Any] = []
    for number, (_, own) in enumerate(zip(plan.layouts, files, strict=True)):
        story += [PageBreak()] if story else []
        story += _sheet(plan, number, own, name, text_width(paper))
    if not story:
        story = [Paragraph(cell(title), TITLE), Paragraph("No piece was placed.", TEXT)]
    return pages(story, title, paper)


def _sheet(plan: Plan, number: int, file: str, name: str, width: float) -> Iterator[Any]:
    """All that the page of a layout shows, from top to bottom."""
    layout, job = plan.layouts[number], plan.job
    yield _head(plan, number, file, f"{name}/{number + 1}", width)
    high = height_for(layout.sheet, width, _HIGHEST)
    yield Sketch(width, high, lambda page: draw_layout(page, layout, job, width, high))
    yield _grid(list(facts(plan, number)), width)
    yield Spacer(0, 2 * mm)
    yield _parts(plan, layout, width)
    yield Spacer(0, 2 * mm)
    yield from _warned(plan, layout)
    yield Spacer(0, 2 * mm)
    yield KeepTogether(_sign_off(layout, width))


def _head(plan: Plan, number: int, file: str, code: str, width: float) -> Any:
    of = f"Layout {number + 1} of {len(plan.layouts)}: {file}"
    runs = count(plan.layouts[number].runs, "sheet")
    words = [
        Paragraph(cell(plan.job.title or "Nest"), TITLE),
        Paragraph(cell(of), HEAD),
        Paragraph(f"Cut {runs} this way. {_verified(plan)}", TEXT),
        Paragraph(f"Plan {cell(code)}", TEXT),
    ]
    qr = Sketch(_QR, _QR, lambda page: draw_qr(page, code, (0, 0), _QR))
    return Table([[words, qr]], [width - _QR - 6 * mm, _QR + 6 * mm], style=PLAIN)


def _verified(plan: Plan) -> str:
    check = plan.verification
    if check is None:
        return "Not verified."
    if check.passed:
        return "Verified from the written files."
    return f"NOT TO BE CUT: {count(len(check.violations), 'rule')} broken, see the report."


def facts(plan: Plan, number: int) -> Iterator[tuple[str, str]]:
    """Yield name and value of what has to be known before a layout is cut.

    Parameters
    ----------
    plan : Plan
        The plan.
    number : int
        Of the layout, counted from 0.
    """
    layout, job, metal = plan.layouts[number], plan.job, plan.job.metal
    sheet, setting = layout.sheet, job.machine.setting(metal.material.family, metal.thickness)
    gauge = f" ({metal.gauge})" if metal.gauge else ""
    yield "Load", f"{sheet.name}{', remnant' if sheet.remnant else ''}"
    yield "Size", size(*sheet.size)
    yield "Rack label", _with_hold(sheet.item, plan.hold)
    yield "Heat number", sheet.heat or "not stated"
    yield "Metal", metal.material.title
    yield "Thickness", f"{metal.thickness:g} mm{gauge}"
    yield "Sheet weighs", f"{metal.weight(sheet.area):.1f} kg"
    yield "Grain", f"{sheet.grain:g}°, counter-clockwise from the x axis"
    yield "Machine", job.machine.title
    yield "Gas", setting.gas if setting else "not stated"
    yield "Kerf", f"{job.spacing.kerf:g} mm"
    yield "Runs", str(layout.runs)
    yield from _times(plan, number)
    yield "Micro-joints on a sheet", str(layout.path.joints)
    yield "Pierces on a sheet", str(layout.path.pierces)
    yield "Keep", ", ".join(remnant.name for remnant in layout.remnants) or "no remnant"


def _with_hold(item: str, hold: str) -> str:
    if not item:
        return "not from the rack"
    return f"{item}, held for {hold}" if hold else item


def _times(plan: Plan, number: int) -> Iterator[tuple[str, str]]:
    seconds = plan.work.layouts[number].seconds if plan.work else None
    runs = plan.layouts[number].runs
    yield "Time for a sheet, estimate", duration(seconds)
    yield "Time for all, estimate", duration(None if seconds is None else seconds * runs)


def _grid(pairs: list[tuple[str, str]], width: float) -> Any:
    """Names and values in two columns, read down."""
    half, styles = (len(pairs) + 1) // 2, (HEAD, TEXT) * 2
    left, right = pairs[:half], [*pairs[half:], ("", "")][:half]
    rows = [
        [Paragraph(cell(text), style) for text, style in zip((*a, *b), styles, strict=True)]
        for a, b in zip(left, right, strict=True)
    ]
    return Table(rows, [0.17 * width, 0.33 * width, 0.25 * width, 0.25 * width], style=RULED)


def _parts(plan: Plan, layout: Layout, width: float) -> Any:
    """Each part with its number, on the colour that its pieces have in the drawing."""
    head = [Paragraph(t, HEAD) for t in ("No.", "Part", "On a sheet", "In all", "Orders")]
    rows = [head]
    for name, number in part_numbers(layout, plan.job).items():
        here = layout.counts[name]
        orders = ", ".join(f"{o.line} ({o.quantity})" for o in plan.job.part(name).orders)
        cells = (number, name, here, here * layout.runs, orders)
        rows.append([Paragraph(cell(text), TEXT) for text in cells])
    widths = [share * width for share in (0.07, 0.4, 0.13, 0.1, 0.3)]
    numbers = part_numbers(layout, plan.job).values()
    fills = [("BACKGROUND", (0, i), (0, i), fill(n - 1)[0]) for i, n in enumerate(numbers, start=1)]
    return Table(rows, widths, repeatRows=1, style=[*RULED, *fills])


def _warned(plan: Plan, layout: Layout) -> Iterator[Any]:
    """What to watch for on this layout first, then what holds for the metal and the gas."""
    yield Paragraph("Watch for", HEAD)
    for warning in layout.path.warnings:
        yield Paragraph(safe(warning), TEXT)
    for caution in plan.cautions or (_DEFER,):
        yield Paragraph(safe(caution), SMALL)


def _sign_off(layout: Layout, width: float) -> Any:
    """Room for what really happened."""
    names = ("Sheet and heat number loaded", f"Sheets cut (of {layout.runs})", "Pieces scrapped")
    signed = ("Operator", "Date and time", "Signature")
    rows = [[Paragraph(text, SMALL) for text in row] for row in (names, signed)]
    style = [*PLAIN, ("GRID", (0, 0), (-1, -1), 0.6, "#23292e")]
    return Table(rows, [width / 3] * 3, rowHeights=[11 * mm] * 2, style=style)
