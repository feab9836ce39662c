"""The answer to a job: layouts, what is left, and the figures."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any

from nestlib.model.contour import Contour
from nestlib.model.job import Job
from nestlib.model.sheet import Sheet


@dataclass(frozen=True)
class Placement:
    """One piece on a sheet.

    The part is first mirrored if `flip` (x becomes -x), then turned by `rotation`
    about its own (0, 0), then moved by (x, y).

    Parameters
    ----------
    part : str
        Name of the part.
    rotation : float
        Degrees, counter-clockwise, 0 to below 360.
    flip : bool
        Whether the piece lies face down.
    x, y : float
        Where the part's (0, 0) comes to lie on the sheet, in mm.
    """

    part: str
    rotation: float
    flip: bool
    x: float
    y: float


@dataclass(frozen=True, eq=False)
class Cut:
    """One contour of one piece, as the head runs along it.

    Parameters
    ----------
    placement : int
        Index into the layout's placements.
    role : str
        ``"mark"``, ``"inner"`` or ``"outer"``.
    index : int
        Which of the part's marks or inner contours; 0 for the outer one.
    contour : Contour
        Where it lies on the sheet, beginning at the start point, in cutting direction.
    lead_in : Contour, or None
        Open, from the pierce point to the start point; None where the beam starts on the
        contour itself (marks, and contours whose waste has no room for a lead).
    """

    placement: int
    role: str
    index: int
    contour: Contour
    lead_in: Contour | None = None

    @property
    def pierce(self) -> tuple[float, float]:
        """Where the beam is switched on, in mm."""
        x, y = (self.lead_in or self.contour).points[0]
        return float(x), float(y)

    @property
    def end(self) -> tuple[float, float]:
        """Where the beam is switched off, in mm."""
        x, y = self.contour.points[0 if self.contour.closed else -1]
        return float(x), float(y)


@dataclass(frozen=True, eq=False)
class CutPath:
    """All cuts of one layout in cutting order.

    Parameters
    ----------
    cuts : tuple of Cut
        In cutting order.
    warnings : tuple of str
        What the programmer should look at, in plain words.
    """

    cuts: tuple[Cut, ...] = ()
    warnings: tuple[str, ...] = ()

    @property
    def cut_length(self) -> float:
        """Length cut through, leads included, in mm."""
        return sum(
            c.contour.length + (c.lead_in.length if c.lead_in else 0.0)
            for c in self.cuts
            if c.role != "mark"
        )

    @property
    def mark_length(self) -> float:
        """Length etched, in mm."""
        return sum(c.contour.length for c in self.cuts if c.role == "mark")

    @property
    def pierces(self) -> int:
        """How many times the beam goes through the sheet."""
        return sum(c.role != "mark" for c in self.cuts)

    @property
    def rapid_length(self) -> float:
        """Straight travel between the cuts, from the sheet's (0, 0), in mm."""
        total, (x, y) = 0.0, (0.0, 0.0)
        for cut in self.cuts:
            px, py = cut.pierce
            total += ((px - x) ** 2 + (py - y) ** 2) ** 0.5
            x, y = cut.end
        return total


@dataclass(frozen=True, eq=False)
class Remnant:
    """A leftover that is worth keeping.

    Parameters
    ----------
    name : str
        Unique within the plan.
    outline : Contour
        On the sheet that it comes from, in mm.
    """

    name: str
    outline: Contour

    @property
    def area(self) -> float:
        """Area in mm²."""
        return self.outline.area


@dataclass(frozen=True, eq=False)
class Layout:
    """Parts placed on one sheet, cut `runs` times.

    Parameters
    ----------
    sheet : Sheet
        What it is cut from.
    placements : tuple of Placement
        One for each piece on the sheet.
    runs : int
        How many sheets are cut this way.
    path : CutPath
        In which order.
    remnants : tuple of Remnant
        What is left of each of the sheets and worth keeping.
    """

    sheet: Sheet
    placements: tuple[Placement, ...]
    runs: int = 1
    path: CutPath = field(default_factory=CutPath)
    remnants: tuple[Remnant, ...] = ()

    @cached_property
    def counts(self) -> Counter[str]:
        """Pieces of each part on one sheet."""
        return Counter(p.part for p in self.placements)


@dataclass(frozen=True)
class Unplaced:
    """Pieces that found no place.

    Parameters
    ----------
    part : str
        Name of the part.
    quantity : int
        How many are missing.
    reason : str
        Why, and what would help.
    """

    part: str
    quantity: int
    reason: str


