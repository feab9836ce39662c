"""A layout as one self-contained SVG, in mm, arcs drawn as arcs.

Every part is drawn once and then used by each of its pieces. Fills differ in lightness
and not only in hue, so the picture can be read without colours.
"""

from __future__ import annotations

from collections.abc import Iterator
from html import escape

from nestlib.geometry import cos_sin
from nestlib.geometry.along import joint_contours, run_out
from nestlib.model import Contour, Job, Layout, Part, Placement
from nestlib.reporting.names import Name, name_in, name_on_sheet
from nestlib.reporting.svg_paths import path_data
from nestlib.reporting.texts import count, plain, size

#: Fills of the parts, one after the other; next to each other dark follows light.
PALETTE = (
    "#dfe6d5", "#9db4c0", "#efd9b4", "#b3a6b8", "#cfe0e8", "#c79f84", "#f1e6ea", "#8fa68e",
    "#e8dca0", "#a9a9a2", "#d7d2ea", "#a6b87e",
)  # fmt: skip

_INK, _PAPER, _METAL, _LEAD = "#23292e", "#ffffff", "#f6f6f3", "#a3342a"
_JOINT, _SHARED, _LAST = "#c76f00", "#7a4a9c", "#1d6b4f"

#: More cuts than this, and their numbers would hide the drawing.
_NUMBERED = 400

#: Sizes as shares of the longer side of the sheet.
_LETTER, _SMALLEST, _FIGURE = 0.016, 0.0045, 0.006


