"""Who decides in which unit a drawing is: the user, the file or the job."""

from __future__ import annotations

from dataclasses import dataclass

from nestlib.drawings.sketch import Notes
from nestlib.drawings.units import millimetres, unit_name
from nestlib.errors import DrawingError, Problem

_REMEDY = (
    'Say the unit: units = "mm" (or "in", "cm", ...) in the job, or --units mm;'
    " or save the drawing with its units"
)


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
        Overrides the file.
    job : str, optional
        Taken when the file gives none.
    """

    user: str | None = None
    job: str | None = None

    def settle(self, of_file: str | None, file: str, notes: Notes) -> Settled:
        """Decide, and note it where the file did not.

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
            message = f"the file gives no unit; {unit.name} was taken from the job"
            notes.add("units-assumed", message)
            return unit
        raise DrawingError(Problem(file, "", "it does not say in which unit it is drawn", _REMEDY))


def _settled(unit: str, source: str, file: str) -> Settled:
    try:
        return Settled(unit_name(unit), source, millimetres(unit))
    except ValueError as error:
        raise DrawingError(Problem(file, "", str(error), _REMEDY)) from error
