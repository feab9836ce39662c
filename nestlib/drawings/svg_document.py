"""SVG files as trees: made safe, measured, and stripped of all that draws no contour.

Nothing is ever fetched or expanded: files that define entities are refused, and groups
that are repeated are counted before they are unfolded.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from xml.etree import ElementTree
from xml.etree.ElementTree import Element
from xml.parsers import expat

from nestlib.drawings.expansion import MOST, unfolded
from nestlib.drawings.sketch import Notes, Style
from nestlib.errors import DrawingError, Problem

SVG = "{http://www.w3.org/2000/svg}"
#: Groups that drawing programs show as layers carry their name here.
_LABEL = "{http://www.inkscape.org/namespaces/inkscape}label"
_LINKS = ("href", "{http://www.w3.org/1999/xlink}href")

#: Name of the attribute in which the layer is kept; children inherit it.
LAYER = "data-layer"

_DEEPEST = 200
_TEXT = {"text", "flowRoot"}
_PICTURES = {"image", "foreignObject", "video"}
_SILENT = {
    "mask", "clipPath", "pattern", "marker", "filter", "linearGradient", "radialGradient",
    "metadata", "script", "animate", "title", "desc",
}  # fmt: skip
_GEOMETRY = {
    "line": ("x1", "y1", "x2", "y2"),
    "rect": ("x", "y", "width", "height", "rx", "ry"),
    "circle": ("cx", "cy", "r"),
    "ellipse": ("cx", "cy", "rx", "ry"),
    "polyline": ("points",),
    "polygon": ("points",),
    "path": ("d",),
    "use": ("x", "y"),
}
_NO_NUMBER = re.compile(r"nan|inf", re.IGNORECASE)
_HIDDEN = re.compile(r"display\s*:\s*none", re.IGNORECASE)


def looks_like_svg(data: bytes) -> bool:
    """Whether a file's contents are meant as an SVG, whatever its name.

    Examples
    --------
    >>> looks_like_svg(b"<svg xmlns='http://www.w3.org/2000/svg'/>"), looks_like_svg(b"Dear all")
    (True, False)
    """
    head = data[:65536]
    if head[:2] in (b"\xff\xfe", b"\xfe\xff"):
        head = head.decode("utf-16", "ignore").encode()
    return re.search(rb"<([\w-]+:)?svg[\s>/]", head) is not None


def parse(data: bytes, file: str) -> Element:
    """Return the root element of an SVG.

    Parameters
    ----------
    data : bytes
        The whole file.
    file : str
        Named in messages.

    Raises
    ------
    DrawingError
        If it is no SVG, is damaged, defines entities, or unfolds to far too much.
    """
    try:
        _check_harmless(data, file)
        root = ElementTree.fromstring(data)
    except (expat.ExpatError, ElementTree.ParseError, LookupError, ValueError) as error:
        raise _refused(
            file, f"the SVG is damaged ({error})", "Save or export the drawing again"
        ) from error
    if root.tag not in (SVG + "svg", "svg"):
        raise _refused(file, "it is no SVG drawing", "Export the drawing as SVG again")
    if root.tag == "svg":  # written without its namespace
        for element in root.iter():
            if isinstance(element.tag, str) and not element.tag.startswith("{"):
                element.tag = SVG + element.tag
    _check_size(root, file)
    return root


def _check_harmless(data: bytes, file: str) -> None:
    """Refuse entities, before anything could expand them, and bottomless nests."""
    depth = 0

    def doctype(name: str, system: str | None, public: str | None, internal: int) -> None:
        if internal:
            raise _refused(file, "it defines entities, which are not read", "Save it as plain SVG")

    def entity(*_: object) -> None:
        raise _refused(file, "it defines entities, which are not read", "Save it as plain SVG")

    def start(name: str, attributes: dict[str, str]) -> None:
        nonlocal depth
        depth += 1
        if depth > _DEEPEST:
            problem = f"its groups are nested more than {_DEEPEST} deep"
            raise _refused(file, problem, "Ungroup the drawing")

    def end(name: str) -> None:
        nonlocal depth
        depth -= 1

    parser = expat.ParserCreate()
    parser.StartDoctypeDeclHandler = doctype
    parser.EntityDeclHandler = entity
    parser.StartElementHandler = start
    parser.EndElementHandler = end
    parser.Parse(data, True)


def _check_size(root: Element, file: str) -> None:
    """Refuse drawings whose repeated groups unfold to far too much."""
    named = {e.get("id", ""): e for e in root.iter() if e.get("id")}
    spaces = {"": root, **named}
    plain = {name: sum(1 for _ in e.iter()) for name, e in spaces.items()}
    references = {
        name: [(link(u), 1) for u in e.iter(SVG + "use") if link(u) in named]
        for name, e in spaces.items()
    }
    try:
        total = unfolded("", plain, references)
    except RecursionError as error:
        problem = f'the group "{error}" repeats itself'
        raise _refused(file, problem, "Expand the clones in the drawing") from error
    if total > MOST:
        problem = f"its repeated groups unfold to {total} elements, and {MOST} is the limit"
        raise _refused(file, problem, "Expand the clones in the drawing")


def link(use: Element) -> str:
    """Return the id of what a ``use`` repeats; empty if there is none."""
    target = next((use.get(name, "") for name in _LINKS if use.get(name)), "")
    return target[1:] if target.startswith("#") else ""


def strip(root: Element, notes: Notes) -> None:
    """Take everything out of a tree that draws no contour, noting what it was.

    Groups get the attribute `LAYER`; symbols move to where they are not drawn by themselves.
    """
    symbols = Element(SVG + "defs")
    for parent, child, layer in list(_walk(root, "")):
        name = _name(child)
        if _unwanted(child, name, layer, notes):
            parent.remove(child)
        elif name == "symbol":
            parent.remove(child)
            symbols.append(child)
    if len(symbols):
        root.append(symbols)


def _walk(parent: Element, layer: str) -> Iterator[tuple[Element, Element, str]]:
    """All elements with their parents and layers, parents first."""
    for child in parent:
        own = layer
        if _name(child) == "g":
            # A named layer outweighs the numbers that programs give to groups in it.
            own = str(child.get(_LABEL) or layer or child.get("id", ""))
            child.set(LAYER, own)
        yield parent, child, own
        if not _is_hidden(child):
            yield from _walk(child, own)


def _name(element: Element) -> str:
    return element.tag.removeprefix(SVG) if isinstance(element.tag, str) else ""


def _is_hidden(element: Element) -> bool:
    return element.get("display") == "none" or bool(_HIDDEN.search(element.get("style", "")))


def _unwanted(element: Element, name: str, layer: str, notes: Notes) -> bool:
    """Whether an element is to be taken out; if it matters, that is noted."""
    style = Style(name.upper(), layer, "", element.get("id", ""))
    if name in _TEXT:
        notes.leave_out(
            style.kind, layer, "text is never cut; convert it to curves to have it etched"
        )
        notes.repeat("text-not-cut", "text is not cut", None, style)
        return True
    if name in _PICTURES:
        notes.leave_out(style.kind, layer, "a picture")
        return True
    if name in _SILENT or not name:
        return True
    if _is_hidden(element):
        notes.leave_out(style.kind, layer, "not displayed")
        return True
    if element.get("clip-path", "none") != "none":
        notes.add("clipped-block", "the clipping of an element was not applied", (), style)
    values = " ".join(element.get(a, "") for a in (*_GEOMETRY.get(name, ()), "transform"))
    if _NO_NUMBER.search(values):
        notes.add("bad-number", f"{name}: a coordinate is not a number", (), style)
        return True
    if name in _GEOMETRY and "%" in values:
        notes.add("unreadable-entity", f"{name}: percentages are not read", (), style)
        return True
    return False


def _refused(file: str, problem: str, remedy: str) -> DrawingError:
    return DrawingError(Problem(file, "", problem, remedy))
