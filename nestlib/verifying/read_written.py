"""Read what a plan's `plan.json` says."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from nestlib.errors import InputError, Problem
from nestlib.model import Contour, Part, Placement, Sheet, Source, Spacing, Support
from nestlib.tolerances import JOIN
from nestlib.verifying.costs import read_work
from nestlib.verifying.fields import Field
from nestlib.verifying.pace import read_pace
from nestlib.verifying.program import Dialect
from nestlib.verifying.written import (
    NO_PIECE,
    ROLES,
    SHOWN,
    WrittenCut,
    WrittenEntry,
    WrittenJoint,
    WrittenKit,
    WrittenLayout,
    WrittenPart,
    WrittenPlan,
    WrittenProgram,
    WrittenRemnant,
    WrittenSaving,
    WrittenSingly,
    WrittenSkeletonPiece,
)

#: Those that plans of older versions do not have.
_LATER = ("joint", "shared", "around", "bundled", "lead_out", "skeleton", "cut_off")

#: No plan saves so many pierces, or wastes them.
_MOST_PIERCES = 10**9

#: Cuts of pieces, and those in what is left around them.
_OF_PIECES, _OF_NONE = ("mark", "inner", "outer", "shared", "around"), ("skeleton", "cut_off")

#: More problems than this help nobody.
_MOST_PROBLEMS = 20


def read_plan(folder: Path) -> WrittenPlan:
    """Read the `plan.json` of a written plan.

    Parameters
    ----------
    folder : Path
        The plan's folder.

    Returns
    -------
    WrittenPlan

    Raises
    ------
    InputError
        If there is no such folder or plan, or it is not what the format demands, with
        all the problems found.
    """
    path = folder / "plan.json"
    problems: list[Problem] = []
    root = Field(_load(folder, path), problems, str(path))
    if root["format"].text() != "nestlib-plan" or root["version"].whole() != 1:
        raise InputError(
            Problem(str(path), "", "this is not a plan of format nestlib-plan, version 1",
                    "Name the folder that nestlib wrote")
        )  # fmt: skip
    plan = _plan(folder, root)
    if problems:
        raise InputError(problems[:_MOST_PROBLEMS])
    return plan


def _load(folder: Path, path: Path) -> Any:
    """The content of a JSON file, refusing NaN and infinities."""
    if not folder.is_dir():
        raise InputError(
            Problem(str(folder), "", "there is no such folder", "Name the folder of a plan")
        )
    try:
        return json.loads(path.read_text(encoding="utf-8"), parse_constant=_refuse)
    except FileNotFoundError:
        path, what, remedy = folder, "there is no plan.json in it", "Name the folder of a plan"
    except OSError as error:
        what, remedy = f"the file cannot be read: {error.strerror}", "Check the file"
    except (ValueError, RecursionError) as error:
        what, remedy = f"this is not valid JSON: {error}", "Write the plan again"
    raise InputError(Problem(str(path), "", what, remedy))


def _refuse(constant: str) -> None:
    raise ValueError(f"{constant} is not a number")


def _plan(folder: Path, root: Field) -> WrittenPlan:
    sheets = _by_name(root["sheets"], _sheet, lambda s: s.name)
    parts = _by_name(root["parts"], _part, lambda p: p.part.name)
    job, spacing = root["job"], root["spacing"]
    layouts = tuple(_layout(f, sheets, parts) for f in root["layouts"])
    remnants = _by_name(root["remnants"], lambda f: _remnant(f, len(layouts)), lambda r: r.name)
    return WrittenPlan(
        folder=folder,
        layers=_layers(root["layers"]),
        over_openings=_over_openings(job),
        entry=_entry(job),
        cut_off=job["unloading"]["cut_off"].text() if job.has("unloading") else "none",
        edge_overrun=_edge_overrun(job),
        support=_support(job["machine"]) if job.has("machine") else None,
        spacing=Spacing(*(spacing[key].number(0) for key in ("kerf", "spacing", "margin"))),
        thickness=job["metal"]["thickness"].number(0),
        density=job["metal"]["density"].number(0),
        parts=parts,
        sheets=sheets,
        layouts=layouts,
        unplaced=tuple((f["part"].text(), f["quantity"].whole(1)) for f in root["unplaced"]),
        remnants=tuple(remnants.values()),
        kits=tuple(_kit(f) for f in root["kits"]) if root.has("kits") else (),
        utilisation=root["utilisation"].number(0),
        weight=root["weight"].number(0),
        cost=_optional(root["cost"], Field.number),
        least_sheets=root["bound"]["sheets"].whole(),
        least_cost=_optional(root["bound"]["cost"], Field.number),
        work=read_work(root),
        least_net_cost=_later(root["bound"], "net_cost", Field.number),
        saving=_later(root, "saved_by_sharing", _saving),
        program=_later(root, "program", lambda f: _program(f, len(layouts))),
        **_money(root),
        **_heat(job),
        pace=read_pace(job) if job.has("machine") else None,
    )


def _program(field: Field, layouts: int) -> WrittenProgram:
    files = tuple(_file_name(f) for f in field["files"])
    if len(files) != layouts:
        field["files"].wrong("one program for each layout is needed")
        files = (*files, *[""] * layouts)[:layouts]
    words = [field["words"][key].text() for key in ("beam_on", "mark_on", "beam_off")]
    unit = {"mm": 1.0, "inch": 25.4}.get(field["units"].text())
    if unit is None:
        field["units"].wrong("the units of programs are mm or inch")
    return WrittenProgram(
        files=files,
        dialect=Dialect(words[0], words[1], words[2], field["centres"].text() == "absolute"),
        in_path=field["kerf"].text() == "in path",
        step=(unit or 1.0) / 10.0 ** field["decimals"].whole(1),
        checked_by=field["checked_by"].text(),
        dwell=1e-3 if _later(field, "dwell", Field.text) == "milliseconds" else 1.0,
    )


def _file_name(field: Field) -> str:
    """The name of a file in the plan's folder."""
    name = field.text()
    if Path(name).name != name or name in ("", ".", ".."):
        field.wrong(f"'{name}' is not the name of a file in the plan's folder")
    return name


