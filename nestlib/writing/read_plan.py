"""From ``plan.json`` back to the plan, whole enough to make every output again."""

from __future__ import annotations

import os
from datetime import date
from pathlib import Path
from typing import Any

from nestlib.model.contour import Contour
from nestlib.model.entry import Entry
from nestlib.model.job import Holding, Job, Money, Spacing, Unloading
from nestlib.model.layout import (
    NO_PIECE,
    Bundle,
    Cut,
    CutPath,
    Joint,
    Layout,
    Placement,
    Remnant,
    SkeletonPiece,
)
from nestlib.model.machine import CutSetting, Machine, Support
from nestlib.model.metal import Material, Metal
from nestlib.model.order import OrderLine
from nestlib.model.part import Part, Source
from nestlib.model.plan import Bound, Plan, Unplaced, Verification, Violation
from nestlib.model.sheet import Sheet
from nestlib.model.work import Cost, Effort, Work
from nestlib.tolerances import JOIN
from nestlib.writing.folder import PLAN
from nestlib.writing.plan_json import PLAN_FILE, VERSION
from nestlib.writing.records import load_record, record_problem

Record = dict[str, Any]


def read_plan(folder: str | Path) -> Plan:
    """Read a plan back from its folder.

    Parameters
    ----------
    folder : str or Path
        A plan folder, or its ``plan.json``.

    Returns
    -------
    Plan

    Raises
    ------
    InputError
        If there is no plan, or it is damaged or of a later version.
    """
    path = Path(folder)
    path = path / PLAN_FILE if path.is_dir() else path
    record = load_record(path, PLAN, VERSION)
    try:
        return plan_from_record(_seen_from_here(path.parent, record))
    except (KeyError, TypeError, ValueError, IndexError, AttributeError) as error:
        problem = f"the plan is damaged ({error!r})"
        raise record_problem(path, problem, "Make the plan again") from error


def _seen_from_here(folder: Path, record: Record) -> Record:
    """Undo what `write_plan_record` does to the names of files."""
    sources = [(record["job"], "source")]
    sources += [(part["source"], "file") for part in record["parts"] if part["source"]]
    for owner, key in sources:
        if owner[key]:
            owner[key] = os.path.normpath(folder / owner[key])
    return record


def plan_from_record(record: Record) -> Plan:
    """Return the plan that `plan_record` was given.

    Parameters
    ----------
    record : dict
        As `plan_schema` describes it.

    Returns
    -------
    Plan
    """
    job = _job(record)
    return Plan(
        job=job,
        layouts=tuple(_layout(r, i, job, record) for i, r in enumerate(record["layouts"])),
        unplaced=tuple(Unplaced(**r) for r in record["unplaced"]),
        bound=_bound(record["bound"]),
        seed=record["seed"],
        seconds=record["seconds"],
        stopped=record["stopped"],
        cautions=tuple(record["cautions"]),
        verification=_verification(record["verification"]),
        work=_work(record),
        hold=record.get("hold", ""),
    )


def _contour(r: Record) -> Contour:
    return Contour(r["points"], r["bulges"], r.get("closed", False))


def _contours(records: list[Record]) -> tuple[Contour, ...]:
    return tuple(_contour(r) for r in records)


def _job(record: Record) -> Job:
    job = record["job"]
    return Job(
        title=record["title"],
        parts=tuple(_part(r) for r in record["parts"]),
        sheets=tuple(_sheet(r) for r in record["sheets"]),
        metal=_metal(job["metal"]),
        machine=_machine(job["machine"]),
        spacing=Spacing(**record["spacing"]),
        currency=job["currency"],
        remnant_size=job["remnant_size"],
        money=Money(**job.get("money", {})),
        holding=Holding(**job.get("holding", {})),
        heat_distance=job.get("heat", {}).get("distance", 0.0),
        heat_seconds=job.get("heat", {}).get("seconds", 0.0),
        heat_wait=job.get("heat", {}).get("wait", 0.0),
        unloading=Unloading(**job.get("unloading", {})),
        entry=Entry(**job.get("entry", {})),
        source=job["source"],
        digest=job.get("digest", ""),
    )


def _metal(r: Record) -> Metal:
    material = Material(
        r["name"], r["family"], r["title"], r["density"], r["density_source"], r["gauge_table"]
    )
    return Metal(material, r["thickness"], r["gauge"])


def _machine(r: Record) -> Machine:
    length, width = r["bed"]
    settings = tuple(CutSetting(**s) for s in r["settings"])
    prices = tuple(sorted(r.get("gas_prices", {}).items()))
    own = {
        "bed": (length, width),
        "settings": settings,
        "gas_prices": prices,
        "assumed": tuple(r.get("assumed", ())),
        "support": _support(r.get("support")),
    }
    return Machine(**{**r, **own})


def _support(r: Record | None) -> Support | None:
    if r is None:
        return None
    (px, py), offset = r["pitch"], r["offset"]
    return Support(
        r["kind"], (px, py), None if offset is None else (offset[0], offset[1]), r["along"]
    )


