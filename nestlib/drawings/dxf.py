"""DXF files, from R12 to 2018, as text or binary."""

from __future__ import annotations

import io
import logging
import re
import struct

from ezdxf import filemanagement, recover
from ezdxf.audit import Auditor
from ezdxf.document import Drawing as Document

from nestlib.drawings.dxf_blocks import Found, Walk
from nestlib.drawings.dxf_shapes import DRAWN, Unusable, contours
from nestlib.drawings.rules import Rules
from nestlib.drawings.sketch import Notes, Sketch, Stroke
from nestlib.drawings.units import millimetres, unit_of_code
from nestlib.drawings.wanted_units import WantedUnits, note_overruled
from nestlib.errors import DrawingError, Problem
from nestlib.tolerances import CURVE, SAME_POINT

_BINARY = b"AutoCAD Binary DXF"

#: ``$ACADVER``: DXF Reference, HEADER section.
_VERSIONS = {
    "AC1006": "R10",
    "AC1009": "R12",
    "AC1012": "R13",
    "AC1014": "R14",
    "AC1015": "R2000",
    "AC1018": "R2004",
    "AC1021": "R2007",
    "AC1024": "R2010",
    "AC1027": "R2013",
    "AC1032": "R2018",
}

_HELP = "only helps to read the drawing"
_NEVER_CUT = {
    **dict.fromkeys(("DIMENSION", "ARC_DIMENSION", "LARGE_RADIAL_DIMENSION"), _HELP),
    **dict.fromkeys(("LEADER", "MLEADER", "MULTILEADER", "TOLERANCE", "ACAD_TABLE"), _HELP),
    **dict.fromkeys(("POINT", "XLINE", "RAY", "VIEWPORT", "LIGHT", "SUN"), _HELP),
    **dict.fromkeys(("HATCH", "MPOLYGON", "SOLID", "TRACE", "WIPEOUT"), "a filling, not a line"),
    **dict.fromkeys(("IMAGE", "OLE2FRAME", "PDFUNDERLAY", "DWFUNDERLAY"), "a picture"),
    "DGNUNDERLAY": "a picture",
}
_CURVES = {"ELLIPSE", "SPLINE", "HELIX"}
_SOLIDS = {"3DSOLID", "BODY", "REGION", "MESH", "3DFACE"}

# Without a handler, warnings of the library would go to the terminal by themselves.
logging.getLogger("ezdxf").addHandler(logging.NullHandler())


def looks_like_dxf(data: bytes) -> bool:
    """Whether a file's contents are a DXF, whatever its name.

    Examples
    --------
    >>> looks_like_dxf(b"0\\nSECTION\\n2\\nHEADER\\n"), looks_like_dxf(b"Dear all")
    (True, False)
    """
    head = data[:65536].removeprefix(b"\xef\xbb\xbf")
    return data.startswith(_BINARY) or bool(
        re.match(rb"\s*(999\s*?\n.*\n\s*)*0\s*?\r?\n\s*SECTION\s", head)
    )


def read_dxf(data: bytes, file: str, wanted: WantedUnits, rules: Rules, notes: Notes) -> Sketch:
    """Read the strokes of a DXF.

    Parameters
    ----------
    data : bytes
        The whole file.
    file : str
        Named in messages.
    wanted : WantedUnits
        What the user and the job say about units.
    rules : Rules
        What is cut, etched or ignored.
    notes : Notes
        Takes what is noticed.

    Returns
    -------
    Sketch

    Raises
    ------
    DrawingError
        If it cannot be read, or has no units.
    """
    document, auditor = _load(data, file)
    _note_repairs(auditor, notes)
    of_file = unit_of_code(_insunits(document, data))
    units = wanted.settle(of_file, file, notes)
    if of_file is not None:
        note_overruled(units, units.scale, of_file, millimetres(of_file), notes)
    strokes = []
    for order, found in enumerate(Walk(document, units.scale, rules, notes, file)):
        strokes.extend(_strokes(found, order, notes))
    if not strokes and _paper_entities(document):
        message = "the model space is empty; the layouts on paper are not read"
        notes.add("no-parts", message, remedy="Draw the part in model space")
    version = _VERSIONS.get(document.dxfversion, document.dxfversion)
    return Sketch(strokes, units.name, units.source, version)


