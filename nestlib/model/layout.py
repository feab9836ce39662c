"""Parts placed on one sheet, the way they are cut, and what is left of it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise
from math import dist

from nestlib.model.contour import Contour
from nestlib.model.sheet import Sheet
from nestlib.model.work import Effort


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


@dataclass(frozen=True)
class Joint:
    """Where a contour is left uncut, so that a piece or a slug stays in the sheet.

    Parameters
    ----------
    at : float
        Its middle, along the contour from the start of the cut, in mm.
    width : float
        Metal left between the two ends of the slot, in mm.
    gap : float
        How long the beam is off along the contour, in mm: the width and a kerf, since
        the slot ends half a kerf beyond the middle of the beam.
    """

    at: float
    width: float
    gap: float


#: Stands for the piece that a cut of the skeleton does not have.
NO_PIECE = -1


@dataclass(frozen=True, eq=False)
class Bundle:
    """Pieces exactly one kerf apart, of one part or of several, which share cuts.

    Parameters
    ----------
    placements : tuple of int
        Indices into the layout's placements.
    outline : Contour
        Around all of them and the slots between them, on the sheet.
    lines : tuple of Contour
        Open: the middle of each slot between them, from the middle of the slot around the
        outline to that on the other side.
    """

    placements: tuple[int, ...]
    outline: Contour
    lines: tuple[Contour, ...]


@dataclass(frozen=True, eq=False)
class Cut:
    """One contour of one piece, or of what is left around them, or a cut that pieces share.

    Parameters
    ----------
    placement : int
        Index into the layout's placements; of a bundle its first; `NO_PIECE` if it is a cut of
        no piece.
    role : str
        ``"mark"``, ``"inner"`` or ``"outer"``; of a bundle ``"shared"``, an open cut in the
        middle of a slot, with the beam on its line, and ``"around"``, along its outline; of
        no piece ``"skeleton"``, a cut that takes the skeleton apart, and ``"cut_off"``, one
        that frees a remnant.
    index : int
        Which of the part's marks or inner contours, of the bundle's lines, or of the cuts
        of no piece of its kind; else 0.
    contour : Contour
        Where it lies on the sheet, beginning at the start point, in cutting direction.
    lead_in : Contour, or None
        Open, from the pierce point to the start point; None where the beam starts on the
        contour itself (marks, and contours whose waste has no room for a lead).
    joints : tuple of Joint
        Where the contour is not cut, in cutting direction.
    fate : str, or None
        What becomes of the piece, or of the slug of a hole, once nothing holds it:
        ``"stays"``, ``"tips"`` (it can), ``"drops"``; None if the support is not known.
    lifted : bool
        Whether the head is raised on its way to the pierce point.
    via : tuple of (float, float)
        Corners of that way, in mm, where it is a detour.
    pieces : tuple of int
        Placements of the bundle that it belongs to; empty if it is no shared cut.
    lead_out : Contour, or None
        Open, from where the contour or its over-cut ends into the waste.
    over_cut : float
        How far the contour is cut on beyond its start, in mm.
    end_gap : float
        How far before its start the beam goes off, in mm.
    wait : float
        How long the head waits over the pierce point before the beam goes on, in s, so that
        the sheet cools.
    """

    placement: int
    role: str
    index: int
    contour: Contour
    lead_in: Contour | None = None
    joints: tuple[Joint, ...] = ()
    fate: str | None = None
    lifted: bool = False
    via: tuple[tuple[float, float], ...] = ()
    pieces: tuple[int, ...] = ()
    lead_out: Contour | None = None
    over_cut: float = 0.0
    end_gap: float = 0.0
    wait: float = 0.0

    @property
    def length(self) -> float:
        """Length of the contour without what is left uncut, in mm."""
        return self.contour.length - sum(j.gap for j in self.joints) - self.end_gap

    @property
    def extra_length(self) -> float:
        """Length cut besides the contour: lead-in, over-cut and lead-out, in mm."""
        return self.over_cut + sum(c.length for c in (self.lead_in, self.lead_out) if c)

    @property
    def free(self) -> bool:
        """Whether it sets a piece or a slug free."""
        return self.role not in ("mark", "shared") and not self.joints

    @property
    def of_piece(self) -> bool:
        """Whether it is a contour of a piece; else it is cut in what is left around them."""
        return self.placement != NO_PIECE

    @property
    def pierce(self) -> tuple[float, float]:
        """Where the beam is switched on, in mm."""
        x, y = (self.lead_in or self.contour).points[0]
        return float(x), float(y)

    @property
    def end(self) -> tuple[float, float]:
        """Where the beam is switched off, in mm."""
        if self.over_cut or self.end_gap:
            at = self.over_cut or self.contour.length - self.end_gap
            x, y = self.contour.point_at(at)
        else:
            x, y = self.contour.points[0 if self.contour.closed else -1]
        if self.lead_out is not None:
            x, y = self.lead_out.points[-1]
        return float(x), float(y)


@dataclass(frozen=True)
class SkeletonPiece:
    """What has to be lifted off the table in one, once parts and remnant are out.

    Parameters
    ----------
    area : float
        In mm².
    size : (float, float)
        Sides of its bounding box in mm.
    """

    area: float
    size: tuple[float, float]


@dataclass(frozen=True, eq=False)
class CutPath:
    """All cuts of one layout in cutting order.

    Parameters
    ----------
    cuts : tuple of Cut
        In cutting order.
    warnings : tuple of str
        What the programmer should look at, in plain words.
    skeleton : tuple of SkeletonPiece
        Into what the skeleton falls, the largest first; empty if nothing is cut in it.
    """

    cuts: tuple[Cut, ...] = ()
    warnings: tuple[str, ...] = ()
    skeleton: tuple[SkeletonPiece, ...] = ()

    @property
    def cut_length(self) -> float:
        """Length cut through, leads included, in mm."""
        return sum(c.length + c.extra_length for c in self.cuts if c.role != "mark")

    @property
    def mark_length(self) -> float:
        """Length etched, in mm."""
        return sum(c.contour.length for c in self.cuts if c.role == "mark")

    @property
    def pierces(self) -> int:
        """How many times the beam goes through the sheet, after each joint once more."""
        return sum(1 + len(c.joints) for c in self.cuts if c.role != "mark")

    @property
    def rapid_length(self) -> float:
        """Travel between the cuts, from the sheet's (0, 0), in mm."""
        return sum(_length(way) for _, way in self.rapids)

    @property
    def rapids(self) -> Iterator[tuple[Cut, tuple[tuple[float, float], ...]]]:
        """Each cut with the corners of the way to it, first and last included."""
        here = (0.0, 0.0)
        for cut in self.cuts:
            yield cut, (here, *cut.via, cut.pierce)
            here = cut.end

    @property
    def joints(self) -> int:
        """How many joints there are."""
        return sum(len(c.joints) for c in self.cuts)

    @property
    def shared(self) -> int:
        """How many cuts lie between two pieces that share them."""
        return sum(c.role == "shared" for c in self.cuts)

    @property
    def waiting(self) -> float:
        """How long the head waits for the sheet to cool, in s."""
        return sum(c.wait for c in self.cuts)

    @property
    def lifts(self) -> int:
        """How many times the head is raised."""
        return sum(c.lifted for c in self.cuts)

    @property
    def lifted_length(self) -> float:
        """Travel with the head raised, in mm."""
        return sum(_length(way) for cut, way in self.rapids if cut.lifted)


def _length(way: tuple[tuple[float, float], ...]) -> float:
    return sum(dist(a, b) for a, b in pairwise(way))


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
    bundles : tuple of Bundle
        Which pieces share cuts.
    singly : Effort, or None
        What one sheet would take if each of its contours were cut by itself; None if none
        shares a cut.
    """

    sheet: Sheet
    placements: tuple[Placement, ...]
    runs: int = 1
    path: CutPath = field(default_factory=CutPath)
    remnants: tuple[Remnant, ...] = ()
    bundles: tuple[Bundle, ...] = ()
    singly: Effort | None = None

    @cached_property
    def counts(self) -> Counter[str]:
        """Pieces of each part on one sheet."""
        return Counter(p.part for p in self.placements)
