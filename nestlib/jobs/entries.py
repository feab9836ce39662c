"""What one entry of a job or of a part list says."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Annotated, Literal

from pydantic import (
    AfterValidator,
    BeforeValidator,
    Field,
    PlainValidator,
    ValidationInfo,
    model_validator,
)

from nestlib.errors import InputError, Problem
from nestlib.input_files import similar_file
from nestlib.jobs.days import day
from nestlib.jobs.orders import OrderEntry, orders_of
from nestlib.validation import Table, fault, fault_from, shown

#: More pieces of one part than this are a slip of the keyboard.
MOST = 100_000

#: How a part may turn where nobody says.
QUARTER_TURNS = (0.0, 90.0, 180.0, 270.0)


def _accept(*_: str) -> None:
    """Accept anything: what is looked up where nobody says how."""


@dataclass(frozen=True)
class LookUps:
    """How to check names that other packages know; each raises `InputError` on a bad one.

    Parameters
    ----------
    folder : Path
        What relative paths in the file are relative to.
    metal, machine, size, units, parts : callable
        Checks the name of a metal, a machine, a sheet size, a unit, a part list.
    thickness : callable
        Checks a thickness, given the metal's name as well; that is empty if it is not known.
    """

    folder: Path = Path()
    metal: Callable[[str], object] = _accept
    machine: Callable[[str], object] = _accept
    size: Callable[[str], object] = _accept
    units: Callable[[str], object] = _accept
    parts: Callable[[str], object] = _accept
    thickness: Callable[[str, str], object] = _accept


def look_up(value: str, info: ValidationInfo) -> str:
    """Check a value as the look-ups of its field's name say.

    Used by pydantic as a validator.
    """
    check = getattr(_look_ups(info), info.field_name or "", _accept)
    arguments = [value]
    if info.field_name == "thickness":
        arguments.append(info.data.get("metal", ""))
    try:
        check(*arguments)
    except InputError as error:
        raise fault_from(error) from None
    return value


def resolve(folder: Path, text: str) -> Path:
    """Return a path as somebody wrote it, with slashes of either kind."""
    return folder / text.replace("\\", "/")


def _look_ups(info: ValidationInfo) -> LookUps:
    return info.context if isinstance(info.context, LookUps) else LookUps()


def _existing(value: str, info: ValidationInfo) -> str:
    path = resolve(_look_ups(info).folder, value)
    try:
        if path.is_file():
            return value
        if path.is_dir():
            raise fault(f"{shown(value)} is a folder, not a drawing")
        raise fault(f"there is no drawing {shown(value)}", similar_file(path))
    except OSError as error:
        raise fault(f"{shown(value)} cannot be looked up ({error.strerror})") from None


def _rotations(value: object) -> str | tuple[float, ...]:
    """Understand "any", "grain", [0, 90] and, in a cell, "0 90"."""
    angles = value
    if isinstance(value, str):
        words = value.strip().lower()
        if words in ("any", "grain"):
            return words
        angles = [_angle(word) for word in re.split(r"[\s;,/|]+", words) if word]
    elif isinstance(value, int | float) and not isinstance(value, bool):
        angles = [value]
    if not isinstance(angles, list) or not angles or not all(_is_angle(a) for a in angles):
        raise fault(f"{shown(value)} is not a way to turn")
    return tuple(sorted({float(v) % 360.0 for v in angles}))


def _angle(word: str) -> float | str:
    try:
        return float(word)
    except ValueError:
        return word


def _is_angle(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) <= 3600


def _names(value: object) -> tuple[str, ...]:
    """Understand one name and a list of names."""
    names = [value] if isinstance(value, str) else value
    if not isinstance(names, list) or not all(isinstance(n, str) and n.strip() for n in names):
        raise fault(f"{shown(value)} is not a name or a list of names")
    return tuple(dict.fromkeys(name.strip() for name in names))


def _edges(value: object) -> tuple[str, ...]:
    """Understand the edges that carry no joint."""
    names = tuple(name.lower() for name in _names(value))
    unknown = next((name for name in names if name not in EDGES), None)
    if unknown is not None:
        raise fault(f"{shown(unknown)} is no edge of a part", f"Choose from: {', '.join(EDGES)}")
    return names


#: Edges of a part that may be critical.
EDGES = ("outer", "holes", "left", "right", "top", "bottom")

Joints = Literal["none", "tipping", "all"]
DrawingPath = Annotated[str, Field(min_length=1), AfterValidator(_existing)]
Units = Annotated[str, AfterValidator(look_up)]


class PartEntry(Table):
    """One part to cut, or all parts of one drawing."""

    drawing: DrawingPath = Field(description='the path of a drawing, for example "base.dxf"')
    name: str = Field(default="", description="a name for the part; that of the drawing by default")
    index: int | None = Field(
        default=None, ge=1, description="which part of the drawing, counted from 1; all by default"
    )
    quantity: int = Field(
        default=1, ge=1, le=MOST, description="how many are wanted, for example 12"
    )
    rotations: Annotated[
        Literal["any", "grain"] | tuple[float, ...] | None, PlainValidator(_rotations)
    ] = Field(
        default=None, description='"any", "grain" or angles in degrees such as [0, 90, 180, 270]'
    )
    step: float | None = Field(
        default=None,
        ge=0.1,
        le=360,
        description="the angle between two allowed turns, for example 45",
    )
    flip: bool = Field(default=False, description="true if the part may be laid face down")
    grain: float | None = Field(
        default=None,
        ge=-360,
        le=360,
        description="the direction in degrees that runs along the grain",
    )
    priority: int = Field(
        default=0,
        ge=-1000,
        le=1000,
        description="a whole number; parts with a higher one come first",
    )
    filler: bool = Field(default=False, description="true if the part only fills room that is left")
    due: Annotated[date | None, PlainValidator(day)] = Field(
        default=None,
        description='the day it is due as year-month-day, for example "2030-05-01"',
    )
    most_per_sheet: int | None = Field(
        default=None, ge=1, le=MOST, description="how many may lie on one sheet, for example 4"
    )
    apart: Annotated[tuple[str, ...], PlainValidator(_names)] = Field(
        default=(), description="names of parts that never lie on the same sheet with this one"
    )
    kit: str = Field(default="", description="the name of the assembly that the part belongs to")
    need: float = Field(
        default=1.0, gt=0, le=1e6, description="what a filler is worth for its area, for example 2"
    )
    joints: Joints | None = Field(default=None, description='"none", "tipping" or "all"')
    critical: Annotated[tuple[str, ...], PlainValidator(_edges)] = Field(
        default=(), description='edges without joints, for example ["holes", "top"]'
    )
    common_lines: bool | None = Field(
        default=None, description="true if its pieces may share the cut between them"
    )
    orders: Annotated[list[OrderEntry], BeforeValidator(orders_of)] = Field(
        default=[], description='order lines, such as [{ line = "4711/10", quantity = 5 }]'
    )
    units: Units | None = Field(
        default=None, description='the unit of the drawing, such as "mm" or "in"'
    )

    @model_validator(mode="after")
    def _no_more_ordered(self) -> PartEntry:
        ordered = sum(order.quantity for order in self.orders)
        if ordered > self.quantity:
            problem = f"the orders want {ordered} pieces, and quantity is {self.quantity}"
            raise fault(problem, "Give at least as many as are ordered")
        return self

    @model_validator(mode="after")
    def _one_way_to_turn(self) -> PartEntry:
        said = [k for k in ("rotations", "step", "grain") if getattr(self, k) is not None]
        if said == ["rotations", "grain"] and self.rotations == "grain":
            return self
        if len(said) > 1:
            raise fault(f"{' and '.join(said)} both say how the part may turn", "Keep one of them")
        if self.step is not None and abs(360 / self.step - round(360 / self.step)) > 1e-9:
            problem = f"steps of {self.step:g} degrees do not come round to 360"
            raise fault(problem, "Give a step that divides 360, such as 45")
        return self

    @model_validator(mode="after")
    def _filler_or_not(self) -> PartEntry:
        if self.filler and self.due is not None:
            problem = "a filler only fills room that is left, so it cannot be due on a day"
            raise fault(problem, "Leave out due or filler")
        if not self.filler and "need" in self.model_fields_set:
            raise fault("need is for fillers only", "Set filler too, or leave out need")
        return self

    @property
    def turns(self) -> tuple[float, ...] | None:
        """Allowed turns in degrees; None allows any."""
        if self.step is not None:
            return tuple(i * self.step for i in range(round(360 / self.step)))
        if self.rotations == "any":
            return None
        return self.rotations if isinstance(self.rotations, tuple) else QUARTER_TURNS

    @property
    def along_grain(self) -> float | None:
        """Direction in the drawing that runs along the sheet's grain; None if any may."""
        return 0.0 if self.rotations == "grain" and self.grain is None else self.grain


