"""From a job to a plan: the whole line, stage by stage."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import replace

from nestlib import kernel_cache
from nestlib.bundling import Thing, plain_things
from nestlib.common_lines import Hurried, Packed, best_packed, may_share, sharing_ways
from nestlib.costing import work
from nestlib.cutting import cut_efforts, cut_path, with_unloading
from nestlib.due import by_due
from nestlib.errors import StoppedError
from nestlib.feature_limits import feature_cautions
from nestlib.for_packer import aims_of, containers_of, nearest_shapes, remnants_first, shapes_of
from nestlib.geometry import placed
from nestlib.interrupts import Patience, finishing, leave_at_interrupt
from nestlib.metals import cautions
from nestlib.model import Bound, Effort, Job, Layout, Plan, Progress, Unplaced
from nestlib.packing import (
    After,
    First,
    PackedSheet,
    Packing,
    Stalled,
    StoppingRule,
    leftover,
    lower_bound,
    pack,
)
from nestlib.soundness import demand_sound

#: When the search ends unless the caller says otherwise.
USUAL_STOP = First(After(10), Stalled(30))

OnProgress = Callable[[Progress], None]


def nest(
    job: Job,
    *,
    stop: StoppingRule | None = None,
    seed: int = 0,
    workers: int | Executor = 1,
    on_progress: OnProgress | None = None,
) -> Plan:
    """Lay out a job, order its cuts and say what no plan could beat.

    Parameters
    ----------
    job : Job
        Parts, metal, machine, stock and spacing.
    stop : StoppingRule, optional
        When to stop improving; by default after 10 seconds, or after 30 rounds that
        brought nothing.
    seed : int
        The same seed and the same number of iterations give the same plan, whatever
        the number of workers.
    workers : int or concurrent.futures.Executor
        Processes to use; an executor may also run them on other machines.
    on_progress : callable, optional
        Called with a `Progress` a few times a second.

    Returns
    -------
    Plan
        The best that was found. Ctrl-C ends the search and returns the best so far,
        with its cuts in order and `Plan.stopped` set.

    Raises
    ------
    InputError
        If the job is not sound: see `nestlib.soundness.demand_sound`.
    StoppedError
        If Ctrl-C came before anything was placed.
    """
    demand_sound(job)
    started = time.monotonic()
    containers = containers_of(job)
    ways = []
    if any(may_share(part, job) for part in job.parts):
        if on_progress is not None:
            wanted = sum(part.quantity for part in job.parts)
            on_progress(Progress(0.0, "looking for edges to share", wanted=wanted))
        ways = sharing_ways(job)
    with executor_of(workers) as executor:
        begun = time.monotonic()

        def packed_by(things: Sequence[Thing], share: float) -> Packing:
            return pack(
                shapes_of(job, things),
                containers,
                stop=Hurried(stop or USUAL_STOP, share, time.monotonic() - begun),
                seed=seed,
                executor=executor,
                on_progress=_in_pieces(job, started, on_progress),
                aims=aims_of(job),
            )

        found = best_packed(job, ways, packed_by)
    if found[0].packing.stopped and not found[0].packing.sheets:
        raise StoppedError("Stopped before anything was placed")
    with finishing() as patience:
        plans = [_plan(packed, job, started, on_progress, patience) for packed in found]
    plan = min(plans, key=_costs)
    return replace(
        plan,
        seed=seed,
        seconds=time.monotonic() - started,
        stopped=plan.stopped or patience.interrupted,
    )


def _plan(
    packed: Packed,
    job: Job,
    started: float,
    on_progress: OnProgress | None,
    patience: Patience,
) -> Plan:
    """What was packed with its cuts in order, and what no plan can beat."""
    sheets = by_due(packed.packing.sheets, shapes_of(job, packed.things))
    tell = _after_packing(packed, job, started, on_progress)
    layouts = []
    if sheets and not kernel_cache.ready("kernels_sequence"):
        tell(kernel_cache.COMPILING)
    for number, sheet in enumerate(sheets, start=1):
        tell(f"ordering the cuts, layout {number} of {len(sheets)}")
        layouts.append(_layout(packed, sheet, number, job, lambda: not patience.interrupted))
    tell("proving what no plan can beat")
    used = [layout.sheet for layout in layouts]
    plan = Plan(
        job=job,
        layouts=tuple(layouts),
        unplaced=_unplaced(packed, job),
        bound=_bound(packed, job),
        stopped=packed.packing.stopped,
        cautions=(
            *job.cautions,
            *feature_cautions(job),
            *cautions(job.metal, job.machine, max(used or job.sheets, key=lambda s: s.area)),
        ),
    )
    return replace(plan, work=work(plan))


def _costs(plan: Plan) -> int:
    """Cost of all that is stated, in hundredths."""
    return (plan.work and plan.work.cost.total) or 0


@contextmanager
def executor_of(workers: int | Executor) -> Iterator[Executor | None]:
    """Give the caller's executor, one of our own, or none for a single worker."""
    if isinstance(workers, Executor):
        yield workers
    elif workers > 1:
        pool = ProcessPoolExecutor(workers, initializer=leave_at_interrupt)
        try:
            yield pool
        finally:
            # Without waiting: a Ctrl-C while waiting would lose what was found.
            pool.shutdown(wait=False, cancel_futures=True)
    else:
        yield None


