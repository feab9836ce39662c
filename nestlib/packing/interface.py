"""What a packer is given and what it hands back.

An engine is any function ``pack(shapes, containers, *, stop, seed, executor,
on_progress) -> Packing``. It knows nothing of drawings, metals or sheets: only
polygons that already keep their distance, and rooms that they must not leave.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from shapely import MultiPolygon, Polygon

from nestlib.model import Bound


@dataclass(frozen=True, eq=False)
class Shape:
    """One thing to place.

    Parameters
    ----------
    name : str
        For messages.
    polygon : shapely.Polygon
        Clearance polygon in the coordinates of the part, holes included, in mm.
    area : float
        True area of the part in mm², without any clearance.
    quantity : int
        Pieces wanted.
    rotations : tuple of float, or None
        Allowed turns in degrees, counter-clockwise about (0, 0); None allows any angle.
    flip : bool
        Whether the shape may be mirrored (x becomes -x) before it is turned.
    grain : float, or None
        Direction in degrees that has to lie along the container's grain, either way
        round; it overrides `rotations`.
    priority : int
        Shapes with a higher number are placed first.
    filler : bool
        Placed only where the others leave room.
    due : int, or None
        Rank of the date it is due, the earliest lowest; None if it has none. It tells
        which sheets are needed first; which pieces are missing first is told by `priority`.
    most : int, or None
        Most pieces in one container; None if there is no limit.
    apart : tuple of int
        Shapes that never lie in the same container as this one, and it never in theirs;
        its own index allows one piece in a container.
    kit : str
        Shapes of one kit shall lie in as few containers as possible; empty for none.
    need : float
        Of a filler, what it is worth for its area.
    """

    name: str
    polygon: Polygon
    area: float
    quantity: int = 1
    rotations: tuple[float, ...] | None = (0.0, 90.0, 180.0, 270.0)
    flip: bool = False
    grain: float | None = None
    priority: int = 0
    filler: bool = False
    due: int | None = None
    most: int | None = None
    apart: tuple[int, ...] = ()
    kit: str = ""
    need: float = 1.0


@dataclass(frozen=True, eq=False)
class Container:
    """One kind of room to place shapes in.

    Parameters
    ----------
    name : str
        For messages.
    room : shapely.MultiPolygon
        Where clearance polygons may lie, in mm; touching its edge is allowed.
    area : float
        Area of the metal in mm².
    quantity : int, or None
        How many there are; None if as many as needed.
    grain : float
        Direction of the grain in degrees.
    cost : float, or None
        Price of one; None if unknown.
    order : int
        Rank: containers of a lower rank are filled first (remnants).
    beyond : float
        How far the room reaches beyond the edge of the metal, in mm: gaps may, parts never.
    """

    name: str
    room: MultiPolygon
    area: float
    quantity: int | None = None
    grain: float = 0.0
    cost: float | None = None
    order: int = 0
    beyond: float = 0.0


@dataclass(frozen=True)
class Aims:
    """What counts besides the price of the containers.

    Parameters
    ----------
    set_up : float
        Price of each different layout.
    most_layouts : int, or None
        So many different layouts at most, if that can be had.
    worth : float
        What free room at an end of a container is worth: this share of its price for its
        share of the area, 0 to 1.
    least_side : float
        Free room counts only if both its sides are at least this long, in mm.
    stepped : bool
        Whether what is left of a container may have steps, and so be more than the search
        weighs; bounds allow for it.
    """

    set_up: float = 0.0
    most_layouts: int | None = None
    worth: float = 0.0
    least_side: float = 0.0
    stepped: bool = False


@dataclass(frozen=True)
class PackedPlacement:
    """One piece in a container: mirrored if `flip`, turned about (0, 0), then moved.

    Parameters
    ----------
    shape : int
        Index of the shape.
    rotation : float
        Degrees, counter-clockwise, 0 to below 360.
    flip : bool
        Whether it is mirrored.
    x, y : float
        Where the shape's (0, 0) comes to lie, in mm.
    """

    shape: int
    rotation: float
    flip: bool
    x: float
    y: float


@dataclass(frozen=True)
class PackedSheet:
    """Pieces placed in one container, and how many containers are filled this way.

    Parameters
    ----------
    container : int
        Index of the container.
    placements : tuple of PackedPlacement
        One for each piece.
    runs : int
        How many containers are filled this way.
    """

    container: int
    placements: tuple[PackedPlacement, ...]
    runs: int = 1


@dataclass(frozen=True)
class Packing:
    """The answer of a packer.

    Parameters
    ----------
    sheets : tuple of PackedSheet
        In the order in which they were filled.
    unplaced : tuple of (int, int, str)
        Index of the shape, how many pieces of it are missing, and why. Fillers that
        found no room are not listed.
    stopped : bool
        Whether the user interrupted the search.
    bound : Bound, or None
        What no packing of all pieces can beat, if that was worked out and all lie.
    tried : tuple of PackedSheet
        Different layouts that were found on the way, each once; those of `sheets` among them.
    """

    sheets: tuple[PackedSheet, ...] = ()
    unplaced: tuple[tuple[int, int, str], ...] = ()
    stopped: bool = False
    bound: Bound | None = None
    tried: tuple[PackedSheet, ...] = ()

    @cached_property
    def pieces(self) -> int:
        """Pieces placed over all containers."""
        return sum(len(s.placements) * s.runs for s in self.sheets)
