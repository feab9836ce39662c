"""From a job to a plan: the whole line, stage by stage."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import replace

from nestlib.costing import work
from nestlib.cutting import cut_path
from nestlib.due import by_due, due_ranks, placing_levels
from nestlib.errors import StoppedError
from nestlib.geometry import part_clearance, placed, sheet_room
from nestlib.interrupts import finishing, leave_at_interrupt
from nestlib.metals import cautions
from nestlib.model import Job, Layout, Part, Placement, Plan, Progress, Sheet, Unplaced
from nestlib.packing import (
    After,
    Aims,
    Container,
    First,
    PackedSheet,
    Packing,
    Shape,
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
    shapes = _shapes(job)
    containers = [_container(sheet, job) for sheet in _remnants_first(job)]
    with _executor(workers) as executor:
        packing = pack(
            shapes,
            containers,
            stop=stop or USUAL_STOP,
            seed=seed,
            executor=executor,
            on_progress=on_progress,
            aims=_aims(job),
        )
    if packing.stopped and not packing.sheets:
        raise StoppedError("Stopped before anything was placed")
    tell = _after_packing(packing, job, started, on_progress)
    with finishing() as patience:
        layouts = []
        for number, sheet in enumerate(by_due(packing.sheets, shapes), start=1):
            tell(f"ordering the cuts, layout {number} of {len(packing.sheets)}")
            layouts.append(_layout(sheet, number, job, lambda: not patience.interrupted))
        tell("proving what no plan can beat")
        bound = packing.bound or lower_bound(shapes, containers, _missing(packing, job), _aims(job))
    plan = Plan(
        job=job,
        layouts=tuple(layouts),
        unplaced=_unplaced(packing, job),
        bound=bound,
        seed=seed,
        seconds=time.monotonic() - started,
        stopped=packing.stopped or patience.interrupted,
        cautions=cautions(job.metal, job.machine, max(job.sheets, key=lambda s: s.area)),
    )
    return replace(plan, work=work(plan))


@contextmanager
def _executor(workers: int | Executor) -> Iterator[Executor | None]:
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


def _shapes(job: Job) -> list[Shape]:
    numbers = {part.name: i for i, part in enumerate(job.parts)}
    ranks, levels = due_ranks(job.parts), placing_levels(job.parts)
    return [
        replace(
            _shape(part, job),
            priority=level,
            due=ranks.get(part.due) if part.due else None,
            apart=tuple(numbers[name] for name in part.apart),
        )
        for part, level in zip(job.parts, levels, strict=True)
    ]


def _shape(part: Part, job: Job) -> Shape:
    return Shape(
        name=part.name,
        polygon=part_clearance(part, job.spacing),
        area=part.area,
        quantity=part.quantity,
        rotations=part.rotations,
        flip=part.flip,
        grain=part.grain,
        filler=part.filler,
        most=part.most_per_sheet,
        kit=part.kit,
        need=part.need,
    )


def _container(sheet: Sheet, job: Job) -> Container:
    return Container(
        name=sheet.name,
        room=sheet_room(sheet, job.spacing),
        area=sheet.area,
        quantity=sheet.quantity,
        grain=sheet.grain,
        cost=sheet.cost,
        order=0 if sheet.remnant else 1,
        beyond=max(0.0, job.spacing.spacing / 2 - job.spacing.margin),
    )


def _aims(job: Job) -> Aims:
    money = job.money
    return Aims(money.set_up, money.max_layouts, money.remnant_worth, job.remnant_size)


def _remnants_first(job: Job) -> list[Sheet]:
    """Leftovers of earlier work are used up before a new sheet is opened."""
    return sorted(job.sheets, key=lambda sheet: not sheet.remnant)


def _layout(packed: PackedSheet, number: int, job: Job, go_on: Callable[[], bool]) -> Layout:
    """Turn what was packed into a layout with its cut path and what is left of the sheet."""
    sheet = _remnants_first(job)[packed.container]
    placements = tuple(
        Placement(job.parts[p.shape].name, p.rotation % 360 % 360, p.flip, p.x, p.y)
        for p in packed.placements
    )
    layout = Layout(sheet, placements, packed.runs)
    path = cut_path(layout, job, go_on=go_on)
    used = [placed(job.part(p.part).outer, p) for p in placements]
    used += [lead for cut in path.cuts for lead in (cut.lead_in, cut.lead_out) if lead]
    remnant = leftover(sheet, used, job.spacing, job.remnant_size, f"remnant-{number:03d}")
    return replace(layout, path=path, remnants=() if remnant is None else (remnant,))


def _after_packing(
    packing: Packing, job: Job, started: float, on_progress: OnProgress | None
) -> Callable[[str], None]:
    """Return what tells the caller about the phases that follow the search."""
    placed = sum(len(sheet.placements) * sheet.runs for sheet in packing.sheets)
    wanted = sum(part.quantity for part in job.parts)

    def tell(phase: str) -> None:
        if on_progress is not None:
            seconds = time.monotonic() - started
            on_progress(Progress(seconds, phase, placed=placed, wanted=wanted))

    return tell


def _missing(packing: Packing, job: Job) -> list[int]:
    """How many pieces of each part found no place."""
    missing = [0] * len(job.parts)
    for shape, quantity, _ in packing.unplaced:
        missing[shape] += quantity
    return missing


def _unplaced(packing: Packing, job: Job) -> tuple[Unplaced, ...]:
    return tuple(
        Unplaced(job.parts[shape].name, quantity, reason)
        for shape, quantity, reason in packing.unplaced
        if not job.parts[shape].filler
    )