def layout_svg(layout: Layout, job: Job, *, prefix: str = "layout") -> str:
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

    Returns
    -------
    str
        An SVG element that needs nothing else. Its unit is the millimetre.
    """
    return "\n".join(_Picture(layout, job, prefix).lines()) + "\n"


class _Picture:
    """Draws one layout, y turned round because SVG's runs down."""

    def __init__(self, layout: Layout, job: Job, prefix: str) -> None:
        self.layout, self.job, self.prefix = layout, job, prefix
        x0, y0, x1, y1 = layout.sheet.outline.bounds
        self.longer = max(x1 - x0, y1 - y0, 1e-6)
        border = 0.01 * self.longer
        self.left, self.top = x0 - border, y1 + border
        self.width, self.height = x1 - x0 + 2 * border, y1 - y0 + 2 * border
        self.order = [p for p in job.parts if p.name in layout.counts]

    def view(self, x: float, y: float) -> tuple[float, float]:
        """From the sheet's coordinates to the picture's."""
        return float(x) - self.left, self.top - float(y)

    def lines(self) -> Iterator[str]:
        """All lines of the SVG."""
        sheet = self.layout.sheet
        pieces = count(sum(self.layout.counts.values()), "piece")
        title = f"{pieces} on {sheet.name}, {size(*sheet.size)}"
        yield (
            f'<svg xmlns="http://www.w3.org/2000/svg" role="img" '
            f'viewBox="0 0 {self.width:.3f} {self.height:.3f}">'
        )
        yield f"<title>{_text(title)}</title>"
        yield from self._definitions()
        yield f'<rect width="100%" height="100%" fill="{_PAPER}"/>'
        yield from self._sheet()
        yield from self._pieces()
        if self.layout.path.cuts:
            yield from self._path()
        yield "</svg>"

    def _definitions(self) -> Iterator[str]:
        """Hatches, and each part once in its own coordinates."""
        step = self.longer / 120
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
        """One part, to be placed by a matrix that turns y round."""
        cut = "".join(_own(c) for c in (part.outer, *part.inners))
        marks = "".join(_own(c) for c in part.marks)
        fill = PALETTE[self.job.parts.index(part) % len(PALETTE)]
        yield f'<g id="{self.prefix}-part-{number}"><path d="{cut}" fill="{fill}" {_STROKE}/>'
        if marks:
            yield f'<path d="{marks}" fill="none" stroke="#55606a" {_HAIR}/>'
        yield "</g>"

    def _sheet(self) -> Iterator[str]:
        sheet = self.layout.sheet
        metal = "".join(self._d(c) for c in (sheet.outline, *sheet.holes))
        yield f'<path d="{metal}" fill="{_METAL}" {_STROKE}/>'
        for zone in sheet.keep_outs:
            yield (
                f'<path d="{self._d(zone)}" fill="url(#{self.prefix}-barred)" '
                f'stroke="#8a5a5a" {_HAIR}><title>keep-out zone</title></path>'
            )
        for remnant in self.layout.remnants:
            yield (
                f'<path d="{self._d(remnant.outline)}" fill="url(#{self.prefix}-kept)" '
                f'stroke="#5d7f63" {_HAIR}><title>{_text(remnant.name)}</title></path>'
            )

    def _pieces(self) -> Iterator[str]:
        numbers = {part.name: i for i, part in enumerate(self.order)}
        names = {part.name: name_in(part, _LETTER * self.longer) for part in self.order}
        for placement in self.layout.placements:
            yield (
                f'<use href="#{self.prefix}-part-{numbers[placement.part]}" '
                f'transform="{self._matrix(placement)}"><title>{_text(placement.part)}</title></use>'
            )
        yield f'<g {_LETTERS} text-anchor="middle" fill="{_INK}">'
        for placement in self.layout.placements:
            name = names[placement.part]
            if name is not None and name.height >= _SMALLEST * self.longer:
                yield self._name(placement.part, name_on_sheet(name, placement))
        yield "</g>"

    def _matrix(self, placement: Placement) -> str:
        """The placement, followed by turning y round."""
        cos, sin = cos_sin(placement.rotation)
        flip = -1 if placement.flip else 1
        x, y = self.view(placement.x, placement.y)
        turn = (flip * cos, -flip * sin, -sin, -cos)
        return f"matrix({' '.join(f'{v:.9g}' for v in turn)} {x:.4f} {y:.4f})"

    def _name(self, text: str, name: Name) -> str:
        x, y = self.view(name.x, name.y)
        return (
            f'<text font-size="{name.height:.2f}" dy="0.35em" '
            f'transform="translate({x:.2f} {y:.2f}) rotate({-name.angle:.2f})">{_text(text)}</text>'
        )

    def _path(self) -> Iterator[str]:
        """Rapids, leads and pierce points; the numbers only while they can be read."""
        cuts = self.layout.path.cuts
        rapids: dict[bool, list[str]] = {False: [], True: []}
        leads, pierces = [], []
        for cut, way in self.layout.path.rapids:
            legs = "L".join("{:.2f} {:.2f}".format(*self.view(*p)) for p in way)
            rapids[cut.lifted].append(f"M{legs}")
            if cut.lead_in is not None:
                leads.append(self._d(cut.lead_in))
            last = run_out(cut)
            if last is not None:
                leads.append(self._d(last))
            pierces.append("M{:.3f} {:.3f}h0".format(*self.view(*cut.pierce)))
        for lifted, dashes in ((False, "3 3"), (True, "1 4")):
            yield (
                f'<path d="{"".join(rapids[lifted])}" fill="none" stroke="#6b7f99" '
                f'stroke-opacity="{0.9 if lifted else 0.45}" stroke-dasharray="{dashes}" {_HAIR}/>'
            )
        shared = "".join(self._d(c.contour) for c in cuts if c.role == "shared")
        if shared:
            yield f'<path d="{shared}" fill="none" stroke="{_SHARED}" {_GAP}/>'
        yield from self._joints()
        yield from self._last_cuts()
        yield f'<path d="{"".join(leads)}" fill="none" stroke="{_LEAD}" {_HAIR}/>'
        yield (
            f'<path d="{"".join(pierces)}" stroke="{_LEAD}" stroke-linecap="round" '
            'stroke-width="3" vector-effect="non-scaling-stroke"/>'
        )
        if len(cuts) <= _NUMBERED:
            yield f'<g {_LETTERS} font-size="{_FIGURE * self.longer:.2f}" fill="{_LEAD}">'
            for number, cut in enumerate(cuts, start=1):
                x, y = self.view(*cut.pierce)
                yield f'<text x="{x:.2f}" y="{y:.2f}" dx="0.3em" dy="-0.3em">{number}</text>'
            yield "</g>"

    def _joints(self) -> Iterator[str]:
        """What is left uncut: dots on the contour's line, wide enough to be found."""
        joints = [c for cut in self.layout.path.cuts for c in joint_contours(cut)]
        if not joints:
            return
        uncut = "".join(self._d(c) for c in joints)
        yield f'<path d="{uncut}" fill="none" stroke="{_JOINT}" {_GAP} stroke-linecap="round"/>'

    def _last_cuts(self) -> Iterator[str]:
        """Cuts in the skeleton, and thicker those that free a remnant."""
        for role, width in (("skeleton", 1.6), ("cut_off", 2.6)):
            lines = "".join(self._d(c.contour) for c in self.layout.path.cuts if c.role == role)
            if lines:
                yield (
                    f'<path d="{lines}" fill="none" stroke="{_LAST}" stroke-width="{width}" '
                    'vector-effect="non-scaling-stroke"/>'
                )

    def _d(self, contour: Contour) -> str:
        return path_data(contour, self.view, upside_down=True)


_HAIR = 'stroke-width="0.8" vector-effect="non-scaling-stroke"'
_GAP = 'stroke-width="4" vector-effect="non-scaling-stroke"'
_STROKE = f'fill-rule="evenodd" stroke="{_INK}" stroke-width="1" vector-effect="non-scaling-stroke"'
_LETTERS = 'font-family="system-ui, sans-serif"'


def _own(contour: Contour) -> str:
    """Path data in the contour's own coordinates."""
    return path_data(contour, lambda x, y: (float(x), float(y)), upside_down=False)


def _text(text: object) -> str:
    return escape(plain(text))
