"""A layout as one self-contained SVG, in mm, arcs drawn as arcs.

Every part is drawn once and then used by each of its pieces; every cut is one path. What
the report's script changes or hides has a class, and colours are plain attributes, so that
a picture is also complete by itself and a style sheet may give it others.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from html import escape

from nestlib.geometry import part_clearance
from nestlib.model import Contour, Job, Layout, Part, Sheet, Violation
from nestlib.reporting.frame import Frame
from nestlib.reporting.names import Name, name_in, name_on_sheet
from nestlib.reporting.palette import INK, fill
from nestlib.reporting.path_picture import HAIR, LETTERS, path_lines
from nestlib.reporting.svg_paths import path_data
from nestlib.reporting.texts import count, plain, size

_PAPER, _METAL = "#ffffff", "#f6f6f3"

#: Sizes as shares of the longer side of the sheet.
_LETTER, _SMALLEST, _HATCH, _FAULT = 0.016, 0.0045, 0.004, 0.008


def layout_svg(
    layout: Layout, job: Job, *, prefix: str = "layout", faults: Sequence[Violation] = ()
) -> str:
    """Draw a layout.

    Parameters
    ----------
    layout : Layout
        Sheet, pieces, cut path and remnants.
    job : Job
        Holds the parts.
    prefix : str
        Begins the identifiers in the picture; pictures in the same page need different
        ones.
    faults : sequence of Violation
        Rules broken on this layout; those with a place are marked there.

    Returns
    -------
    str
        An SVG element that needs nothing else. Its unit is the millimetre.
    """
    picture = _Picture(layout, job, prefix)
    return "\n".join([*picture.lines(), *picture.faults(faults), "</svg>"]) + "\n"


def hatch_step(sheet: Sheet) -> float:
    """Return a quarter of the period of the hatches in the picture of a sheet, in mm."""
    return _HATCH * Frame.around(sheet).longer / 4


class _Picture:
    """Draws one layout."""

    def __init__(self, layout: Layout, job: Job, prefix: str) -> None:
        self.layout, self.job, self.prefix = layout, job, prefix
        self.frame = Frame.around(layout.sheet)
        self.order = [p for p in job.parts if p.name in layout.counts]
        self.numbers = {part.name: i for i, part in enumerate(self.order)}

    def lines(self) -> Iterator[str]:
        """All lines of the SVG but its end."""
        frame, sheet = self.frame, self.layout.sheet
        pieces = count(sum(self.layout.counts.values()), "piece")
        title = f"{pieces} on {sheet.name}, {size(*sheet.size)}"
        yield (
            f'<svg xmlns="http://www.w3.org/2000/svg" role="img" '
            f'data-left="{frame.left:.4f}" data-top="{frame.top:.4f}" '
            f'viewBox="0 0 {frame.width:.3f} {frame.height:.3f}">'
        )
        yield f"<title>{_text(title)}</title>"
        yield from self._definitions()
        yield f'<rect class="paper" width="100%" height="100%" fill="{_PAPER}"/>'
        yield from self._sheet()
        yield from self._clearances()
        yield from self._pieces()
        if self.layout.path.cuts:
            yield from path_lines(self.layout, frame)
        yield from self._names()

    def faults(self, faults: Sequence[Violation]) -> Iterator[str]:
        """A cross where each rule is broken, found at any scale."""
        size = _FAULT * self.frame.longer
        for fault in faults:
            if fault.place is not None:
                x, y = self.frame.view(*fault.place)
                arms = f"M{x - size:.2f} {y - size:.2f}l{2 * size:.2f} {2 * size:.2f}"
                arms += f"m0 {-2 * size:.2f}l{-2 * size:.2f} {2 * size:.2f}"
                yield (
                    f'<path class="fault" d="{arms}" fill="none" stroke="#9b2c22" stroke-width="4" '
                    f'vector-effect="non-scaling-stroke"><title>{_text(fault.message)}</title></path>'
                )

    def _definitions(self) -> Iterator[str]:
        """Hatches, and each part once in its own coordinates."""
        step = self.frame.longer / 120
        yield "<defs>"
        for name, angle, ink in (("kept", 45, "#5d7f63"), ("barred", -45, "#8a5a5a")):
            yield (
                f'<pattern id="{self.prefix}-{name}" width="{step:.3f}" height="{step:.3f}" '
                f'patternUnits="userSpaceOnUse" patternTransform="rotate({angle})">'
                f'<path d="M0 0V{step:.3f}" stroke="{ink}" stroke-width="{step / 5:.3f}"/>'
                "</pattern>"
            )
        for number, part in enumerate(self.order):
            yield from self._part(number, part)
        yield "</defs>"

    def _part(self, number: int, part: Part) -> Iterator[str]:
        """One part, to be placed by a matrix that turns y round; its lines are the cuts."""
        outline = "".join(_own(c) for c in (part.outer, *part.inners))
        colour, hatch = fill(self.job.parts.index(part))
        if hatch:
            yield self._hatched(number, colour, hatch)
            colour = f"url(#{self.prefix}-fill-{number})"
        yield (
            f'<g id="{self.prefix}-part-{number}"><path d="{outline}" fill="{colour}" '
            'fill-rule="evenodd"/>'
        )
        if part.marks and not self.layout.path.cuts:
            marks = "".join(_own(c) for c in part.marks)
            yield f'<path d="{marks}" fill="none" stroke="#55606a" {HAIR}/>'
        yield "</g>"
        ring = Contour(part_clearance(part, self.job.spacing).exterior.coords[:-1])
        yield f'<path id="{self.prefix}-clear-{number}" d="{_own(ring)}"/>'

    def _hatched(self, number: int, colour: str, hatch: str) -> str:
        """A fill that can be told from others of its colour."""
        scale = hatch_step(self.layout.sheet)
        return (
            f'<pattern id="{self.prefix}-fill-{number}" width="4" height="4" '
            f'patternUnits="userSpaceOnUse" patternTransform="scale({scale:.4g}) rotate(30)">'
            f'<path d="M0 0H4V4H0Z" fill="{colour}"/><path d="{hatch}" stroke="{INK}" '
            'stroke-opacity="0.55" stroke-width="0.5" stroke-linecap="round"/></pattern>'
        )

    def _sheet(self) -> Iterator[str]:
        sheet, d = self.layout.sheet, self.frame.path
        metal = "".join(d(c) for c in (sheet.outline, *sheet.holes))
        yield (
            f'<path class="metal" d="{metal}" fill="{_METAL}" fill-rule="evenodd" '
            f'stroke="{INK}" {_EDGE}/>'
        )
        for zone in sheet.keep_outs:
            yield (
                f'<path class="barred" d="{d(zone)}" fill="url(#{self.prefix}-barred)" '
                f'stroke="#8a5a5a" {HAIR}><title>keep-out zone</title></path>'
            )
        for remnant in self.layout.remnants:
            yield (
                f'<path class="kept" d="{d(remnant.outline)}" fill="url(#{self.prefix}-kept)" '
                f'stroke="#5d7f63" {HAIR}><title>{_text(remnant.name)}</title></path>'
            )

    def _pieces(self) -> Iterator[str]:
        """Fills; a layout that is not cut has its contours here, and else they are cuts."""
        edge = "none" if self.layout.path.cuts else INK
        yield f'<g class="pieces" stroke="{edge}" {_EDGE}>'
        for placement in self.layout.placements:
            yield (
                f'<use href="#{self.prefix}-part-{self.numbers[placement.part]}" '
                f'class="piece" data-part="{self.numbers[placement.part]}" '
                f'transform="{self.frame.matrix(placement)}">'
                f"<title>{_text(placement.part)}</title></use>"
            )
        yield "</g>"

    def _clearances(self) -> Iterator[str]:
        """The room of each piece as packing sees it, hidden until it is asked for."""
        yield (
            f'<g class="clearance" display="none" fill="none" stroke="{INK}" '
            f'stroke-dasharray="6 3" {HAIR}>'
        )
        for placement in self.layout.placements:
            yield (
                f'<use href="#{self.prefix}-clear-{self.numbers[placement.part]}" '
                f'transform="{self.frame.matrix(placement)}"/>'
            )
        yield "</g>"

    def _names(self) -> Iterator[str]:
        longer = self.frame.longer
        names = {part.name: name_in(part, _LETTER * longer) for part in self.order}
        yield f'<g class="names" {LETTERS} text-anchor="middle" fill="{INK}">'
        for placement in self.layout.placements:
            name = names[placement.part]
            if name is not None and name.height >= _SMALLEST * longer:
                yield self._name(placement.part, name_on_sheet(name, placement))
        yield "</g>"

    def _name(self, text: str, name: Name) -> str:
        x, y = self.frame.view(name.x, name.y)
        return (
            f'<text font-size="{name.height:.2f}" dy="0.35em" '
            f'transform="translate({x:.2f} {y:.2f}) rotate({-name.angle:.2f})">{_text(text)}</text>'
        )


_EDGE = 'stroke-width="1" vector-effect="non-scaling-stroke"'


def _own(contour: Contour) -> str:
    """Path data in the contour's own coordinates."""
    return path_data(contour, lambda x, y: (float(x), float(y)), upside_down=False)


def _text(text: object) -> str:
    return escape(plain(text))
