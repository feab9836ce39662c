"""Turn jobs into verified, cut-ready sheets."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from nestlib.errors import InputError, Problem

from .names import templates
from .nest_outcome import exit_code, summary, tell_what_is_left, tell_what_is_missing
from .options import FiniteRange, as_json, print_json, quiet
from .part_lists import (
    ANY_SHEET,
    given_for_lists,
    read_job_or_list,
    sheets_for_lists,
    words_for_lists,
)
from .stock_options import demand_from_stock, sheets_from_rack

if TYPE_CHECKING:
    from nestlib import Job, Plan
    from nestlib.stock import Rack

#: More processes than this cannot be waited for on Windows.
_MOST_WORKERS = 61


@click.command()
@click.argument("jobs", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    help=(
        "Folder of the plan; with several jobs, the folder that gets one for each. "
        "[default: plans/NAME-OF-THE-JOB]"
    ),
)
@click.option(
    "--seconds",
    type=FiniteRange(0, min_open=True),
    help=(
        "Time to search, for each job; with --iterations, what comes first. "
        "[default: 10, or less if nothing more is found]"
    ),
)
@click.option(
    "--iterations",
    type=click.IntRange(1),
    help=(
        "Stop after so many rounds; without --seconds, the same number and seed give the same plan."
    ),
)
@click.option(
    "--seed",
    type=click.IntRange(0),
    default=0,
    show_default=True,
    help="Start of all random choices.",
)
@click.option(
    "--workers",
    type=click.IntRange(1),
    default=min(os.cpu_count() or 1, _MOST_WORKERS),
    help="Processes to use.  [default: all cores]",
)
@click.option(
    "--dxf",
    "dxf_version",
    type=click.Choice(["R2010", "R12"]),
    default="R2010",
    show_default=True,
    help="Form of the nested drawings.",
)
@click.option(
    "--max-layouts",
    type=click.IntRange(min=1),
    help="Most different layouts, if that can be had; instead of what the job says.",
)
@click.option(
    "--program",
    "template",
    help='Also write machine programs: "plain", or a template of your own (see nestlib program).',
    shell_complete=templates,
)
@click.option(
    "--shop-sheets",
    type=click.Choice(["a4", "letter"]),
    help="Also write shop-sheets.pdf, a page for each layout (see nestlib report).",
)
@click.option("--overwrite", is_flag=True, help="Replace an older plan in the same folder.")
@sheets_from_rack("Take the sheets from the rack, remnants first, and hold what the plan uses.")
@click.option("--force", is_flag=True, help="Go on beyond the machine's limits, with a warning.")
@click.option(
    "--each",
    is_flag=True,
    help="Nest many jobs side by side: a bad one stops no other, and what is done is kept.",
)
@click.option("--cluster", help="With --each: address of a Dask scheduler, tcp://host:8786.")
@sheets_for_lists
@words_for_lists
@as_json
@quiet
def nest(
    jobs: tuple[Path, ...],
    out: Path | None,
    seconds: float | None,
    iterations: int | None,
    seed: int,
    workers: int,
    dxf_version: str,
    max_layouts: int | None,
    template: str | None,
    shop_sheets: str | None,
    overwrite: bool,
    from_stock: bool,
    place: str | None,
    document: str | None,
    force: bool,
    each: bool,
    cluster: str | None,
    as_json: bool,
    quiet: bool,
    **for_lists: Any,
) -> None:
    """Nest JOBS (job.toml files, or part lists as CSV or XLSX) and write a plan for each.

    Ctrl-C ends the search and writes the best so far.

    With --each every worker nests a whole job. The same command once more goes on where it
    stopped: plans of the same job, drawings and options are not made again.

    \b
    Examples:
      nestlib nest job.toml --out plan --seconds 60
      nestlib nest job.toml --from-stock --out plan
      nestlib nest parts.csv --metal mild-steel --thickness 1.5 --sheet 3000x1500
      nestlib nest --each jobs/*.toml --out plans

    \b
    Exit codes, with --each:
      0  every job has a whole, verified plan
      1  done, but a job failed, or a piece of one found no place
      3  stopped by the user; finished plans are kept
    """
    if cluster and not each:
        raise click.UsageError("--cluster is for --each")
    if each:
        if shop_sheets:
            raise click.UsageError("with --each, shop sheets are for nestlib report --pdf")
        if from_stock:
            raise click.UsageError("--each takes no sheets from the rack")
        from .each import nest_each

        how = {
            "seed": seed,
            "seconds": seconds,
            "iterations": iterations,
            "max_layouts": max_layouts,
            "dxf_version": dxf_version,
            "template": template,
            "force": force,
        }
        given = given_for_lists(jobs, for_lists)
        _demand_different(jobs)
        folders = {path: (out or Path("plans")) / path.stem for path in jobs}
        nest_each(folders, how, given, workers, cluster, overwrite, as_json, quiet)
    import nestlib as nl
    from nestlib.packing.stopping import stop_after
    from nestlib.reporting import ProgressTable, print_plan
    from nestlib.writing import demand_free, read_template

    folders = _folders(jobs, out)
    for folder in folders.values():
        demand_free(folder, overwrite=overwrite)
    if template is not None:
        read_template(template)  # whatever is wrong with it is said before the search
    rack = _rack(from_stock, place, document, for_lists, folders.values())
    ready = _read_all(jobs, force, given_for_lists(jobs, for_lists))
    rule = stop_after(seconds, iterations)
    plans: list[tuple[Path, Plan]] = []
    told: set[str] = set()

    def one(job: Job, folder: Path, line: Any) -> Plan:
        if max_layouts is not None:
            job = replace(job, money=replace(job.money, max_layouts=max_layouts))
        make = partial(nl.nest, stop=rule, seed=seed, workers=workers, on_progress=line)
        write = partial(
            nl.write,
            folder=folder,
            dxf_version=dxf_version,  # type: ignore[arg-type]
            overwrite=overwrite,
            on_phase=line.phase,
        )
        written = _made(job, rack, make, write, folder, document)
        if template is not None:
            line.phase("writing machine programs")
            written = _with_programs(folder, template, written)
        if shop_sheets is not None:
            line.phase("drawing shop sheets")
            _write_shop_sheets(folder, shop_sheets)
        line.result(written)
        return written

    def tell(folder: Path, plan: Plan) -> None:
        if not (quiet or as_json):
            print_plan(plan, folder, known=told)
            told.update(plan.cautions)
        elif quiet and not plan.complete:
            tell_what_is_missing(folder, plan)

    table = ProgressTable([job.title for job in ready], quiet=quiet)
    try:
        with table:
            for path, job in zip(jobs, ready, strict=True):
                with table.job() as line:
                    plans.append((folders[path], one(job, folders[path], line)))
                if not table.live:
                    tell(*plans[-1])
                if plans[-1][1].stopped:
                    break
    finally:
        if table.live:  # only now that the table has its last form, whatever became of the rest
            for folder, plan in plans:
                tell(folder, plan)
    if plans[-1][1].stopped:
        tell_what_is_left(jobs[len(plans) :])
    if as_json:
        print_json([summary(folder, plan) for folder, plan in plans])
    raise SystemExit(exit_code(plan for _, plan in plans))


def _rack(
    from_stock: bool,
    place: str | None,
    document: str | None,
    for_lists: dict[str, Any],
    folders: Iterable[Path],
) -> Rack | None:
    """The rack, if the sheets come from there; no plan of it in the folders may be lost."""
    demand_from_stock(from_stock, place, document)
    if not from_stock:
        _demand_not_held(folders)
        return None
    from nestlib.from_stock import demand_not_cut
    from nestlib.stock import Rack

    if not for_lists["sheets"]:
        for_lists["sheets"] = ANY_SHEET
    rack = Rack(place, make=False)
    for folder in folders:
        demand_not_cut(folder, rack)
    return rack


def _demand_not_held(folders: Iterable[Path]) -> None:
    """No plan whose sheets are on the rack may be replaced by one that leaves them there."""
    there = [folder for folder in folders if folder.exists()]
    if there:
        from nestlib.from_stock import demand_not_held  # loads what databases need

        for folder in there:
            demand_not_held(folder)


def _made(
    job: Job,
    rack: Rack | None,
    make: Callable[[Job], Plan],
    write: Callable[[Plan], Plan],
    folder: Path,
    document: str | None,
) -> Plan:
    """The plan as written, held on the rack if its sheets are from there."""
    if rack is None:
        return write(make(job))
    from nestlib.from_stock import nest_from_stock

    return nest_from_stock(job, rack, make, write, folder, document)


def _with_programs(folder: Path, template: str, plan: Plan) -> Plan:
    """The plan with its programs; it stays as it was written if they cannot be."""
    from nestlib.handover import write_programs

    done = write_programs(folder, template, on_note=partial(click.echo, err=True))
    return replace(done, stopped=plan.stopped or done.stopped)


def _write_shop_sheets(folder: Path, paper: str) -> None:
    from nestlib.shop_papers import write_shop_sheets

    write_shop_sheets(folder, paper, partial(click.echo, err=True))


def _folders(jobs: Iterable[Path], out: Path | None) -> dict[Path, Path]:
    """Choose a plan folder for each job; several jobs never share one."""
    paths = list(jobs)
    if out is not None and len(paths) == 1:
        return {paths[0]: out}
    _demand_different(paths)
    return {path: (out or Path("plans")) / path.stem for path in paths}


def _demand_different(paths: Iterable[Path]) -> None:
    """Refuse jobs of the same name, which would want the same folder."""
    stems = Counter(path.stem for path in paths)
    for stem, count in stems.items():
        if count > 1:
            raise InputError(
                Problem("", "", f"{count} jobs are called {stem!r}", "Nest them one by one")
            )


def _read_all(jobs: Iterable[Path], force: bool, given: dict[str, Any]) -> list[Job]:
    """Read all jobs before the first is nested, and report the problems of all at once."""
    ready: list[Job] = []
    problems: list[Problem] = []
    for path in jobs:
        try:
            ready.append(read_job_or_list(path, force, given))
        except InputError as error:
            problems += error.problems
            kind = type(error)
    if problems:
        raise kind(problems)
    return ready
