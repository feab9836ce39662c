"""Parts placed on one sheet, the way they are cut, and what is left of it."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from functools import cached_property

from nestlib.model.contour import Contour
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
