"""One thing to cut."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from nestlib.model.contour import Contour
from nestlib.model.order import OrderLine
from nestlib.showing import shown
from nestlib.tolerances import JOIN


@dataclass(frozen=True)
class Source:
    """Where a part was drawn.

    Parameters
    ----------
    file : str
        Path of the drawing.
    index : int
        Which of the drawing's parts, counted from 0 in reading order.
    origin : (float, float)
        Point of the drawing, in mm, that became the part's (0, 0).
    units : str
        Unit of the drawing, which the reader turned into mm.
    sha256 : str, or None
        Digest of the drawing as it was when the part was read; None if not known.
    join : float
        Ends of lines closer than this were joined when the part was read, in mm.
    """

    file: str
    index: int = 0
    origin: tuple[float, float] = (0.0, 0.0)
    units: str = "mm"
    sha256: str | None = None
    join: float = JOIN


@dataclass(frozen=True, eq=False)
class Part:
    """One thing to cut: exact contours, how many, and how it may lie on the sheet.

    Coordinates are in mm with the lower left corner of the outer contour's bounding
    box at (0, 0). The outer contour runs counter-clockwise, inner ones clockwise.

    Parameters
    ----------
    name : str
        Unique within a job.
    outer : Contour
        The outside contour.
    inners : tuple of Contour
        Holes.
    marks : tuple of Contour
        Lines, open or closed, that are etched and not cut through.
    quantity : int
        Pieces wanted.
    rotations : tuple of float, or None
        Allowed turns in degrees, counter-clockwise; None allows any angle.
    flip : bool
        Whether the part may be laid face down (mirrored).
    grain : float, or None
        Direction in the drawing, in degrees, that has to run along the sheet's grain
        (either way round); None if the part does not care. It overrides `rotations`.
    priority : int
        Parts with a higher number are placed first.
    filler : bool
        Placed only where the other parts leave room, and as many as find it, up to
        `quantity`; those that find none are no failure.
    due : datetime.date, or None
        When its pieces have to be ready; None if no date is set. Earlier ones come before
        later ones and before any `priority`.
    most_per_sheet : int, or None
        Most pieces of this part on one sheet; None if there is no limit.
    apart : tuple of str
        Names of parts that never lie on the same sheet as this one, and it never on
        theirs; its own name allows one piece on a sheet.
    kit : str
        Name of the assembly it belongs to, whose parts shall lie on as few sheets as
        possible; empty if it belongs to none.
    need : float
        Of a filler, what it is worth for its area: those in greater need come first.
    source : Source, optional
        Where the part was drawn.
    joints : str, or None
        As in `Holding.joints`, for this part and its slugs; None: as the job says.
    critical : tuple of str
        Edges that carry no joint: ``"outer"``, ``"holes"``, or sides of the outer contour
        as it is drawn: ``"left"``, ``"right"``, ``"top"``, ``"bottom"``, each with the
        edges that face that way within 45 degrees.
    common_lines : bool
        Whether its pieces may lie exactly one kerf from each other, and from those of other
        parts that may, and share the cut between them.
    orders : tuple of OrderLine
        Who wants them; what no line wants is for nobody.
    """

    name: str
    outer: Contour
    inners: tuple[Contour, ...] = ()
    marks: tuple[Contour, ...] = ()
    quantity: int = 1
    rotations: tuple[float, ...] | None = (0.0, 90.0, 180.0, 270.0)
    flip: bool = False
    grain: float | None = None
    priority: int = 0
    filler: bool = False
    due: date | None = None
    most_per_sheet: int | None = None
    apart: tuple[str, ...] = ()
    kit: str = ""
    need: float = 1.0
    source: Source | None = None
    joints: str | None = None
    critical: tuple[str, ...] = ()
    orders: tuple[OrderLine, ...] = ()
    common_lines: bool = False

    @property
    def area(self) -> float:
        """Area of metal in mm²: the outer contour less the holes."""
        return self.outer.area - sum(c.area for c in self.inners)

    @property
    def cut_length(self) -> float:
        """Length of all contours that are cut through, in mm."""
        return self.outer.length + sum(c.length for c in self.inners)

    @property
    def pierces(self) -> int:
        """How many times the beam pierces the sheet for one piece."""
        return 1 + len(self.inners)

    @property
    def size(self) -> tuple[float, float]:
        """Width and height of the bounding box in mm."""
        x0, y0, x1, y1 = self.outer.bounds
        return x1 - x0, y1 - y0

    def _repr_svg_(self) -> str:
        """What a notebook shows."""
        return shown(self)