class SheetEntry(Table):
    """One kind of sheet to cut from."""

    name: str = Field(default="", description="a name; that of the size or the drawing by default")
    size: Annotated[str, AfterValidator(look_up)] | None = Field(
        default=None, description='the size, for example "3000x1500" or "48x96in"'
    )
    width: float | None = Field(default=None, gt=0, le=1e5, description="the length along x in mm")
    height: float | None = Field(default=None, gt=0, le=1e5, description="the length along y in mm")
    drawing: DrawingPath | None = Field(
        default=None, description="a drawing of the outline with holes"
    )
    units: Units | None = Field(
        default=None, description='the unit of the drawing, such as "mm" or "in"'
    )
    quantity: int | None = Field(
        default=None,
        ge=1,
        le=MOST,
        description="how many there are; leave it out for as many as needed",
    )
    cost: float | None = Field(default=None, ge=0, description="the price of one")
    grain: float = Field(
        default=0.0, ge=-360, le=360, description="the direction of the grain in degrees"
    )
    remnant: bool = Field(default=False, description="true for a leftover of earlier work")
    heat: str = Field(default="", description="the heat or certificate number, in quotes")
    keep_outs: list[Annotated[list[float], Field(min_length=4, max_length=4)]] = Field(
        default=[], description="zones to keep free, each as [x, y, width, height] in mm"
    )

    @model_validator(mode="after")
    def _one_outline(self) -> SheetEntry:
        sized = self.width is not None or self.height is not None
        if [self.size is not None, sized, self.drawing is not None].count(True) != 1:
            remedy = 'Give one of: size = "3000x1500"; width and height; drawing'
            raise fault("the sheet needs one outline", remedy)
        if sized and (self.width is None or self.height is None):
            raise fault("the sheet needs both width and height", "Give the other one too")
        for x, y, width, height in self.keep_outs:
            if width <= 0 or height <= 0:
                problem = f"keep-out zone {shown([x, y, width, height])} has no size"
                raise fault(problem, "Give [x, y, width, height] in mm, both sizes above 0")
        return self

    @property
    def on_hand(self) -> int | None:
        """Pieces on hand; a remnant is one piece unless said otherwise."""
        one_of_a_kind = self.remnant or self.drawing is not None
        return 1 if self.quantity is None and one_of_a_kind else self.quantity