def _load(data: bytes, file: str) -> tuple[Document, Auditor | None]:
    """Load a document: as it stands if possible, else with repairs.

    A repair deletes what is broken, so that nobody could be told what it was; that is why
    sound files are not audited.
    """
    if not data.startswith(_BINARY) and b"EOF" not in data[-200:]:
        raise _damaged(file, "it ends before its end: the last lines are missing")
    try:
        return _with_model_space(filemanagement.readfile(file)), None
    except Exception as plain:
        # Broken files break the library in many ways; all of them mean the same.
        try:
            if not data.startswith(_BINARY):  # the repairing reader knows text only
                document, auditor = recover.read(io.BytesIO(data))
                return _with_model_space(document), auditor
        except Exception as error:
            raise _damaged(file, f"the DXF is damaged ({_first_line(error)})") from error
        if isinstance(plain, struct.error):
            raise _damaged(file, "it ends before its end: the last bytes are missing") from plain
        raise _damaged(file, f"the DXF is damaged ({_first_line(plain)})") from plain


def _with_model_space(document: Document) -> Document:
    """Fail now if there is nothing to walk through."""
    document.modelspace()
    return document


def _damaged(file: str, problem: str) -> DrawingError:
    return DrawingError(Problem(file, "", problem, "Save or export the drawing again"))


def _first_line(error: Exception) -> str:
    return (str(error).strip().splitlines() or [type(error).__name__])[0].rstrip(".")


def _note_repairs(auditor: Auditor | None, notes: Notes) -> None:
    entries = [*auditor.errors, *auditor.fixes] if auditor else []
    told = [entry.message for entry in entries]
    if told:
        message = f"{len(told)} faults in the file, the first: {told[0].rstrip('.')}"
        notes.add("file-repaired", message.encode("utf-8", "replace").decode())


def _insunits(document: Document, data: bytes) -> int | None:
    """``$INSUNITS`` as it was written; None if it was not.

    Without a header the library makes one up, which says metres.
    """
    value = document.header.get("$INSUNITS") if b"$INSUNITS" in data else None
    return value if isinstance(value, int) else None


def _paper_entities(document: Document) -> bool:
    return any(
        e.dxftype() != "VIEWPORT"
        for name in document.layout_names()
        if name != "Model"
        for e in document.paperspace(name)
    )


def _strokes(found: Found, order: int, notes: Notes) -> list[Stroke]:
    """What one entity draws; what it does not is noted."""
    kind, style = found.style.kind, found.style
    if kind in _NEVER_CUT:
        notes.leave_out(kind, style.layer, _NEVER_CUT[kind])
        return []
    if kind == "ACAD_PROXY_ENTITY":
        notes.repeat("proxy-entity", "an entity holds no geometry of its own", None, style)
        return []
    if kind in _SOLIDS or kind.endswith("SURFACE"):
        notes.repeat("solid-geometry", f"{kind} holds no contours", None, style)
        return []
    if kind not in DRAWN:
        notes.repeat("unreadable-entity", f"{kind} is not understood", None, style)
        return []
    try:
        made, flattened = contours(found.entity, found.matrix)
    except Unusable as error:
        notes.repeat(error.code, f"{kind}: {error.message}", error.place, style)
        return []
    except Exception as error:  # one bad entity never stops the others
        notes.repeat("unreadable-entity", f"{kind}: {_first_line(error)}", None, style)
        return []
    if flattened > SAME_POINT:
        notes.repeat("height-flattened", f"{kind}: heights were set to 0", None, style)
    if kind in _CURVES:
        message = f"{kind} was replaced by arcs and lines within {CURVE:g} mm"
        notes.repeat("curve-replaced", message, None, style)
    return [Stroke(c, style, order, found.mark) for c in made]
