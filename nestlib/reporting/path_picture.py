"""The cut path of a layout as SVG: one path for each cut, and what belongs to it.

Kinds differ in dashes and widths and not only in colours.
"""

from __future__ import annotations

from collections.abc import Iterator

from nestlib.geometry.along import joint_contours, run_out
from nestlib.model import Cut, Layout
from nestlib.reporting.frame import Frame
from nestlib.reporting.palette import INK

HAIR = 'stroke-width="0.8" vector-effect="non-scaling-stroke"'
LETTERS = 'font-family="system-ui, sans-serif"'

_LEAD, _JOINT, _RAPID, _LAST = "#a3342a", "#b35c00", "#4f6686", "#1d6b4f"

#: Stroke and width of the cuts, by role; all others are drawn like an outer contour.
_STROKES = {
    "outer": (INK, 1.0),
    "inner": (INK, 1.0),
    "mark": ("#55606a", 0.8),
    "shared": ("#7a4a9c", 3.0),
    "around": (INK, 1.4),
    "skeleton": (_LAST, 1.6),
    "cut_off": (_LAST, 2.6),
}

#: Dashes by role, so that kinds can be told apart without colours.
_DASHES = {"mark": "2 2", "shared": "9 2", "skeleton": "12 2 2 2", "cut_off": "12 2 2 2"}

#: More cuts than this, and their numbers would hide the drawing: they are shown on demand.
NUMBERED = 400

#: Height of the numbers as a share of the longer side of the sheet.
_FIGURE = 0.006


def path_lines(layout: Layout, frame: Frame) -> Iterator[str]:
    """Yield the lines of the SVG: rapids, cuts, leads, joints, pierces and numbers.

    Parameters
    ----------
    layout : Layout
        With its cut path.
    frame : Frame
        Of the picture.
    """
    cuts = layout.path.cuts
    yield from _rapids(layout, frame)
    yield '<g class="cuts" fill="none">'
    yield from (_cut(number, cut, frame) for number, cut in enumerate(cuts))
    yield "</g>"
    yield f'<g class="leads" fill="none" stroke="{_LEAD}" {HAIR}>'
    for number, cut in enumerate(cuts):
        yield from _leads(number, cut, frame)
    yield "</g>"
    yield from _joints(cuts, frame)
    yield from _pierces(cuts, frame)
    yield from _numbers(cuts, frame)


def _rapids(layout: Layout, frame: Frame) -> Iterator[str]:
    """Ways with the head down and with the head raised."""
    ways: dict[bool, list[str]] = {False: [], True: []}
    for cut, way in layout.path.rapids:
        legs = "L".join("{:.2f} {:.2f}".format(*frame.view(*p)) for p in way)
        ways[cut.lifted].append(f"M{legs}")
    yield f'<g class="rapids" fill="none" stroke="{_RAPID}" {HAIR}>'
    for lifted, dashes in ((False, "3 3"), (True, "1 4")):
        yield (
            f'<path d="{"".join(ways[lifted])}" stroke-dasharray="{dashes}" '
            f'stroke-opacity="{0.9 if lifted else 0.6}" vector-effect="non-scaling-stroke"/>'
        )
    yield "</g>"


def _cut(number: int, cut: Cut, frame: Frame) -> str:
    """One contour, its leads apart."""
    stroke, width = _STROKES.get(cut.role, _STROKES["outer"])
    dashes = f' stroke-dasharray="{_DASHES[cut.role]}"' if cut.role in _DASHES else ""
    return (
        f'<path class="cut {cut.role}" data-cut="{number}" d="{frame.path(cut.contour)}" '
        f'stroke="{stroke}" stroke-width="{width:g}"{dashes} vector-effect="non-scaling-stroke"/>'
    )


def _leads(number: int, cut: Cut, frame: Frame) -> Iterator[str]:
    for kind, contour in (("in", cut.lead_in), ("out", run_out(cut))):
        if contour is not None:
            yield (
                f'<path class="lead-{kind}" data-cut="{number}" d="{frame.path(contour)}" '
                'vector-effect="non-scaling-stroke"/>'
            )


def _joints(cuts: tuple[Cut, ...], frame: Frame) -> Iterator[str]:
    """What is left uncut: thick on the contour's line, so that it is found."""
    uncut = "".join(frame.path(c) for cut in cuts for c in joint_contours(cut))
    if uncut:
        yield (
            f'<path class="joints" d="{uncut}" fill="none" stroke="{_JOINT}" stroke-width="5" '
            'stroke-linecap="round" vector-effect="non-scaling-stroke"/>'
        )


def _pierces(cuts: tuple[Cut, ...], frame: Frame) -> Iterator[str]:
    dots = "".join("M{:.3f} {:.3f}h0".format(*frame.view(*cut.pierce)) for cut in cuts)
    yield (
        f'<path class="pierces" d="{dots}" stroke="{_LEAD}" stroke-linecap="round" '
        'stroke-width="3" vector-effect="non-scaling-stroke"/>'
    )


def _numbers(cuts: tuple[Cut, ...], frame: Frame) -> Iterator[str]:
    """Which cut is the first, the second and so on, beside its pierce."""
    hidden = "" if len(cuts) <= NUMBERED else ' display="none"'
    yield (
        f'<g class="numbers" {LETTERS} font-size="{_FIGURE * frame.longer:.2f}" '
        f'fill="{_LEAD}"{hidden}>'
    )
    for number, cut in enumerate(cuts, start=1):
        x, y = frame.view(*cut.pierce)
        yield f'<text x="{x:.2f}" y="{y:.2f}" dx="0.3em" dy="-0.3em">{number}</text>'
    yield "</g>"
