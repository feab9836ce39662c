"""What goes to the machine and into the crates besides the files: shop sheets, labels, pictures."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path

from nestlib.costing import work
from nestlib.errors import InputError, Problem
from nestlib.model import Plan
from nestlib.orders import allotments, plan_id
from nestlib.pdf_drawing import unwritable
from nestlib.reporting import layout_png, layout_svg, shop_sheets_pdf
from nestlib.reporting.paper import PAPERS
from nestlib.reporting.part_labels import FORMS, PartLabel, part_labels_pdf
from nestlib.reporting.texts import plain
from nestlib.writing import layout_files, read_plan, write_bytes, write_text
from nestlib.writing.folder import LABELS_FILE, SHOP_FILE

#: Gets what people should know.
OnNote = Callable[[str], None]

#: So many names are told, and so many letters.
_TOLD = 5


def write_shop_sheets(folder: str | Path, paper: str = "a4", on_note: OnNote | None = None) -> Path:
    """Write ``shop-sheets.pdf`` into a plan folder: a page for each layout.

    Parameters
    ----------
    folder : path-like
        A plan folder.
    paper : {"a4", "letter"}
        Size of the pages.
    on_note : callable, optional
        Told of names with letters that the font lacks.

    Returns
    -------
    pathlib.Path
        The file.

    Raises
    ------
    InputError
        If it is not a plan folder, or there is no such paper.
    OutputError
        If the file cannot be written.
    """
    _demand(paper, PAPERS, "paper")
    folder = Path(folder)
    plan = read_plan(folder)
    plan = plan if plan.work is not None else replace(plan, work=work(plan))
    names = [
        plan.job.title,
        *(x.sheet.name for x in plan.layouts),
        *(p.name for p in plan.job.parts),
    ]
    orders = [order.line for part in plan.job.parts for order in part.orders]
    _tell_unwritable([*names, *orders], "shop sheets", on_note)
    write_bytes(folder / SHOP_FILE, shop_sheets_pdf(plan, layout_files(plan), plan_id(plan), paper))
    return folder / SHOP_FILE


def write_part_labels(
    folder: str | Path, form: str = "a4-24", on_note: OnNote | None = None
) -> Path:
    """Write ``part-labels.pdf`` into a plan folder: one for each part and order line.

    Parameters
    ----------
    folder : path-like
        A plan folder.
    form : str
        One of `nestlib.reporting.part_labels.FORMS`.
    on_note : callable, optional
        Told of names with letters that the font lacks.

    Returns
    -------
    pathlib.Path
        The file.

    Raises
    ------
    InputError
        If it is not a plan folder, or there is no such form.
    OutputError
        If the file cannot be written.
    """
    _demand(form, FORMS, "form of labels")
    folder = Path(folder)
    labels = _labels(read_plan(folder))
    shown = [text for label in labels for text in (label.part, label.order, label.metal)]
    _tell_unwritable(shown, "labels", on_note)
    write_bytes(folder / LABELS_FILE, part_labels_pdf(labels, form))
    return folder / LABELS_FILE


def _tell_unwritable(names: Iterable[str], where: str, on_note: OnNote | None) -> None:
    """Tell of names that cannot be read where they are printed."""
    lacking = {name: unwritable(plain(name)) for name in names}
    lacking = {plain(name): letters for name, letters in lacking.items() if letters}
    if not lacking or on_note is None:
        return
    letters = "".join(dict.fromkeys("".join(lacking.values())))
    told = ", ".join([repr(name) for name in [*lacking][:_TOLD]])
    more = f" and {len(lacking) - _TOLD} more" if len(lacking) > _TOLD else ""
    on_note(
        f"{where}: the font has no letters for {' '.join(letters[:_TOLD])}"
        f"{' …' if len(letters) > _TOLD else ''}: boxes stand for them in {told}{more}; "
        "rename such parts, or tell them apart by the numbers in the drawing or the QR code"
    )


def _labels(plan: Plan) -> list[PartLabel]:
    return [
        PartLabel(
            allotted.part.name,
            allotted.pieces,
            allotted.order.line if allotted.order else "",
            allotted.order.due if allotted.order and allotted.order.due else allotted.part.due,
            str(plan.job.metal),
            tuple(number for number, _ in allotted.on_layouts),
        )
        for allotted in allotments(plan)
        if allotted.pieces
    ]


def write_picture(folder: str | Path, number: int, out: str | Path, width: int = 1600) -> None:
    """Write a picture of a layout: SVG or PNG by the ending of its name.

    Parameters
    ----------
    folder : path-like
        A plan folder.
    number : int
        Of the layout, counted from 1.
    out : path-like
        Where to, ending in ``.svg`` or ``.png``.
    width : int
        Of a PNG, in pixels.

    Raises
    ------
    InputError
        If it is not a plan folder, or there is no such layout or kind of picture.
    OutputError
        If the file cannot be written.
    """
    out, kind = Path(out), Path(out).suffix.lower()
    if kind not in (".svg", ".png"):
        raise _refused(
            str(out), f"pictures end in .svg or .png, not in {kind!r}", "Name such a file"
        )
    plan = read_plan(folder)
    if not 1 <= number <= len(plan.layouts):
        held = f"there is no layout {number}; the plan has {len(plan.layouts)}"
        raise _refused(str(folder), held, "Name one of them, counted from 1")
    layout = plan.layouts[number - 1]
    if kind == ".svg":
        write_text(out, layout_svg(layout, plan.job))
    else:
        write_bytes(out, layout_png(layout, plan.job, width))


def _demand(name: str, known: Iterable[str], noun: str) -> None:
    if name not in known:
        raise _refused("", f"there is no {noun} {name!r}", f"Name one of {', '.join(known)}")


def _refused(file: str, problem: str, remedy: str) -> InputError:
    return InputError(Problem(file, "", problem, remedy))
