"""The catalogue of findings: every code that reading or checking a drawing may give.

A code is a stable name for scripts. Its level says what it means for the part:

error
    The part cannot be cut as it is drawn.
warning
    It can be cut, but may not come out as meant.
note
    Something was mended, left out or is good to know.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from nestlib.model import Finding

#: Levels from bad to harmless.
LEVELS = ("error", "warning", "note")


@dataclass(frozen=True)
class Code:
    """What all findings of one code have in common.

    Parameters
    ----------
    level : str
        One of `LEVELS`.
    title : str
        A few plain words for legends and tables.
    remedy : str
        What to do about it, unless the finding knows better.
    """

    level: str
    title: str
    remedy: str


_SHAPE = {
    "open-contour": Code(
        "error",
        "Contour is open",
        "Close the contour in the drawing, or delete it if it should not be cut",
    ),
    "branching-contour": Code(
        "error",
        "Contour branches",
        "Remove the lines that should not be cut, or put them on a layer of marks",
    ),
    "tangled-contours": Code(
        "error", "Contours too tangled to follow", "Draw each contour as one closed polyline"
    ),
    "self-crossing": Code(
        "error", "Contour crosses itself", "Redraw the contour so that it never meets itself"
    ),
    "contours-cross": Code(
        "error", "Contours cross or touch", "Move them apart, or merge them into one contour"
    ),
    "hole-outside-part": Code(
        "error", "Hole reaches outside its part", "Move the hole inside the part, or merge the two"
    ),
    "mark-outside-part": Code(
        "warning", "Mark lies outside every part", "Move the mark onto a part, or delete it"
    ),
    "no-parts": Code(
        "error", "Nothing to cut", "Check that the contours are closed and on layers that are cut"
    ),
}

_MENDED = {
    "gap-closed": Code("note", "Gap closed", "Nothing to do if the gap is an accident of drawing"),
    "duplicate-dropped": Code(
        "note", "Drawn twice, cut once", "Nothing to do; delete the copies to tidy the drawing"
    ),
    "overlap-merged": Code(
        "note", "Overlapping pieces merged", "Nothing to do; draw the line once to tidy the drawing"
    ),
    "zero-length": Code("note", "Entity without length left out", "Nothing to do"),
    "height-flattened": Code(
        "note",
        "Small height differences flattened",
        "Nothing to do; set z to 0 to tidy the drawing",
    ),
    "curve-replaced": Code(
        "note",
        "Curve replaced by arcs and lines",
        "Nothing to do; the result lies within the tolerance",
    ),
    "file-repaired": Code(
        "note",
        "Damage in the file repaired",
        "Compare the picture with what was meant, or save the file again",
    ),
    "part-repeated": Code(
        "note", "Same part drawn several times", "Nothing to do; the copies count as its quantity"
    ),
    "hidden-layer": Code(
        "note", "On a layer that is off or frozen", "Switch the layer on if it should be cut"
    ),
    "text-not-cut": Code(
        "note",
        "Text is not cut",
        "Turn the text into curves on a layer of marks if it should be etched",
    ),
}

_READING = {
    "unreadable-entity": Code(
        "warning",
        "Entity cannot be read",
        "Redraw it with lines and arcs, or export the file again",
    ),
    "proxy-entity": Code(
        "error", "Entity without geometry", "Explode it in the program that drew it, and save again"
    ),
    "missing-block": Code(
        "error", "Block is missing", "Insert the block again, or purge the reference"
    ),
    "recursive-block": Code(
        "error", "Block contains itself", "Explode the block in the program that drew it"
    ),
    "clipped-block": Code(
        "warning", "Clipped block read whole", "Explode the block and trim what should not be cut"
    ),
    "external-reference": Code(
        "error", "Contents lie in another file", "Bind the external reference into this drawing"
    ),
    "bad-number": Code(
        "error", "Coordinate is no usable number", "Redraw the entity, or export the file again"
    ),
    "sloped-geometry": Code("error", "Not flat", "Project the drawing onto the plane z = 0"),
    "solid-geometry": Code(
        "error", "Solid or mesh instead of contours", "Export the flat contours of the part"
    ),
    "arc-vanishes": Code(
        "warning", "Arc without an angle", "Draw a circle if a full turn was meant, or delete it"
    ),
    "far-from-origin": Code(
        "warning",
        "Far from the origin",
        "Move the drawing to the origin: coordinates lose digits out there",
    ),
    "units-assumed": Code(
        "warning",
        "Units assumed",
        "Save the drawing with its units, or say them in its entry",
    ),
    "units-overruled": Code(
        "warning",
        "Units other than the file's",
        "Take units out of its entry, unless the file is known to be wrong",
    ),
    "suspicious-size": Code("warning", "Size looks wrong", "Check the units of the drawing"),
}

_CUTTING = {
    "hole-too-small": Code(
        "warning",
        "Hole too small for the thickness",
        "Make it larger, or mark its centre and drill it (common practice, no source)",
    ),
    "slot-too-narrow": Code(
        "warning",
        "Slot too narrow for the thickness",
        "Make it wider (common practice, no source)",
    ),
    "web-too-thin": Code(
        "warning",
        "Metal between two cuts too thin",
        "Leave at least the thickness between cuts (common practice, no source)",
    ),
    "lost-in-kerf": Code(
        "error", "Narrower than the kerf", "Make it wider than the kerf, or draw one line as a mark"
    ),
    "corner-rounded": Code(
        "note", "Corners that the kerf rounds", "Add a relief hole where a sharp corner matters"
    ),
    "larger-than-sheets": Code(
        "error",
        "Larger than every sheet",
        "Use a larger sheet, allow more turns, or divide the part",
    ),
    "tiny-segments": Code(
        "warning",
        "Curve made of tiny lines",
        "Export arcs and splines as such: the machine will cut faster",
    ),
}

#: Every code with its level, title and usual remedy.
CODES: Mapping[str, Code] = MappingProxyType({**_SHAPE, **_MENDED, **_READING, **_CUTTING})


def finding(
    code: str,
    message: str,
    *,
    places: Iterable[tuple[float, float]] = (),
    part: str = "",
    layer: str = "",
    handle: str = "",
    remedy: str | None = None,
) -> Finding:
    """Return a finding with the level and the remedy that its code has in the catalogue.

    Parameters
    ----------
    code : str
        One of `CODES`.
    message : str
        What is the matter, in plain words and with figures.
    places : iterable of (float, float)
        Where in the drawing, in mm.
    part : str
        The part it is about; empty if it is about the whole drawing.
    layer, handle : str
        Layer and handle of the entity, where there is one.
    remedy : str, optional
        A better remedy than the usual one.

    Returns
    -------
    Finding

    Raises
    ------
    KeyError
        If the code is not in the catalogue.

    Examples
    --------
    >>> found = finding("gap-closed", "a gap of 0.03 mm was closed", places=[(1, 2)])
    >>> found.level, found.remedy, found.places
    ('note', 'Nothing to do if the gap is an accident of drawing', ((1.0, 2.0),))
    """
    known = CODES[code]
    return Finding(
        code,
        known.level,
        message,
        known.remedy if remedy is None else remedy,
        tuple((float(x), float(y)) for x, y in places),
        part,
        layer,
        handle,
    )
