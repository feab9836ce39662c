"""From a plan to the folder that leaves the house: written, verified, then shown."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Literal

from nestlib.costing import work
from nestlib.interrupts import finishing
from nestlib.model import Plan
from nestlib.reporting import report_html
from nestlib.verifying import verify
from nestlib.writing import (
    PLAIN,
    REPORT_FILE,
    layout_files,
    marked_as_failed,
    never_raised,
    plan_folder,
    program_files,
    program_record,
    program_text,
    read_plan,
    read_template,
    write_layout,
    write_plan_record,
    write_tables,
    write_text,
    writing_to,
)

DxfVersion = Literal["R12", "R2010"]


def write(
    plan: Plan,
    folder: str | Path,
    *,
    dxf_version: DxfVersion = "R2010",
    overwrite: bool = False,
    on_phase: Callable[[str], None] | None = None,
) -> Plan:
    """Write the plan folder, checked by code that knows nothing of how it was made.

    There is either the whole folder or none: it is written beside its place and renamed.
    Ctrl-C waits until it is there.

    Parameters
    ----------
    plan : Plan
        What `nest` returned.
    folder : path-like
        Where to; it must not exist, unless it is an older plan and `overwrite` is set.
    dxf_version : {"R2010", "R12"}
        Form of the nested drawings.
    overwrite : bool
        Whether an older plan in `folder` may be replaced.
    on_phase : callable, optional
        Told in a few words what is being done.

    Returns
    -------
    Plan
        The same plan with its `verification`, and `Plan.stopped` set if Ctrl-C was
        pressed. Nothing is raised if the verification failed: look at
        ``plan.verification.passed``.

    Raises
    ------
    OutputError
        If the folder cannot be written.
    """
    tell = on_phase or (lambda phase: None)
    plan = _with_work(plan)
    files = layout_files(plan)
    with finishing() as patience, plan_folder(folder, overwrite=overwrite) as temporary:
        tell("writing drawings")
        for layout, name in zip(plan.layouts, files, strict=True):
            title = f"{plan.job.title} · {name}"
            write_layout(layout, plan.job, temporary / name, version=dxf_version, title=title)
        write_plan_record(plan, files, temporary)
        tell("verifying what was written")
        plan = replace(plan, verification=verify(temporary))
        write_plan_record(plan, files, temporary)
        write_tables(plan, temporary)
        tell("drawing the report")
        write_text(temporary / REPORT_FILE, report_html(plan, files))
    return replace(plan, stopped=True) if patience.interrupted else plan


def rewrite_report(folder: str | Path) -> Path:
    """Write the report and the lists of a plan folder again, from its plan.json alone.

    Parameters
    ----------
    folder : path-like
        A plan folder, or its plan.json.

    Returns
    -------
    pathlib.Path
        The report.

    Raises
    ------
    InputError
        If it is not a plan folder.
    OutputError
        If the folder cannot be written.
    """
    folder = Path(folder)
    plan = _with_work(read_plan(folder))
    folder = folder.parent if folder.is_file() else folder
    with writing_to(folder):
        write_tables(plan, folder)
        write_text(folder / REPORT_FILE, report_html(plan, layout_files(plan)))
    return folder / REPORT_FILE


def write_programs(
    folder: str | Path,
    template: str | Path = PLAIN,
    *,
    on_note: Callable[[str], None] | None = None,
) -> Plan:
    """Write a machine program for each layout of a plan folder, and verify the whole again.

    Parameters
    ----------
    folder : path-like
        A plan folder.
    template : path-like
        ``"plain"``, or the TOML file of a shop, as `nestlib.writing.program_template`
        describes it. Without one of its own each program says that it is only a drawing of
        the order for a post.
    on_note : callable, optional
        Told what the programs lack, file by file.

    Returns
    -------
    Plan
        The plan with its new verification, which has read the programs back.

    Raises
    ------
    InputError
        If it is not a plan folder, the template is wrong, or a contour leaves no room for a
        path beside it; nothing is written then.
    OutputError
        If the folder cannot be written.
    """
    folder = Path(folder)
    spelt = read_template(template)
    plan = _with_work(read_plan(folder))
    texts = [program_text(plan, i, spelt) for i in range(len(plan.layouts))]
    tell = on_note or (lambda note: None)
    for layout, name in zip(plan.layouts, program_files(plan), strict=True):
        for note in never_raised(layout, spelt):
            tell(f"{name}: {note}")
    record, files = program_record(plan, spelt), layout_files(plan)
    with finishing() as patience, writing_to(folder):
        for name, text in zip(program_files(plan), texts, strict=True):
            write_text(folder / name, text)
        write_plan_record(plan, files, folder, record)
        check = verify(folder)
        plan = replace(plan, verification=check)
        if not check.passed:
            for name, text in zip(program_files(plan), texts, strict=True):
                write_text(folder / name, marked_as_failed(text, spelt))
        write_plan_record(plan, files, folder, record)
        write_tables(plan, folder)
        write_text(folder / REPORT_FILE, report_html(plan, files))
    return replace(plan, stopped=True) if patience.interrupted else plan


def _with_work(plan: Plan) -> Plan:
    """The plan with times and costs, which older plans and those made in code do not have."""
    return plan if plan.work is not None else replace(plan, work=work(plan))