def _layers(field: Field) -> dict[str, str]:
    """Role -> layer."""
    roles = (*ROLES, *SHOWN)
    return {role: field[role].text() for role in roles if role not in _LATER or field.has(role)}


def _over_openings(job: Field) -> bool:
    return job.has("holding") and job["holding"]["over_openings"].flag()


def _entry(job: Field) -> WrittenEntry:
    if not job.has("entry"):
        return WrittenEntry()
    said = job["entry"]
    return WrittenEntry(
        said["over_cut"].number(0), said["end_gap"].number(0), said["lead_out"].text()
    )


def _support(machine: Field) -> Support | None:
    """What a sheet lies on; None if the plan does not say."""
    if not machine.has("support") or not machine["support"].given:
        return None
    field = machine["support"]
    pitch = field["pitch"].point()
    if min(pitch) <= 0:
        field["pitch"].wrong("a pitch above 0 is needed")
        return None
    offset = field["offset"].point() if field["offset"].given else None
    return Support(field["kind"].text(), pitch, offset, field["along"].text())


def _heat(job: Field) -> dict[str, float]:
    """How far apart cuts are to begin in mm, and the wait in s; older plans do not tell."""
    if not job.has("heat"):
        return {}
    heat = job["heat"]
    distance, seconds, wait = (heat[key].number(0) for key in ("distance", "seconds", "wait"))
    travel = seconds * job["machine"]["rapid"].number(0) / 60
    return {"heat_apart": max(distance, travel), "heat_wait": wait}


def _money(root: Field) -> dict[str, Any]:
    """What counts besides the price of the sheets; older plans do not tell."""
    if not root["job"].has("money"):
        return {}
    money = root["job"]["money"]
    told = {key: money[key].number(0) for key in ("set_up", "remnant_worth")}
    counted = ("set_up_cost", "remnant_value", "net_cost")
    return {**told, **{key: _optional(root[key], Field.number) for key in counted}}


def _by_name(
    fields: Field, read: Callable[[Field], Any], name: Callable[[Any], str]
) -> dict[str, Any]:
    """Read a list of things with unique names."""
    found: dict[str, Any] = {}
    for field in fields:
        thing = read(field)
        if name(thing) in found:
            field.wrong(f"the name '{name(thing)}' stands here a second time")
        found[name(thing)] = thing
    return found


