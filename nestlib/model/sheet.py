"""A piece of stock to cut parts from."""

from __future__ import annotations

from dataclasses import dataclass

from nestlib.model.contour import Contour


@dataclass(frozen=True, eq=False)
class Sheet:
    """A piece of stock: a rectangle or any outline.

    Coordinates are in mm; a rectangle has its lower left corner at (0, 0), with its
    length along x.

    Parameters
    ----------
    name : str
        Unique within a job.
    outline : Contour
        The edge of the sheet, counter-clockwise.
    holes : tuple of Contour
        Openings that are already cut, in a remnant.
    keep_outs : tuple of Contour
        Zones that nothing may touch: clamps, scratches.
    quantity : int, or None
        Pieces on hand; None if as many as needed can be had.
    grain : float
        Direction of the grain in degrees; 0 is along x.
    cost : float, or None
        Price of one piece, in the job's currency; None if unknown, and then weighed by area.
    remnant : bool
        Whether it is a leftover of earlier work.
    heat : str
        Heat or certificate number, carried through to the report.
    item : str
        What the label of its item on the rack says, for example ``"S12"``; empty if it is
        not from there.
    """

    name: str
    outline: Contour
    holes: tuple[Contour, ...] = ()
    keep_outs: tuple[Contour, ...] = ()
    quantity: int | None = 1
    grain: float = 0.0
    cost: float | None = None
    remnant: bool = False
    heat: str = ""
    item: str = ""

    @property
    def area(self) -> float:
        """Area of metal in mm²: the outline less the holes; keep-out zones count as metal."""
        return self.outline.area - sum(c.area for c in self.holes)

    @property
    def size(self) -> tuple[float, float]:
        """Width and height of the bounding box in mm."""
        x0, y0, x1, y1 = self.outline.bounds
        return x1 - x0, y1 - y0