def _layout(
    packed: Packed, sheet: PackedSheet, number: int, job: Job, go_on: Callable[[], bool]
) -> Layout:
    """Turn what was packed into a layout with its cut path and what is left of the sheet."""
    stock = remnants_first(job)[sheet.container]
    placements, bundles = packed.on_sheet(sheet, job)
    layout = Layout(stock, tuple(placements), sheet.runs, bundles=tuple(bundles))
    path = cut_path(layout, job, go_on=go_on)
    used = [placed(job.part(p.part).outer, p) for p in placements]
    used += [lead for cut in path.cuts for lead in (cut.lead_in, cut.lead_out) if lead]
    stepped = job.unloading.cut_off == "stepped"
    name = f"remnant-{number:03d}"
    remnant = leftover(stock, used, job.spacing, job.remnant_size, name, stepped=stepped)
    layout = replace(layout, path=path, remnants=() if remnant is None else (remnant,))
    layout = replace(layout, path=with_unloading(layout, job))
    return replace(layout, singly=_singly(layout, job, go_on) if bundles else None)


def _singly(layout: Layout, job: Job, go_on: Callable[[], bool]) -> Effort:
    """What a sheet would take if its pieces lay as they do and shared no cut."""
    alone = replace(layout, bundles=())
    alone = replace(alone, path=cut_path(alone, job, go_on=go_on))
    alone = replace(alone, path=with_unloading(alone, job))
    return sum(cut_efforts(alone, job), Effort())


def _bound(packed: Packed, job: Job) -> Bound:
    """What no plan can beat, whether its pieces share cuts or not."""
    if packed.packing.bound and not any(part.common_lines for part in job.parts):
        return packed.packing.bound
    shapes = nearest_shapes(job, plain_things(job))
    return lower_bound(shapes, containers_of(job), packed.missing(job), aims_of(job))


def _in_pieces(job: Job, started: float, on_progress: OnProgress | None) -> OnProgress | None:
    """Told of several searches by one clock, and by pieces where some are packed together."""
    if on_progress is None:
        return None
    wanted = sum(part.quantity for part in job.parts)
    together = any(part.common_lines for part in job.parts)

    def told(p: Progress) -> None:
        placed = p.placed * wanted // p.wanted if p.wanted else p.placed
        seconds = time.monotonic() - started
        gap = None if together else p.gap  # what is proved of patterns holds not for pieces
        on_progress(replace(p, seconds=seconds, placed=placed, wanted=wanted, gap=gap))

    return told


def _after_packing(
    packed: Packed, job: Job, started: float, on_progress: OnProgress | None
) -> Callable[[str], None]:
    """Return what tells the caller about the phases that follow the search."""
    wanted = sum(part.quantity for part in job.parts)
    placed = sum(len(packed.on_sheet(s, job)[0]) * s.runs for s in packed.packing.sheets)

    def tell(phase: str) -> None:
        if on_progress is not None:
            seconds = time.monotonic() - started
            on_progress(Progress(seconds, phase, placed=placed, wanted=wanted))

    return tell


def _unplaced(packed: Packed, job: Job) -> tuple[Unplaced, ...]:
    """What is missing, each part once."""
    missing, reasons = packed.missing(job), dict[int, str]()
    for shape, _, reason in packed.packing.unplaced:
        for part in packed.things[shape].parts:
            reasons.setdefault(part, reason)
    return tuple(
        Unplaced(job.parts[part].name, missing[part], reason)
        for part, reason in sorted(reasons.items())
        if not job.parts[part].filler
    )