def _edge_overrun(job: Field) -> float:
    """How far cuts run on beyond the edge; nothing of it stands in older plans."""
    if job.has("unloading") and job["unloading"].has("edge_overrun"):
        return job["unloading"]["edge_overrun"].number(0)
    return 0.0


def _sheet(field: Field) -> Sheet:
    return Sheet(
        name=field["name"].text(),
        outline=_contour(field["outline"]),
        holes=tuple(_contour(f) for f in field["holes"]),
        keep_outs=tuple(_contour(f) for f in field["keep_outs"]),
        quantity=_optional(field["quantity"], Field.whole),
        grain=field["grain"].number(),
        cost=_optional(field["cost"], Field.number),
    )


def _part(field: Field) -> WrittenPart:
    contours, rotations, source = field["contours"], field["rotations"], field["source"]
    part = Part(
        name=field["name"].text(),
        outer=_contour(contours["outer"]),
        inners=tuple(_contour(f) for f in contours["inners"]),
        marks=tuple(_contour(f) for f in contours["marks"]),
        quantity=field["quantity"].whole(),
        rotations=tuple(f.number() for f in rotations) if rotations.given else None,
        flip=field["flip"].flag(),
        grain=_optional(field["grain"], Field.number),
        filler=field["filler"].flag(),
        due=_later(field, "due", Field.day),
        most_per_sheet=_later(field, "most_per_sheet", lambda f: f.whole(1)),
        apart=tuple(f.text() for f in field["apart"]) if field.has("apart") else (),
        kit=_later(field, "kit", Field.text) or "",
        critical=tuple(f.text() for f in field["critical"]) if field.has("critical") else (),
        source=_source(source) if source.given else None,
        common_lines=_later(field, "common_lines", Field.flag) or False,
    )
    sha = (_optional(source["sha256"], Field.text) or "") if source.given else ""
    return WrittenPart(
        part=part,
        placed=field["placed"].whole(),
        area=field["area"].number(0),
        sha256=sha,
        last_layout=_later(field, "last_layout", lambda f: f.whole(1)),
        work=read_work(field),
    )


def _kit(field: Field) -> WrittenKit:
    return WrittenKit(
        name=field["name"].text(),
        parts=tuple(f.text() for f in field["parts"]),
        layouts=tuple(f.whole(1) for f in field["layouts"]),
    )


def _source(field: Field) -> Source:
    return Source(
        file=field["file"].text(),
        index=field["index"].whole(),
        origin=field["origin"].point(),
        units=field["units"].text(),
        join=field["join"].number(0) if field.has("join") else JOIN,
    )


def _layout(field: Field, sheets: dict[str, Sheet], parts: dict[str, WrittenPart]) -> WrittenLayout:
    sheet, dxf = field["sheet"].text(), _file_name(field["dxf"])
    if sheet not in sheets:
        field["sheet"].wrong(f"the plan has no sheet '{sheet}'")
    placements = tuple(_placement(f, parts) for f in field["placements"])
    return WrittenLayout(
        sheet=sheets.get(sheet) or Sheet("", Contour.rectangle(1, 1)),
        runs=field["runs"].whole(1),
        dxf=dxf,
        utilisation=field["utilisation"].number(0),
        placements=placements,
        path=tuple(_cut(f, len(placements)) for f in field["path"]),
        cut_length=field["cut_length"].number(0),
        mark_length=field["mark_length"].number(0),
        rapid_length=field["rapid_length"].number(0),
        pierces=field["pierces"].whole(),
        joints=_later(field, "joints", Field.whole),
        lifts=_later(field, "lifts", Field.whole),
        lifted_length=_later(field, "lifted_length", lambda f: f.number(0)),
        work=read_work(field),
        singly=_later(field, "singly", _singly),
        skeleton=tuple(_skeleton_piece(f) for f in field["skeleton"])
        if field.has("skeleton")
        else (),
    )


def _singly(field: Field) -> WrittenSingly:
    seconds = _optional(field["seconds"], Field.number)
    return WrittenSingly(field["cut_length"].number(0), field["pierces"].whole(), seconds)


def _saving(field: Field) -> WrittenSaving:
    return WrittenSaving(
        field["shared_cuts"].whole(),
        field["cut_length"].number(),
        field["pierces"].whole(-_MOST_PIERCES),
        _optional(field["seconds"], Field.number),
    )


