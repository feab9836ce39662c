"""What lies on the rack: alike sheets or remnants in one place."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from nestlib.errors import Problem, StockError
from nestlib.model import Contour

#: Inspection documents by type, EN 10204:2004, from the weakest to the strongest.
DOCUMENTS = ("2.1", "2.2", "3.1", "3.2")


@dataclass(frozen=True, eq=False)
class Item:
    """Alike sheets or remnants, as they are put on the rack.

    Parameters
    ----------
    metal : str
        Name of the material, for example ``"mild-steel"``.
    thickness : float
        In mm.
    outline : Contour
        The edge, in mm.
    holes : tuple of Contour
        Openings that are already cut.
    remnant : bool
        Whether it is a leftover of earlier work.
    grain : float
        Direction of the grain in degrees; 0 is along x.
    place : str
        Where it lies.
    price : float, or None
        Of one piece; of a remnant, its share by area of what its sheet was bought for.
    currency : str
        Unit of the price.
    lot : str
        Lot of the supplier.
    heat : str
        Heat number.
    document : str
        Type of the inspection document by EN 10204: one of `DOCUMENTS`, or empty.
    since : datetime.date, or None
        Day on which it came; today if None.
    parent : int, or None
        Number of the item that a remnant was cut from.
    """

    metal: str
    thickness: float
    outline: Contour
    holes: tuple[Contour, ...] = ()
    remnant: bool = False
    grain: float = 0.0
    place: str = ""
    price: float | None = None
    currency: str = ""
    lot: str = ""
    heat: str = ""
    document: str = ""
    since: date | None = None
    parent: int | None = None

    @property
    def area(self) -> float:
        """Area of metal in mm²."""
        return self.outline.area - sum(hole.area for hole in self.holes)


class Stocked(NamedTuple):
    """A row of the list of the rack: an item without its outline, and how many there are.

    Lengths are in mm and areas in mm²; `there` counts all pieces, `held` those of them that
    are held for a plan. A tuple, since there may be a hundred thousand of them.
    """

    id: int
    remnant: bool
    metal: str
    thickness: float
    width: float
    height: float
    area: float
    usable: float
    grain: float
    place: str
    price: float | None
    currency: str
    lot: str
    heat: str
    document: str
    since: str
    parent: int | None
    there: int
    held: int

    @property
    def code(self) -> str:
        """What stands on the label: S and a number for sheets, R for remnants."""
        return code_of(self.id, remnant=bool(self.remnant))

    @property
    def free(self) -> int:
        """How many may be taken."""
        return self.there - self.held


def code_of(number: int, *, remnant: bool) -> str:
    """Return what stands on the label of an item.

    Parameters
    ----------
    number : int
        Of the item in the ledger.
    remnant : bool
        Whether it is a remnant.

    Examples
    --------
    >>> code_of(12, remnant=True)
    'R12'
    """
    return f"{'R' if remnant else 'S'}{number}"


def number_of(code: str) -> int:
    """Return the number of an item from what stands on its label.

    Parameters
    ----------
    code : str
        An S or R, in capitals or not, and the number.

    Raises
    ------
    StockError
        If it is no such text.

    Examples
    --------
    >>> number_of("r12")
    12
    """
    found = re.fullmatch(r"[SsRr]([1-9][0-9]{0,8})", code.strip())
    if not found:
        problem = f'"{code}" is no item of the rack'
        raise StockError(Problem("", "", problem, 'Give what its label says, such as "S12"'))
    return int(found[1])
