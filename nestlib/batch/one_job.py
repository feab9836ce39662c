"""One job of a batch, from its file to its plan folder, in whatever process runs it."""

from __future__ import annotations

import json
import shutil
import time
import traceback
from collections.abc import Sequence
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from nestlib.batch.digest import is_list, job_digest
from nestlib.errors import NestlibError

if TYPE_CHECKING:
    from nestlib.model import Job, Plan

State = Literal["done", "done before", "incomplete", "failed", "not begun"]


@dataclass(frozen=True)
class Task:
    """What is to be nested, and how.

    Parameters
    ----------
    job, folder : str
        Path of the job file or part list; folder that its plan gets.
    how : dict
        What changes the plan, as plain data: ``seed``, ``seconds``, ``iterations``,
        ``max_layouts``, ``dxf_version``, ``template``, ``force``.
    for_list : dict
        What a part list needs besides: arguments of `nestlib.job_from_list`.
    overwrite : bool
        Whether an older plan in the folder may be replaced.
    """

    job: str
    folder: str
    how: dict[str, Any] = field(default_factory=dict)
    for_list: dict[str, Any] = field(default_factory=dict)
    overwrite: bool = False


@dataclass(frozen=True)
class Outcome:
    """What became of a task.

    Parameters
    ----------
    job, folder : str
        As in `Task`.
    state : str
        ``"done"``; ``"done before"``: its finished plan was there; ``"incomplete"``: a piece
        found no place, or a check failed; ``"failed"``; ``"not begun"``.
    message : str
        Why it failed, what is missing, or what was read otherwise than a drawing says.
    sheets, missing : int
        Sheets that are cut; pieces that found no place.
    utilisation, cost : float, or None
        As in `Plan`.
    seconds : float
        Time it took, from reading the job to writing its plan.
    trace : str
        Where an internal error came from; empty otherwise.
    """

    job: str
    folder: str
    state: State
    message: str = ""
    sheets: int = 0
    missing: int = 0
    utilisation: float | None = None
    cost: float | None = None
    seconds: float = 0.0
    trace: str = ""

    def record(self) -> dict[str, Any]:
        """Return the same as plain data."""
        return {key: value for key, value in asdict(self).items() if key != "trace"}


def nest_one(task: Task) -> Outcome:
    """Nest one job, unless its finished plan is there; whatever goes wrong is told.

    Parameters
    ----------
    task : Task
        Sent to another process, and the answer sent back.
    """
    began = time.perf_counter()
    try:
        outcome = _nested(task)
    except NestlibError as error:
        outcome = Outcome(task.job, task.folder, "failed", str(error))
    except Exception as error:  # one bad job must not stop the others
        words = f"an internal error ({type(error).__name__}: {error})"
        trace = traceback.format_exc()
        outcome = Outcome(task.job, task.folder, "failed", words, trace=trace)
    return replace(outcome, seconds=time.perf_counter() - began)


def _nested(task: Task) -> Outcome:
    digest = job_digest(task.job, {**task.how, **task.for_list})
    before = _finished(task, digest)
    if before is not None:
        return before
    from nestlib.handover import write, write_programs
    from nestlib.nesting import nest
    from nestlib.writing import demand_free, read_template

    folder, how = Path(task.folder), task.how
    _clear_up(folder)
    demand_free(folder, overwrite=task.overwrite)
    _demand_not_held(folder)
    if how.get("template"):
        read_template(how["template"])
    job = replace(_job(task), digest=digest)
    plan = nest(job, stop=_stop(how), seed=how.get("seed", 0))
    version = how.get("dxf_version", "R2010")
    plan = write(plan, folder, dxf_version=version, overwrite=task.overwrite)
    if how.get("template"):
        plan = write_programs(folder, how["template"])
    return _outcome(task, plan)


def _demand_not_held(folder: Path) -> None:
    """A plan from the rack is not replaced, since its sheets would stay held."""
    if folder.exists():
        from nestlib.from_stock import demand_not_held  # loads what databases need

        demand_not_held(folder)


def _job(task: Task) -> Job:
    from nestlib.loading import job_from_list, read_job

    force = bool(task.how.get("force"))
    if is_list(Path(task.job)):
        job = job_from_list(task.job, force=force, **task.for_list)
    else:
        job = read_job(task.job, force=force)
    most = task.how.get("max_layouts")
    return job if most is None else replace(job, money=replace(job.money, max_layouts=most))


def _stop(how: dict[str, Any]) -> Any:
    from nestlib.packing.stopping import stop_after

    return stop_after(how.get("seconds"), how.get("iterations"))


def _outcome(task: Task, plan: Plan) -> Outcome:
    passed = plan.verification is not None and plan.verification.passed
    missing = [(u.quantity, u.part, u.reason) for u in plan.unplaced]
    figures = {
        "sheets": plan.sheets_used,
        "utilisation": plan.utilisation,
        "cost": plan.cost,
    }
    outcome = _told(task, "done", missing, passed, figures)
    words = "; ".join(filter(None, (outcome.message, *plan.job.cautions)))
    return replace(outcome, message=words)


def _finished(task: Task, digest: str) -> Outcome | None:
    """Outcome of a plan that is there already, made from exactly this job; None if it is not."""
    from nestlib.writing.plan_json import PLAN_FILE

    try:
        record = json.loads((Path(task.folder) / PLAN_FILE).read_text(encoding="utf-8"))
        if record["job"].get("digest") != digest or record["stopped"]:
            return None
        passed = bool((record["verification"] or {}).get("passed"))
        if task.how.get("template") and record.get("program") is None:
            return None
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return None
    missing = [(u["quantity"], u["part"], u["reason"]) for u in record["unplaced"]]
    figures = {
        "sheets": sum(layout["runs"] for layout in record["layouts"]),
        "utilisation": record["utilisation"],
        "cost": record["cost"],
    }
    return _told(task, "done before", missing, passed, figures)


def _told(
    task: Task,
    state: State,
    missing: Sequence[tuple[int, str, str]],
    passed: bool,
    figures: dict[str, Any],
) -> Outcome:
    """The outcome of a plan; it is incomplete if a piece is missing or a check failed."""
    words = [f"{number} x {part}: {reason}" for number, part, reason in missing]
    words += [] if passed else ["the plan breaks a rule"]
    return Outcome(
        task.job,
        task.folder,
        "incomplete" if words else state,
        "; ".join(words),
        missing=sum(number for number, _, _ in missing),
        **figures,
    )


def _clear_up(folder: Path) -> None:
    """Remove drafts that a run which was killed has left; the caller holds the lock."""
    for draft in folder.parent.glob(f".{folder.name}.????????.part"):
        shutil.rmtree(draft, ignore_errors=True)