def _skeleton_piece(field: Field) -> WrittenSkeletonPiece:
    area, weight = (field[key].number(0) for key in ("area", "weight"))
    return WrittenSkeletonPiece(area, weight, field["size"].point())


def _placement(field: Field, parts: dict[str, WrittenPart]) -> Placement:
    name = field["part"].text()
    if name not in parts:
        field["part"].wrong(f"the plan has no part '{name}'")
    return Placement(
        part=name,
        rotation=field["rotation"].number(),
        flip=field["flip"].flag(),
        x=field["x"].number(),
        y=field["y"].number(),
    )


def _cut(field: Field, placements: int) -> WrittenCut:
    role, lead = field["role"].text(), field["lead"]
    placement = NO_PIECE if role in _OF_NONE else field["placement"].whole()
    if placement >= placements:
        field["placement"].wrong(f"the layout has no placement {placement}")
    if placement == NO_PIECE and field["placement"].given:
        field["placement"].wrong(f"a cut of the kind {role} belongs to no placement")
    if role not in (*_OF_PIECES, *_OF_NONE):
        field["role"].wrong(f"'{role}' is none of {', '.join((*_OF_PIECES, *_OF_NONE))}")
    return WrittenCut(
        order=field["order"].whole(),
        placement=placement,
        role=role,
        index=field["index"].whole(),
        start=field["start"].point(),
        pierce=field["pierce"].point(),
        lead=_contour(lead, closed=False) if lead.given else None,
        contour=_contour(field["contour"]),
        length=field["length"].number(0),
        joints=tuple(_joint(f) for f in field["joints"]) if field.has("joints") else (),
        fate=_later(field, "fate", Field.text),
        lifted=_later(field, "lifted", Field.flag),
        via=tuple(f.point() for f in field["via"]) if field.has("via") else (),
        pieces=tuple(_piece(f, placements) for f in field["pieces"]) if field.has("pieces") else (),
        lead_out=_later(field, "lead_out", lambda f: _contour(f, closed=False)),
        over_cut=_later(field, "over_cut", lambda f: f.number(0)) or 0.0,
        end_gap=_later(field, "end_gap", lambda f: f.number(0)) or 0.0,
        wait=_later(field, "wait", lambda f: f.number(0)) or 0.0,
        times=_later(field, "work", _times),
    )


def _piece(field: Field, placements: int) -> int:
    number = field.whole()
    if number >= placements:
        field.wrong(f"the layout has no placement {number}")
    return number


def _times(field: Field) -> tuple[float | None, float | None]:
    """Time with the beam on and of all else, each None if it is not stated."""
    cutting, marking, piercing, moving = (
        _optional(field[key], Field.number) for key in ("cutting", "marking", "piercing", "moving")
    )
    beam = None if None in (cutting, marking, piercing) else cutting + marking + piercing
    return beam, moving


def _joint(field: Field) -> WrittenJoint:
    return WrittenJoint(*(field[key].number(0) for key in ("at", "width", "gap")))


def _remnant(field: Field, layouts: int) -> WrittenRemnant:
    layout = field["layout"].whole()
    if layout >= layouts:
        field["layout"].wrong(f"the plan has no layout {layout}")
    return WrittenRemnant(
        name=field["name"].text(),
        layout=layout,
        sheet=field["sheet"].text(),
        runs=field["runs"].whole(1),
        outline=_contour(field["outline"]),
        area=field["area"].number(0),
    )


def _contour(field: Field, closed: bool | None = None) -> Contour:
    """A contour; `closed` says whether it is, where the file does not."""
    points = [f.point() for f in field["points"]]
    bulges = [f.number() for f in field["bulges"]]
    if closed is None:
        closed = field["closed"].flag()
    if len(points) < 2 or len(points) != len(bulges):
        if field.given:
            field.wrong("a contour needs two or more points and as many bulges")
        return Contour.rectangle(1, 1)
    return Contour(points, bulges, closed)


def _optional(field: Field, read: Callable[[Field], Any]) -> Any:
    return read(field) if field.value is not None else None


def _later(field: Field, key: str, read: Callable[[Field], Any]) -> Any:
    """A value that plans of older versions do not have."""
    return _optional(field[key], read) if field.has(key) else None