@dataclass(frozen=True)
class Bound:
    """What no plan for the job can beat.

    Parameters
    ----------
    sheets : int
        Least number of sheets.
    cost : float
        Least cost of the sheets.
    method : str
        How it was proved, in a few words.
    """

    sheets: int
    cost: float
    method: str


@dataclass(frozen=True)
class Violation:
    """One rule that a written plan breaks.

    Parameters
    ----------
    code : str
        Short name of the rule, for example ``"parts-too-close"``.
    layout : str
        File of the layout; empty if it is about the whole plan.
    message : str
        What is wrong, with the figures.
    place : (float, float), or None
        Where on the sheet, in mm.
    """

    code: str
    layout: str
    message: str
    place: tuple[float, float] | None = None


@dataclass(frozen=True)
class Verification:
    """What an independent check of the written files found.

    Parameters
    ----------
    violations : tuple of Violation
        Empty if the plan keeps every rule.
    between_parts : float, or None
        Smallest distance found between two pieces, in mm; None if no sheet has two.
    to_edge : float, or None
        Smallest distance found between a piece and its sheet's edge, in mm.
    largest_deviation : float
        Greatest distance of a written contour from its drawing, in mm.
    pieces : int
        How many pieces were checked, counting each layout once.
    notes : tuple of str
        What could not be compared, and why.
    """

    violations: tuple[Violation, ...] = ()
    between_parts: float | None = None
    to_edge: float | None = None
    largest_deviation: float = 0.0
    pieces: int = 0
    notes: tuple[str, ...] = ()

    @property
    def passed(self) -> bool:
        """Whether every rule is kept."""
        return not self.violations


@dataclass(frozen=True, eq=False)
class Plan:
    """All the layouts of a job, what could not be placed and why, and the figures.

    Parameters
    ----------
    job : Job
        The question.
    layouts : tuple of Layout
        The answer.
    unplaced : tuple of Unplaced
        What is missing from it; fillers that found no room are not.
    bound : Bound
        What no plan can beat.
    seed : int
        Seed the plan was made with.
    seconds : float
        Time it took.
    stopped : bool
        Whether the user stopped the search early.
    cautions : tuple of str
        What the people at the machine should know.
    verification : Verification, or None
        What the check of the written plan found; None before it is written.
    """

    job: Job
    layouts: tuple[Layout, ...]
    unplaced: tuple[Unplaced, ...]
    bound: Bound
    seed: int = 0
    seconds: float = 0.0
    stopped: bool = False
    cautions: tuple[str, ...] = ()
    verification: Verification | None = None

    @cached_property
    def placed(self) -> Counter[str]:
        """Pieces of each part over all sheets."""
        total: Counter[str] = Counter()
        for layout in self.layouts:
            for name, n in layout.counts.items():
                total[name] += n * layout.runs
        return total

    @property
    def sheets_used(self) -> int:
        """How many sheets are cut."""
        return sum(layout.runs for layout in self.layouts)

    @cached_property
    def part_area(self) -> float:
        """Area of all placed pieces in mm²."""
        area = {p.name: p.area for p in self.job.parts}
        return sum(area[name] * n for name, n in self.placed.items())

    @property
    def sheet_area(self) -> float:
        """Area of all sheets that are cut, in mm²."""
        return sum(layout.sheet.area * layout.runs for layout in self.layouts)

    @property
    def remnant_area(self) -> float:
        """Area of all leftovers worth keeping, in mm²."""
        return sum(r.area * layout.runs for layout in self.layouts for r in layout.remnants)

    @property
    def utilisation(self) -> float:
        """Part of the sheet area that becomes pieces, 0 to 1; remnants kept do not count."""
        return self.part_area / self.sheet_area if self.layouts else 0.0

    @property
    def weight(self) -> float:
        """Weight of all placed pieces in kg."""
        return self.job.metal.weight(self.part_area)

    @property
    def cost(self) -> float | None:
        """Price of the sheets that are cut; None if one of them has no price."""
        costs = [layout.sheet.cost for layout in self.layouts]
        if any(c is None for c in costs):
            return None
        return sum((c or 0.0) * layout.runs for c, layout in zip(costs, self.layouts, strict=True))

    @property
    def complete(self) -> bool:
        """Whether every piece that must be placed was placed."""
        return not self.unplaced

    def write(self, folder: str | Path, **options: Any) -> Plan:
        """Write and verify the plan folder: `nestlib.write` as a method."""
        # The one place where plain data looks up to the stages: a convenience, on call only.
        from nestlib.handover import write

        return write(self, folder, **options)
