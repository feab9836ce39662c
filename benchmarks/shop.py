"""A shop's own work: nestlib against boxes and plain bottom-left filling, on the same sheets."""

from __future__ import annotations

import resource
import sys
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import click

from benchmarks import options
from benchmarks.measured import Measurement, Row, file_of
from benchmarks.pinned import Job as Task
from benchmarks.pinned import run_all
from benchmarks.shop_boxes import MOST_BY_SOLVER, by_shelves, by_solver
from benchmarks.shop_checking import faults
from benchmarks.shop_work import PIECES, shop_job
from nestlib.model import Job, Layout, Plan, Progress
from nestlib.nesting import nest
from nestlib.packing import After, Iterations

KEYS = ("pieces", "seconds", "workers", "seed")

#: Share of the final utilisation that counts as nearly there.
_NEARLY = 0.99

#: Layouts of jobs with no more pieces than this are kept, for pictures.
_KEPT = 200


@dataclass(frozen=True)
class Run:
    """One job.

    Parameters
    ----------
    pieces : int
        Of the job.
    seconds : float
        When to stop improving.
    workers : int
        Processes.
    seed : int
        Of the job and of the search.
    """

    pieces: int
    seconds: float
    workers: int
    seed: int

    @property
    def key(self) -> Row:
        """Return what tells its row from others."""
        return {name: getattr(self, name) for name in KEYS}


@dataclass
class Watch:
    """Notes when a plan was there, how good it was then, and when the search was over."""

    began: float = field(default_factory=time.monotonic)
    curve: list[tuple[float, float]] = field(default_factory=list)
    packed: float | None = None

    def __call__(self, progress: Progress) -> None:
        """Note what is told."""
        now = time.monotonic() - self.began
        if progress.utilisation is not None:
            self.curve.append((now, progress.utilisation))
        if progress.phase.startswith("ordering the cuts") and self.packed is None:
            self.packed = now

    def first(self) -> float | None:
        """Return when the first plan was there."""
        return self.curve[0][0] if self.curve else self.packed

    def reached(self, utilisation: float) -> float | None:
        """Return when a utilisation was reached for good."""
        below = [k for k, (_, u) in enumerate(self.curve) if u < utilisation]
        at = below[-1] + 1 if below else 0
        return self.curve[at][0] if at < len(self.curve) else self.packed


def carry_out(run: Run) -> Row:
    """Lay out one job in all ways."""
    # Loads, or compiles, all kernels: those of the first filling and those of a round.
    nest(shop_job(PIECES[0]), stop=Iterations(1))
    job = shop_job(run.pieces, run.seed)
    watch = Watch()
    plan = nest(job, stop=After(run.seconds), seed=run.seed, workers=run.workers, on_progress=watch)
    took, memory = time.monotonic() - watch.began, _memory()
    remnants = [remnant.area for layout in plan.layouts for remnant in layout.remnants]
    return {
        **run.key,
        "kinds": len(job.parts),
        "part_area": round(sum(p.area * p.quantity for p in job.parts) / 1e6, 4),
        "utilisation": round(plan.utilisation, 5),
        **_figures(job, plan.layouts, _unplaced(plan)),
        "bound_sheets": plan.bound.sheets,
        "bound_cost": round(plan.bound.cost, 2),
        "layouts": len(plan.layouts),
        "remnant": round(max(remnants, default=0.0) / 1e6, 4),
        "first": _rounded(watch.first()),
        "nearly": _rounded(watch.reached(_NEARLY * plan.utilisation)),
        "packed": _rounded(watch.packed),
        "took": round(took, 2),
        "memory": round(memory, 1),
        "others": _others(job, run),
        "kept": _kept(job, plan) if run.pieces <= _KEPT else None,
    }


