"""Parts and plans as a notebook shows them: pictures in the text, without a file."""

from __future__ import annotations

from html import escape
from uuid import uuid4

from nestlib.model import Contour, Part, Plan
from nestlib.reporting.palette import INK, fill
from nestlib.reporting.picture import layout_svg
from nestlib.reporting.svg_paths import path_data
from nestlib.reporting.texts import count, plain, share, size

#: Layouts that are drawn; a notebook is no report.
_MOST = 4

#: Room around a part, as a share of its longer side, and width of its picture in pixels.
_BORDER, _WIDE = 0.03, 320


def part_svg(part: Part) -> str:
    """Draw a part, true to its lines and arcs.

    Parameters
    ----------
    part : Part
        The part.

    Returns
    -------
    str
        An SVG element whose unit is the millimetre.
    """
    x0, y0, x1, y1 = part.outer.bounds
    edge = _BORDER * max(x1 - x0, y1 - y0)

    def drawn(contours: tuple[Contour, ...]) -> str:
        return "".join(
            path_data(c, lambda x, y: (float(x) - x0 + edge, y1 + edge - float(y)), True)
            for c in contours
        )

    line = f'stroke="{INK}" stroke-width="1" vector-effect="non-scaling-stroke"'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" width="{_WIDE}" '
        f'viewBox="0 0 {x1 - x0 + 2 * edge:.4f} {y1 - y0 + 2 * edge:.4f}">'
        f"<title>{escape(plain(part.name))}, {size(*part.size)}</title>"
        f'<path d="{drawn((part.outer, *part.inners))}" fill="{fill(0)[0]}" '
        f'fill-rule="evenodd" {line}/>'
        f'<path d="{drawn(part.marks)}" fill="none" {line}/></svg>'
    )


def plan_html(plan: Plan) -> str:
    """Return a few figures of a plan, and pictures of its first layouts.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    str
        HTML that can stand anywhere in a page.
    """
    # Identifiers of pictures are shared by the whole page, on which a plan may stand twice.
    name = f"nest-{uuid4().hex[:8]}"
    title = escape(plain(plan.job.title) or "Nest")
    figures = (
        f"{count(sum(plan.placed.values()), 'piece')} on {count(plan.sheets_used, 'sheet')},"
        f" {share(plan.utilisation)} used"
    )
    missing = sum(u.quantity for u in plan.unplaced)
    if missing:
        figures += f"; {count(missing, 'piece')} not placed"
    drawn = [
        f"<figure><figcaption>Layout {number}: {count(layout.runs, 'sheet')}</figcaption>"
        f"{layout_svg(layout, plan.job, prefix=f'{name}-{number}')}</figure>"
        for number, layout in enumerate(plan.layouts[:_MOST], start=1)
    ]
    more = len(plan.layouts) - _MOST
    rest = f"<p>and {count(more, 'layout')} more</p>" if more > 0 else ""
    return f"<div><h3>{title}</h3><p>{figures}</p>{''.join(drawn)}{rest}</div>"
