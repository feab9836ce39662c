"""The answer to a job: layouts, what is left, and the figures."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

from nestlib.model.job import Job
from nestlib.model.layout import Layout
from nestlib.model.work import Effort, Work
from nestlib.showing import shown


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
    net_cost : float
        Least cost of sheets and set-ups less what the remnants are worth.
    """

    sheets: int
    cost: float
    method: str
    net_cost: float = 0.0

    def or_more(self, other: Bound) -> Bound:
        """Return what both say together: the higher of each figure, and how it was proved.

        Parameters
        ----------
        other : Bound
            Of the same job.

        Examples
        --------
        >>> Bound(2, 10.0, "area").or_more(Bound(1, 12.0, "mixes", 11.0))
        Bound(sheets=2, cost=12.0, method='area; mixes', net_cost=11.0)
        """
        sheets, cost = max(self.sheets, other.sheets), max(self.cost, other.cost)
        net_cost = max(self.net_cost, other.net_cost)
        for one in (self, other):
            if (one.sheets, one.cost, one.net_cost) == (sheets, cost, net_cost):
                return one
        method = "; ".join(dict.fromkeys((self.method, other.method)))
        return Bound(sheets, cost, method, net_cost)

    def gap(self, sheets: int, cost: float | None, missing: int) -> float | None:
        """Return how far the sheets of a plan are above what no plan can beat.

        Parameters
        ----------
        sheets : int
            How many there are.
        cost : float, or None
            What they cost; None if one of them has no price.
        missing : int
            Pieces that have to be placed and are not.

        Returns
        -------
        float or None
            How much more they cost than they have to, as a share of their cost, 0 to 1;
            where there are no prices, how many more they are. None while pieces are missing:
            what is not placed costs nothing.

        Examples
        --------
        >>> bound = Bound(2, 75.0, "area")
        >>> bound.gap(4, 100.0, 0), bound.gap(4, None, 0), bound.gap(1, 40.0, 3)
        (0.25, 0.5, None)
        """
        if missing:
            return None
        now, least = (sheets, self.sheets) if cost is None else (cost, self.cost)
        return max(0.0, 1 - least / now) if now else 0.0


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
        How many pieces were checked, on all runs of each layout.
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
    work : Work, or None
        How long the cuts take and what they cost; None if it was not worked out.
    hold : str
        Under which name its sheets are held on the rack; empty if it is not from there.
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
    work: Work | None = None
    hold: str = ""

    @cached_property
    def placed(self) -> Counter[str]:
        """Pieces of each part over all sheets."""
        total: Counter[str] = Counter()
        for layout in self.layouts:
            for name, n in layout.counts.items():
                total[name] += n * layout.runs
        return total

    def layouts_with(self, *parts: str) -> tuple[int, ...]:
        """Return the numbers, counted from 1, of the layouts on which any of some parts lie."""
        numbered = enumerate(self.layouts, start=1)
        return tuple(n for n, layout in numbered if any(p in layout.counts for p in parts))

    @cached_property
    def kits(self) -> dict[str, tuple[str, ...]]:
        """Names of the parts of each kit, in the order of the job."""
        found: dict[str, tuple[str, ...]] = {}
        for part in self.job.parts:
            if part.kit:
                found[part.kit] = (*found.get(part.kit, ()), part.name)
        return found

    @property
    def shared_cuts(self) -> int:
        """How many cuts of all sheets are shared by pieces."""
        return sum(layout.path.shared * layout.runs for layout in self.layouts)

    def saved(self, number: int) -> Effort | None:
        """Return what sharing cuts saves on one sheet of a layout, counted from 0.

        That is against cutting each contour of the same pieces by itself; None if nothing
        is shared, or the work was not worked out.
        """
        singly = self.layouts[number].singly
        return None if singly is None or self.work is None else singly - self.work.layouts[number]

    @property
    def saved_in_all(self) -> Effort | None:
        """The same for all sheets."""
        each = ((self.saved(i), layout.runs) for i, layout in enumerate(self.layouts))
        found = [saved.times(runs) for saved, runs in each if saved is not None]
        return sum(found, Effort()) if found else None

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
    def remnant_value(self) -> float | None:
        """What the remnants are worth; None if one of their sheets has no price."""
        worth = self.job.money.remnant_worth
        if not worth:
            return 0.0
        kept = [(layout, r) for layout in self.layouts for r in layout.remnants]
        if any(layout.sheet.cost is None for layout, _ in kept):
            return None
        shares = ((layout, r.area / layout.sheet.area * layout.runs) for layout, r in kept)
        return sum(worth * (layout.sheet.cost or 0.0) * share for layout, share in shares)

    @property
    def set_up_cost(self) -> float:
        """Price of preparing the layouts."""
        return self.job.money.set_up * len(self.layouts)

    @property
    def net_cost(self) -> float | None:
        """Price of sheets and set-ups less what the remnants are worth; None if unknown."""
        if self.cost is None or self.remnant_value is None:
            return None
        return self.cost + self.set_up_cost - self.remnant_value

    @property
    def complete(self) -> bool:
        """Whether every piece that must be placed was placed."""
        return not self.unplaced

    def write(self, folder: str | Path, **options: Any) -> Plan:
        """Write and verify the plan folder: `nestlib.write` as a method."""
        # The one place where plain data looks up to the stages: a convenience, on call only.
        from nestlib.handover import write

        return write(self, folder, **options)

    def _repr_html_(self) -> str:
        """What a notebook shows."""
        return shown(self)
