"""The figures of a drawing and its parts, for people's tables and for scripts."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import Any

from nestlib.model import Drawing, Finding, Part


@dataclass(frozen=True)
class Summary:
    """The figures of one part; lengths in mm, areas in mm².

    Parameters
    ----------
    part : str
        Its name.
    quantity : int
        How many times the drawing shows it.
    width, height : float
        Of its bounding box.
    area : float
        Of the metal: the outer contour less the holes.
    cut_length : float
        Of all contours that are cut through.
    contours : int
        How many contours are cut through.
    pierces : int
        How many times the beam pierces the sheet for one piece.
    marks : int
        How many lines are etched.
    """

    part: str
    quantity: int
    width: float
    height: float
    area: float
    cut_length: float
    contours: int
    pierces: int
    marks: int

    def to_dict(self) -> dict[str, Any]:
        """Return the figures as plain data, in the order in which they are documented."""
        return asdict(self)


def summary(part: Part) -> Summary:
    """Return the figures of one part.

    Parameters
    ----------
    part : Part
        As it was read.

    Returns
    -------
    Summary

    Examples
    --------
    >>> from nestlib.model import Contour
    >>> plate = Part("plate", Contour.rectangle(60, 40), (Contour.rectangle(10, 10),))
    >>> figures = summary(plate)
    >>> figures.area, figures.cut_length, figures.pierces
    (2300.0, 240.0, 2)
    """
    width, height = part.size
    return Summary(
        part=part.name,
        quantity=part.quantity,
        width=width,
        height=height,
        area=part.area,
        cut_length=part.cut_length,
        contours=1 + len(part.inners),
        pierces=part.pierces,
        marks=len(part.marks),
    )


def check_record(drawing: Drawing, findings: Iterable[Finding]) -> dict[str, Any]:
    """Return what checking a drawing showed as plain data, ready for JSON.

    Parameters
    ----------
    drawing : Drawing
        As it was read.
    findings : iterable of Finding
        As `nestlib.drawings.check_drawing` returns them.

    Returns
    -------
    dict
        ``file``, ``version``, ``units``, ``units_from``, ``parts``, ``findings`` and
        ``left_out``.
    """
    return {
        "file": drawing.file,
        "version": drawing.version,
        "units": drawing.units,
        "units_from": drawing.units_from,
        "parts": [summary(part).to_dict() for part in drawing.parts],
        "findings": [_finding_record(found) for found in findings],
        "left_out": [asdict(left) for left in drawing.left_out],
    }


def _finding_record(found: Finding) -> dict[str, Any]:
    return asdict(found) | {"places": [list(place) for place in found.places]}
