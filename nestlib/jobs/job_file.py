"""Job files: everything about a job but the drawings, in one TOML file.

::

    title = "Stands for the town hall"  # optional; the file's name by default
    metal = "mild-steel"                # a material
    thickness = "1.5 mm"                # or "16 ga", "0.060 in"
    density = 7.85                      # optional, g/cm3; the material's by default
    machine = "co2-400"                 # or the path of a machine file; this one by default
    units = "mm"                        # optional: of drawings that do not say
    join = 0.05                         # optional: wider gaps in contours stay open, in mm
    currency = "EUR"                    # optional
    remnant_size = 300                  # optional: leftovers as large as this are kept, in mm
    remnant_worth = 0.5                 # optional: what they are worth, of the price of their area
    set_up_cost = 12.50                 # optional: price of preparing one layout
    max_layouts = 5                     # optional: no more different layouts, if that can be had
    joints = "tipping"                  # optional: what is held by joints; also "none", "all"
    joint_width = 0.4                   # optional: metal in a joint in mm; by the thickness
    over_openings = false               # optional: the head may stay down over openings
    common_lines = false                # optional: pieces may share the cut between them, one
                                        # kerf apart, where straight edges allow: of one part, or
                                        # of several that all may
    cut_order = "part by part"          # optional: or "sheet by sheet", for less travel
    heat_distance = 0                   # optional: next cut begins so far away, in mm
    heat_seconds = 0                    # optional: or so many seconds of travel away
    heat_wait = 0                       # optional: where the order cannot have it so, the head
                                        # waits so many seconds before the beam goes on
    cut_off = "straight"                # optional: the last cut frees the remnant; or "stepped",
                                        # along the parts where that leaves more; "none"
    skeleton_weight = 20                # optional: the skeleton is cut up until no piece weighs
    skeleton_size = 800                 # more, in kg, or has a longer side, in mm
    edge_overrun = 0                    # optional: these cuts run on so far beyond the sheet's
                                        # edge, in mm, for sheets larger than they should be
    start_at = "corner"                 # optional: or "mid-edge", or "anywhere" for less travel
    lead_in = "by place"                # optional: or "line", "arc"; by place: arcs on smooth lines
    lead_in_length = 5                  # optional, in mm; by the thickness
    lead_out = "none"                   # optional: or "line", "arc"
    lead_out_length = 2                 # optional, in mm; half of a lead-in by the thickness
    centre_pierce = 12                  # optional: holes up to this wide are pierced in the middle,
                                        # in mm; 0: none; by default those three lead-ins wide
    over_cut = 0.5                      # optional: cut so far beyond the start, in mm
    end_gap = 0.3                       # optional, in its place: the beam goes off so far before
    parts = "parts.csv"                 # optional: a part list, in place of or beside [[part]]

    [spacing]                           # optional, all in mm
    kerf = 0.2                          # width of the slot; the machine's by default
    spacing = 3                         # metal left between two slots
    margin = 10                         # metal left at the edge of the sheet

    [[sheet]]                           # one for each kind of sheet
    name = "full sheet"                 # optional
    size = "3000x1500"                  # or width and height in mm, or drawing = "remnant.dxf"
    quantity = 4                        # optional; as many as needed by default, 1 of a remnant
    cost = 112.00                       # optional
    grain = 0                           # optional: direction of the grain in degrees
    remnant = false                     # optional
    heat = "H 4711"                     # optional: heat or certificate number
    keep_outs = [[0, 430, 45, 140]]     # optional: x, y, width, height in mm

    [[part]]                            # one for each drawing, or part of a drawing
    drawing = "drawings/base.dxf"
    name = "base"                       # optional
    index = 1                           # optional: which part of the drawing, counted from 1
    quantity = 10                       # optional; times what the drawing shows
    rotations = [0, 90, 180, 270]       # optional: angles, "any" or "grain"
    step = 45                           # optional, in place of rotations: 0, 45, 90, ...
    grain = 0                           # optional: direction that runs along the grain
    flip = false                        # optional: whether it may lie face down
    priority = 0                        # optional: higher ones are placed first
    filler = false                      # optional: placed only where room is left
    need = 1                            # optional, of a filler: what it is worth for its area
    due = 2030-05-01                    # optional: earlier ones come first, before priority
    most_per_sheet = 4                  # optional: how many may lie on one sheet
    apart = ["arm"]                     # optional: parts never on the same sheet; itself: one each
    kit = "stand"                       # optional: assembly to keep on as few sheets as possible
    joints = "all"                      # optional: in place of the job's, for this part
    critical = ["holes", "top"]         # optional: edges without joints or starts; also "outer",
                                        # "left", "right", "bottom", as the part is drawn
    common_lines = true                 # optional: in place of the job's, for this part
    orders = [{ line = "4711/10", quantity = 6, due = 2030-05-01 }]  # optional: who wants them
    units = "in"                        # optional: unit of this drawing, with a caution if it
                                        # says another itself

    [[rule]]                            # optional: what becomes of a layer, first rule first
    action = "mark"                     # "cut", "mark" or "ignore"
    layer = "*etch*"                    # optional patterns; linetype and kind work alike
    linetype = "*"
    kind = "*"

How much one person may lift is for local rules to say. Starting points, from memory: the
load constant of the revised NIOSH lifting equation is 23 kg under the best conditions (Waters
et al., Ergonomics 36 (1993) 749-776), and ISO 11228-1 has a reference mass of 25 kg; sharp edges,
reach and frequency lower both.

Paths are relative to the job file. Unknown keys are refused, so that a slip of the
keyboard does not go unnoticed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from nestlib.errors import JobError, Problem
from nestlib.jobs.entries import Joints, LookUps, PartEntry, PartLine, SheetEntry, Units, look_up
from nestlib.tolerances import JOIN
from nestlib.validation import Location, Table, fault, read_toml, shown

_DRAWINGS = (".dxf", ".svg")
_DRAWING_REMEDY = (
    "Name it under [[part]] in a job.toml, or in a part list, and nest that;"
    " nestlib check shows what it holds"
)


def _text_of_number(value: object) -> object:
    """Take ``thickness = 1.5`` for ``"1.5"``."""
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    return repr(value) if is_number else value


class SpacingTable(Table):
    """Distances to keep, in mm."""

    kerf: float | None = Field(default=None, ge=0, le=20, description="the width of the slot in mm")
    spacing: float = Field(
        default=3.0, ge=0, le=1000, description="the metal left between two slots in mm"
    )
    margin: float = Field(
        default=10.0, ge=0, le=1000, description="the metal left at the edge in mm"
    )


class RuleTable(Table):
    """What becomes of the entities on a layer."""

    action: Literal["cut", "mark", "ignore"] = Field(description='"cut", "mark" or "ignore"')
    layer: str = Field(default="*", min_length=1, description='a pattern such as "*etch*"')
    linetype: str = Field(default="*", min_length=1, description='a pattern such as "dashed*"')
    kind: str = Field(default="*", min_length=1, description='a pattern such as "circle"')


class JobFile(Table):
    """A whole job file."""

    title: str = Field(default="", description="a title")
    metal: Annotated[str, AfterValidator(look_up)] = Field(
        description='a material, for example "mild-steel"'
    )
    thickness: Annotated[str, BeforeValidator(_text_of_number), AfterValidator(look_up)] = Field(
        description='the thickness, for example "1.5 mm" or "16 ga"'
    )
    density: float | None = Field(default=None, gt=0, le=30, description="the density in g/cm³")
    machine: Annotated[str, AfterValidator(look_up)] = Field(
        default="co2-400", description='a machine, for example "co2-400" or "our-laser.toml"'
    )
    units: Units | None = Field(default=None, description='a unit, such as "mm" or "in"')
    join: float = Field(
        default=JOIN,
        gt=0,
        le=2,
        description="the joining distance: ends of lines closer than this are joined, in mm",
    )
    currency: str = Field(default="", max_length=20, description='a currency, for example "EUR"')
    remnant_size: float = Field(
        default=300.0, ge=0, description="the smallest remnant to keep, in mm"
    )
    remnant_worth: float = Field(
        default=0.0, ge=0, le=1, description="the share of a sheet's price a remnant keeps, 0 to 1"
    )
    set_up_cost: float = Field(
        default=0.0, ge=0, description="the price of preparing one layout, such as 12.50"
    )
    max_layouts: int | None = Field(
        default=None, ge=1, description="the most different layouts wanted, such as 5"
    )
    joints: Joints = Field(default="none", description='"none", "tipping" or "all"')
    joint_width: float | None = Field(
        default=None, ge=0.05, le=5, description="the metal left in a joint in mm, such as 0.4"
    )
    over_openings: bool = Field(
        default=False, description="true if the head may stay down over openings"
    )
    common_lines: bool = Field(
        default=False, description="true if pieces may share the cut between them"
    )
    cut_order: Literal["part by part", "sheet by sheet"] = Field(
        default="part by part", description='"part by part" or "sheet by sheet"'
    )
    heat_distance: float = Field(
        default=0.0, ge=0, le=5000, description="the distance of the next cut, in mm"
    )
    heat_seconds: float = Field(
        default=0.0, ge=0, le=60, description="the travel between two cuts, in seconds"
    )
    heat_wait: float = Field(
        default=0.0, ge=0, le=600, description="the time to wait in seconds, such as 2"
    )
    cut_off: Literal["none", "straight", "stepped"] = Field(
        default="none", description='"none", "straight" or "stepped"'
    )
    skeleton_weight: float | None = Field(
        default=None, ge=1, le=1000, description="the heaviest piece of skeleton in kg, such as 20"
    )
    skeleton_size: float | None = Field(
        default=None, ge=100, description="the longest piece of skeleton in mm, such as 800"
    )
    edge_overrun: float = Field(
        default=0.0, ge=0, le=20, description="how far cuts run on beyond the sheet's edge, in mm"
    )
    start_at: Literal["corner", "mid-edge", "anywhere"] = Field(
        default="corner", description='"corner", "mid-edge" or "anywhere"'
    )
    lead_in: Literal["by place", "line", "arc"] = Field(
        default="by place", description='"by place", "line" or "arc"'
    )
    lead_in_length: float | None = Field(
        default=None, gt=0, le=200, description="the length of a lead-in in mm, such as 5"
    )
    lead_out: Literal["none", "line", "arc"] = Field(
        default="none", description='"none", "line" or "arc"'
    )
    lead_out_length: float | None = Field(
        default=None, gt=0, le=200, description="the length of a lead-out in mm, such as 2"
    )
    centre_pierce: float | None = Field(
        default=None, ge=0, le=1000, description="the widest hole pierced in its middle, in mm"
    )
    over_cut: float = Field(
        default=0.0, ge=0, le=100, description="how far beyond its start a contour is cut, in mm"
    )
    end_gap: float = Field(
        default=0.0, ge=0, le=100, description="how far before its start a cut ends, in mm"
    )
    parts: Annotated[str, Field(min_length=1), AfterValidator(look_up)] | None = Field(
        default=None, description='the path of a part list, for example "parts.csv"'
    )
    spacing: SpacingTable = Field(default=SpacingTable(), description="a table [spacing]")
    sheet: list[SheetEntry] = Field(min_length=1, description="at least one [[sheet]]")
    part: list[PartEntry] = Field(default=[], description="a [[part]] for each drawing")
    rule: list[RuleTable] = Field(default=[], description="a [[rule]] for each layer")

    @model_validator(mode="after")
    def _something_to_cut(self) -> JobFile:
        if not self.part and self.parts is None:
            raise fault("the job has no parts", 'Add a [[part]], or parts = "parts.csv"')
        if self.heat_wait and not (self.heat_distance or self.heat_seconds):
            remedy = "Add heat_distance or heat_seconds: cuts that begin nearer wait"
            raise fault("heat_wait alone does not say when to wait", remedy)
        cut_up = self.skeleton_weight is not None or self.skeleton_size is not None
        if cut_up and self.cut_off == "none":
            remedy = 'Add cut_off = "straight"'
            raise fault("the skeleton is to be cut up, but a remnant would stay on it", remedy)
        if self.edge_overrun and self.cut_off == "none":
            problem = "no cut reaches the sheet's edge, so that none can run on beyond it"
            raise fault(problem, 'Add cut_off = "straight", or leave out edge_overrun')
        if self.end_gap and (self.over_cut or self.lead_out != "none"):
            problem = "a cut that ends at a gap has no over-cut and no lead-out"
            raise fault(problem, "Leave out end_gap, or over_cut and lead_out")
        names = [sheet.name for sheet in self.sheet if sheet.name]
        twice = next((name for name in names if names.count(name) > 1), None)
        if twice is not None:
            raise fault(f"two sheets are called {shown(twice)}", "Give each its own name")
        return self

    @property
    def rules(self) -> list[dict[str, Any]]:
        """Rules as plain records, first rule first."""
        return [rule.model_dump() for rule in self.rule]


@dataclass(frozen=True)
class ReadJobFile:
    """A job file and where its values stand.

    Parameters
    ----------
    file : str
        Path as the user gave it.
    table : JobFile
        What it says.
    place : callable
        From ``("sheet", 0, "size")`` to ``"line 12, key sheet[1].size"``.
    """

    file: str
    table: JobFile
    place: Callable[[Location], str]

    @property
    def lines(self) -> list[PartLine]:
        """The entries ``[[part]]``, each with its place."""
        return [
            PartLine(entry, self.file, lambda key, i=i: self.place(("part", i, key)))  # type: ignore[misc]
            for i, entry in enumerate(self.table.part)
        ]


def read_job_file(path: str | Path, look_ups: LookUps | None = None) -> ReadJobFile:
    """Return what a job file says.

    Parameters
    ----------
    path : str or Path
        A TOML 1.0 file in UTF-8.
    look_ups : LookUps, optional
        How to check names that other packages know; the file's folder by default.

    Raises
    ------
    JobError
        With every problem of the file, each with its line and key.
    """
    if Path(path).suffix.lower() in _DRAWINGS and Path(path).is_file():
        raise JobError(Problem(str(path), "", "this is a drawing, not a job", _DRAWING_REMEDY))
    table, place = read_toml(path, JobFile, look_ups or LookUps(Path(path).parent))
    return ReadJobFile(str(path), table, place)
