"""What a drawing holds once it has been read."""

from __future__ import annotations

from dataclasses import dataclass

from nestlib.model.contour import Contour
from nestlib.model.part import Part


@dataclass(frozen=True)
class Finding:
    """Something in a drawing that its author should know.

    Parameters
    ----------
    code : str
        Short name, for example ``"open-contour"``; the codes are listed in
        `nestlib.drawings.codes`.
    level : str
        ``"error"`` (the part cannot be cut as drawn), ``"warning"`` (it may not come out
        as meant) or ``"note"`` (something was mended or left out).
    message : str
        What is the matter, in plain words and with figures.
    remedy : str
        What to do about it.
    places : tuple of (float, float)
        Where in the drawing, in mm.
    part : str
        The part it is about; empty if it is about the whole drawing.
    layer, handle : str
        Layer and handle of the entity, where there is one.
    """

    code: str
    level: str
    message: str
    remedy: str
    places: tuple[tuple[float, float], ...] = ()
    part: str = ""
    layer: str = ""
    handle: str = ""


@dataclass(frozen=True)
class LeftOut:
    """Things of one kind on one layer that were read but are never cut.

    Parameters
    ----------
    kind : str
        DXF or SVG name of the entity, for example ``"TEXT"``.
    layer : str
        Where it was drawn.
    count : int
        How many.
    reason : str
        Which rule left it out.
    """

    kind: str
    layer: str
    count: int
    reason: str


@dataclass(frozen=True, eq=False)
class Drawing:
    """One drawing file, read.

    Parameters
    ----------
    file : str
        Path as the user gave it.
    units : str
        Unit of the file, for example ``"mm"`` or ``"in"``.
    units_from : str
        ``"file"``, ``"user"`` (an override) or ``"job"`` (the file gives none, and this
        is what was said for such files).
    version : str
        ``"R12"`` ... ``"R2018"``, or ``"SVG"``.
    parts : tuple of Part
        What can be cut. The same part drawn many times is one part with a quantity.
    findings : tuple of Finding
        What reading it showed.
    left_out : tuple of LeftOut
        What is never cut.
    loose : tuple of Contour
        Open chains that belong to no part, in drawing coordinates, for the picture.
    """

    file: str
    units: str
    units_from: str
    version: str
    parts: tuple[Part, ...]
    findings: tuple[Finding, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    loose: tuple[Contour, ...] = ()