def _part(r: Record) -> Part:
    contours, turns = r["contours"], r["rotations"]
    return Part(
        name=r["name"],
        outer=_contour(contours["outer"]),
        inners=_contours(contours["inners"]),
        marks=_contours(contours["marks"]),
        quantity=r["quantity"],
        rotations=None if turns is None else tuple(turns),
        flip=r["flip"],
        grain=r["grain"],
        priority=r["priority"],
        filler=r["filler"],
        # Plans of older versions do not have these.
        due=date.fromisoformat(r["due"]) if r.get("due") else None,
        most_per_sheet=r.get("most_per_sheet"),
        apart=tuple(r.get("apart", ())),
        kit=r.get("kit", ""),
        need=r.get("need", 1.0),
        joints=r.get("joints"),
        critical=tuple(r.get("critical", ())),
        orders=tuple(_order(o) for o in r.get("orders", ())),
        common_lines=r.get("common_lines", False),
        source=_source(r["source"]),
    )


def _order(r: Record) -> OrderLine:
    due = date.fromisoformat(r["due"]) if r["due"] else None
    return OrderLine(r["line"], r["quantity"], due, r["each"])


def _source(r: Record | None) -> Source | None:
    if r is None:
        return None
    x, y = r["origin"]
    return Source(r["file"], r["index"], (x, y), r["units"], r["sha256"], r.get("join", JOIN))


def _sheet(r: Record) -> Sheet:
    contours = {
        "outline": _contour(r["outline"]),
        "holes": _contours(r["holes"]),
        "keep_outs": _contours(r["keep_outs"]),
    }
    return Sheet(**{**r, **contours})


def _layout(r: Record, number: int, job: Job, record: Record) -> Layout:
    cuts = tuple(_cut(c) for c in r["path"])
    return Layout(
        sheet=job.sheet(r["sheet"]),
        placements=tuple(Placement(**p) for p in r["placements"]),
        runs=r["runs"],
        path=CutPath(
            cuts,
            tuple(r["warnings"]),
            tuple(_skeleton_piece(p) for p in r.get("skeleton", ())),
        ),
        bundles=tuple(_bundle(cut, cuts) for cut in cuts if cut.role == "around"),
        singly=_effort(r["singly"]) if r.get("singly") else None,
        remnants=tuple(
            Remnant(m["name"], _contour(m["outline"]))
            for m in record["remnants"]
            if m["layout"] == number
        ),
    )


def _skeleton_piece(r: Record) -> SkeletonPiece:
    wide, high = r["size"]
    return SkeletonPiece(r["area"], (wide, high))


def _cut(r: Record) -> Cut:
    lead = None if r["lead"] is None else _contour(r["lead"])
    return Cut(
        NO_PIECE if r["placement"] is None else r["placement"],
        r["role"],
        r["index"],
        _contour(r["contour"]),
        lead,
        # Plans of older versions do not have these.
        tuple(Joint(**j) for j in r.get("joints", ())),
        r.get("fate"),
        r.get("lifted", False),
        tuple((x, y) for x, y in r.get("via", ())),
        tuple(r.get("pieces", ())),
        _contour(r["lead_out"]) if r.get("lead_out") else None,
        r.get("over_cut", 0.0),
        r.get("end_gap", 0.0),
        r.get("wait", 0.0),
    )


def _bundle(around: Cut, cuts: tuple[Cut, ...]) -> Bundle:
    """The pieces that a cut goes around, with the lines that they share."""
    lines = [c for c in cuts if c.role == "shared" and c.pieces == around.pieces]
    shared = tuple(c.contour for c in sorted(lines, key=lambda c: c.index))
    return Bundle(around.pieces, around.contour.oriented(ccw=True), shared)


def _bound(r: Record) -> Bound:
    cost = float("nan") if r["cost"] is None else r["cost"]
    # Older plans prove nothing about the net cost.
    return Bound(r["sheets"], cost, r["method"], r.get("net_cost") or 0.0)


def _work(record: Record) -> Work | None:
    """Times and costs; plans of older versions do not have them."""
    whole, layouts, parts = record.get("work"), record["layouts"], record["parts"]
    if whole is None:
        return None
    return Work(
        cuts=tuple(tuple(_effort(cut["work"]) for cut in r["path"]) for r in layouts),
        layouts=tuple(_effort(r["work"]["effort"]) for r in layouts),
        layout_costs=tuple(_cost(r["work"]["cost"]) for r in layouts),
        parts={r["name"]: _effort(r["work"]["effort"]) for r in parts},
        part_costs={r["name"]: _cost(r["work"]["cost"]) for r in parts},
        total=_effort(whole["effort"]),
        cost=_cost(whole["cost"]),
        not_stated=tuple(whole["not_stated"]),
        basis=whole["basis"],
        second_price=whole["second_price"],
        gas_price=whole["gas_price"],
    )


def _effort(r: Record) -> Effort:
    return Effort(**{key: value for key, value in r.items() if key != "seconds"})


def _cost(r: Record) -> Cost:
    return Cost(**{key: value for key, value in r.items() if key != "total"})


def _verification(r: Record | None) -> Verification | None:
    if r is None:
        return None
    return Verification(
        violations=tuple(_violation(v) for v in r["violations"]),
        between_parts=r["between_parts"],
        to_edge=r["to_edge"],
        largest_deviation=r["largest_deviation"],
        pieces=r["pieces"],
        notes=tuple(r["notes"]),
    )


def _violation(r: Record) -> Violation:
    place = None if r["place"] is None else (r["place"][0], r["place"][1])
    return Violation(r["code"], r["layout"], r["message"], place)
