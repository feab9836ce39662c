"""What a plan's `plan.json` says, as plain values."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from nestlib.model import Contour, Part, Placement, Sheet, Spacing, Support
from nestlib.verifying.costs import WrittenWork
from nestlib.verifying.pace import Pace
from nestlib.verifying.program import Dialect

#: Roles whose layers hold contours.
ROLES = (
    "sheet", "keep_out", "outer", "inner", "mark", "lead", "remnant", "joint",
    "shared", "around", "bundled", "lead_out", "skeleton", "cut_off",
)  # fmt: skip

#: Roles of what is only there to be looked at.
SHOWN = ("order", "label")

#: Stands for the placement that a cut in the skeleton does not have.
NO_PIECE = -1


@dataclass(frozen=True, eq=False)
class WrittenPart:
    """A part and what the plan claims about it.

    Parameters
    ----------
    part : Part
        Contours, quantity and how it may lie.
    placed : int
        Pieces on all sheets, as the plan says.
    area : float
        In mm², as the plan says.
    sha256 : str
        Of the drawing when it was read; empty if the part was made in code.
    last_layout : int, or None
        Number of the last layout that holds any of it, as the plan says, from 1.
    """

    part: Part
    placed: int
    area: float
    sha256: str = ""
    last_layout: int | None = None
    work: WrittenWork | None = None


@dataclass(frozen=True)
class WrittenKit:
    """An assembly and where the plan says that it lies."""

    name: str
    parts: tuple[str, ...]
    layouts: tuple[int, ...]


@dataclass(frozen=True)
class WrittenJoint:
    """Where a contour is left uncut; see `nestlib.model.Joint` for the terms."""

    at: float
    width: float
    gap: float


@dataclass(frozen=True, eq=False)
class WrittenCut:
    """One entry of a layout's path; see `nestlib.model.Cut` for the terms."""

    order: int
    placement: int
    role: str
    index: int
    start: tuple[float, float]
    pierce: tuple[float, float]
    lead: Contour | None
    contour: Contour
    length: float
    joints: tuple[WrittenJoint, ...] = ()
    fate: str | None = None
    lifted: bool | None = None
    via: tuple[tuple[float, float], ...] = ()
    pieces: tuple[int, ...] = ()
    lead_out: Contour | None = None
    over_cut: float = 0.0
    end_gap: float = 0.0
    wait: float = 0.0
    times: tuple[float | None, float | None] | None = None


@dataclass(frozen=True)
class WrittenEntry:
    """How the plan wants contours to end; see `nestlib.model.Entry` for the terms."""

    over_cut: float = 0.0
    end_gap: float = 0.0
    lead_out: str = "none"


@dataclass(frozen=True)
class WrittenSingly:
    """What a sheet is said to take if each contour were cut by itself."""

    cut_length: float
    pierces: int
    seconds: float | None = None


@dataclass(frozen=True)
class WrittenSaving:
    """What shared cuts are said to save on all sheets."""

    shared_cuts: int
    cut_length: float
    pierces: int
    seconds: float | None


@dataclass(frozen=True)
class WrittenSkeletonPiece:
    """What the plan says that the skeleton falls into; in mm², kg and mm."""

    area: float
    weight: float
    size: tuple[float, float]


@dataclass(frozen=True, eq=False)
class WrittenLayout:
    """One layout as the plan describes it."""

    sheet: Sheet
    runs: int
    dxf: str
    utilisation: float
    placements: tuple[Placement, ...]
    path: tuple[WrittenCut, ...]
    cut_length: float
    mark_length: float
    rapid_length: float
    pierces: int
    joints: int | None = None
    lifts: int | None = None
    lifted_length: float | None = None
    work: WrittenWork | None = None
    singly: WrittenSingly | None = None
    skeleton: tuple[WrittenSkeletonPiece, ...] = ()

    @property
    def bundles(self) -> list[tuple[int, ...]]:
        """Placements of the pieces that share cuts, as each way around them names them."""
        return [cut.pieces for cut in self.path if cut.role == "around"]

    @property
    def sharing(self) -> frozenset[int]:
        """Placements of all pieces that share cuts."""
        return frozenset(number for cut in self.path for number in cut.pieces)

    @property
    def of_pieces(self) -> tuple[WrittenCut, ...]:
        """The cuts of the path that are contours of pieces."""
        return tuple(cut for cut in self.path if cut.placement != NO_PIECE)


@dataclass(frozen=True, eq=False)
class WrittenRemnant:
    """What the plan says is left of a layout's sheets."""

    name: str
    layout: int
    sheet: str
    runs: int
    outline: Contour
    area: float


@dataclass(frozen=True)
class WrittenProgram:
    """What the plan says of the machine programs.

    Parameters
    ----------
    files : tuple of str
        One for each layout.
    dialect : Dialect
        What a program cannot say itself.
    in_path : bool
        Whether the path keeps half a slot away; else the control does.
    step : float
        Step of the last decimal in mm.
    checked_by : str
        Who has checked the template; empty if nobody has.
    dwell : float
        How many s one unit of a dwell is.
    """

    files: tuple[str, ...]
    dialect: Dialect
    in_path: bool
    step: float
    checked_by: str = ""
    dwell: float = 1.0


@dataclass(frozen=True, eq=False)
class WrittenPlan:
    """A whole plan as its `plan.json` describes it."""

    folder: Path
    layers: dict[str, str]
    spacing: Spacing
    thickness: float
    density: float
    parts: dict[str, WrittenPart]
    sheets: dict[str, Sheet]
    layouts: tuple[WrittenLayout, ...]
    unplaced: tuple[tuple[str, int], ...]
    remnants: tuple[WrittenRemnant, ...]
    kits: tuple[WrittenKit, ...]
    utilisation: float
    weight: float
    cost: float | None
    least_sheets: int
    least_cost: float | None
    least_net_cost: float | None
    set_up: float = 0.0
    remnant_worth: float = 0.0
    set_up_cost: float | None = None
    remnant_value: float | None = None
    net_cost: float | None = None
    program: WrittenProgram | None = None
    work: WrittenWork | None = None
    over_openings: bool = False
    entry: WrittenEntry = WrittenEntry()
    support: Support | None = None
    saving: WrittenSaving | None = None
    cut_off: str = "none"
    edge_overrun: float = 0.0
    pace: Pace | None = None
    heat_apart: float = 0.0
    heat_wait: float = 0.0