def _others(job: Job, run: Run) -> dict[str, Row | None]:
    """Lay out the job in the ways of a shop without a search; None where one cannot be had."""
    began = time.monotonic()
    found = {"shelves": _judged(job, by_shelves(job), began)}
    solved = None
    if run.pieces <= MOST_BY_SOLVER:
        began = time.monotonic()
        layouts = by_solver(job, run.seconds, run.workers, run.seed)
        solved = _judged(job, layouts, began)
    watch = Watch()
    plan = nest(job, stop=Iterations(0), seed=run.seed, on_progress=watch)
    plain = {**_figures(job, plan.layouts, _unplaced(plan)), "took": _rounded(watch.packed)}
    return {**found, "solver": solved, "bottom_left": plain}


def _judged(job: Job, layouts: Sequence[Layout], began: float) -> Row:
    """Return the figures of layouts that may leave something out."""
    took = time.monotonic() - began
    made = Plan(job, tuple(layouts), (), bound=None).placed  # type: ignore[arg-type]
    unplaced = {p.name: p.quantity - made[p.name] for p in job.parts}
    return {**_figures(job, layouts, unplaced), "took": round(took, 2)}


def _figures(job: Job, layouts: Sequence[Layout], unplaced: Mapping[str, int]) -> Row:
    """Return what every way is judged by."""
    wrong = faults(job, layouts, unplaced)
    for fault in wrong[:5]:
        click.echo(fault, err=True)
    return {
        "sheets": sum(layout.runs for layout in layouts),
        "area": round(sum(la.sheet.area * la.runs for la in layouts) / 1e6, 4),
        "cost": round(sum((la.sheet.cost or 0.0) * la.runs for la in layouts), 2),
        "unplaced": sum(unplaced.values()),
        "valid": not wrong,
    }


def _unplaced(plan: Plan) -> dict[str, int]:
    return {u.part: u.quantity for u in plan.unplaced}


def _kept(job: Job, plan: Plan) -> list[Row]:
    """Return the layouts in few words: sheet, runs, and index, turn and place of each piece."""
    index = {part.name: k for k, part in enumerate(job.parts)}
    return [
        {
            "sheet": layout.sheet.name,
            "runs": layout.runs,
            "placements": [
                [index[p.part], p.rotation, round(p.x, 2), round(p.y, 2)] for p in layout.placements
            ],
        }
        for layout in plan.layouts
    ]


def _memory() -> float:
    """Return the greatest memory so far in MiB, of this process and the largest of its own."""
    ours = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return (ours + resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss) / 1024


def _rounded(seconds: float | None) -> float | None:
    return None if seconds is None else round(seconds, 2)


@click.command("shop")
@click.option(
    "--pieces",
    type=options.Numbers(),
    default=",".join(map(str, PIECES)),
    show_default=True,
    help="Sizes of jobs.",
)
@options.searched(10.0, seeds="1")
@options.side_by_side
@options.out
def command(
    pieces: tuple[int, ...],
    seconds: float,
    seeds: tuple[int, ...],
    workers: int,
    parallel: int,
    out: Path | None,
) -> None:
    """Lay out jobs as a shop has them, and compare with what it would do otherwise.

    Example: python -m benchmarks shop --pieces 50,200 --seconds 10
    """
    if min(pieces) < PIECES[0]:
        raise click.BadParameter(f"a job has {PIECES[0]} pieces or more", param_hint="--pieces")
    measurement = Measurement(out or file_of("shop", f"{seconds:g}s"), "shop", KEYS)
    runs = [Run(count, seconds, workers, seed) for count in pieces for seed in seeds]
    tasks = [Task(carry_out, (r,), r.workers) for r in runs if not measurement.has(**r.key)]

    def done(_: Task, row: Row) -> None:
        measurement.add(row)
        others = ", ".join(f"{name} {o['cost']:g}" for name, o in row["others"].items() if o)
        click.echo(
            f"{row['pieces']} pieces, seed {row['seed']}: {row['sheets']} sheets, cost "
            f"{row['cost']:g} ({others}), {row['utilisation']:.1%} used"
            f"{'' if row['valid'] else ', NOT valid'}"
        )

    sys.exit(run_all(tasks, parallel, done) > 0)
