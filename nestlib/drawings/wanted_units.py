"""Who decides in which unit a drawing is: its entry in a job, the file, or the job."""

from __future__ import annotations

import math
from dataclasses import dataclass

from nestlib.drawings.sketch import Notes
from nestlib.drawings.units import millimetres, unit_name
from nestlib.errors import DrawingError, Problem

_REMEDY = (
    'Say the unit: units = "mm" (or "in", "cm", ...) in the job, or --units mm;'
    " or save the drawing with its units"
)

#: Units whose sizes differ by less than this share are the same one, such as inch and US inch.
_SAME = 1e-4


@dataclass(frozen=True)
class Settled:
    """The unit of a drawing.

    Parameters
    ----------
    name : str
        For example ``"mm"``.
    source : str
        ``"user"``, ``"file"`` or ``"job"``.
    scale : float
        Millimetres in one unit of the drawing's coordinates.
    """

    name: str
    source: str
    scale: float


@dataclass(frozen=True)
class WantedUnits:
    """What is said about units outside the file.

    Parameters
    ----------
    user : str, optional
        Overrides the file, which is noted where the file says another one.
    job : str, optional
        Taken when the file gives none.
    """

    user: str | None = None
    job: str | None = None

    def settle(self, of_file: str | None, file: str, notes: Notes) -> Settled:
        """Decide, and note it where the file gives none.

        Raises
        ------
        DrawingError
            If nobody gives a unit, or one that does not exist.
        """
        if self.user is not None:
            return _settled(self.user, "user", file)
        if of_file is not None:
            return _settled(of_file, "file", file)
        if self.job is not None:
            unit = _settled(self.job, "job", file)
            message = f"the file gives no unit; {unit.name} was taken, as is said for such files"
            notes.add("units-assumed", message)
            return unit
        raise DrawingError(Problem(file, "", "it does not say in which unit it is drawn", _REMEDY))


def note_overruled(unit: Settled, scale: float, of_file: str, by_file: float, notes: Notes) -> None:
    """Tell by how much all sizes change where an entry says another unit than the file.

    Parameters
    ----------
    unit : Settled
        What was decided.
    scale, by_file : float
        Millimetres in one unit of the coordinates, as they are read and as the file says.
    of_file : str
        What the file says.
    notes : Notes
        Takes what is noticed.
    """
    smaller, larger = sorted((scale, by_file))
    if math.isclose(scale, by_file, rel_tol=_SAME) or smaller <= 0 or math.isinf(larger):
        return
    change = f"{larger / smaller:.6g} times {'larger' if scale == larger else 'smaller'}"
    message = f"the file says {of_file}, its entry says {unit.name}: all comes out {change}"
    notes.add("units-overruled", message)


def _settled(unit: str, source: str, file: str) -> Settled:
    try:
        return Settled(unit_name(unit), source, millimetres(unit))
    except ValueError as error:
        raise DrawingError(Problem(file, "", str(error), _REMEDY)) from error