@dataclass(frozen=True)
class PartLine:
    """A part entry and where it stands.

    Parameters
    ----------
    entry : PartEntry
        What it says.
    file : str
        Job file or part list that it stands in.
    place : callable
        From the name of a key or column to its place in the file.
    """

    entry: PartEntry
    file: str
    place: Callable[[str], str]

    @property
    def drawing(self) -> Path:
        """Path of the drawing."""
        return resolve(Path(self.file).parent, self.entry.drawing)

    def problem(self, key: str, problem: str, remedy: str) -> Problem:
        """Return a problem with one of the entry's values."""
        return Problem(self.file, self.place(key), problem, remedy)


def repeated(lines: Iterable[PartLine]) -> list[Problem]:
    """Return a problem for each line that lists a part once more.

    The same part of a drawing may stand in two lines if they give it different names.
    """
    seen: defaultdict[tuple[Path, str], list[PartLine]] = defaultdict(list)
    problems = []
    for line in lines:
        others = seen[line.drawing, line.entry.name]
        earlier = next((other for other in others if _overlap(other.entry, line.entry)), None)
        if earlier is None:
            others.append(line)
            continue
        where = earlier.place("drawing")
        where = where if earlier.file == line.file else f"{earlier.file}, {where}"
        problem = f"{shown(line.entry.drawing)} is listed already in {where}"
        remedy = "Add up the quantities in one place, or give the two different names"
        problems.append(line.problem("drawing", problem, remedy))
    return problems


def _overlap(one: PartEntry, other: PartEntry) -> bool:
    """Whether two entries for a drawing mean the same part of it; no index means all."""
    return one.index == other.index or None in (one.index, other.index)
