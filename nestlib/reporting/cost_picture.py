"""Cost against the number of formats on an order, as one self-contained SVG, or on a page.

For each metal a row of bars, one for each number of formats, with its amount, and a line at
what no order can cost less than. Bars begin at nothing, so their lengths can be compared.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from html import escape
from typing import Any

from nestlib.model import MetalPurchase, Purchase
from nestlib.pdf_drawing import FONT
from nestlib.reporting.purchase_tables import ordered
from nestlib.reporting.texts import count, hundredths, plain

_INK, _PAPER, _BAR, _BEST, _BOUND = "#23292e", "#ffffff", "#6f8794", "#4f7a5c", "#a3342a"

#: Sizes in the picture's own unit.
_WIDE, _LABEL, _BARS, _ROW, _HEAD, _FOOT = 720, 110, 400, 26, 34, 34

#: Sizes on a page, in points.
_PAGE_LABEL, _PAGE_ROW, _LETTERS = 62.0, 12.0, 7.0


@dataclass(frozen=True)
class Bar:
    """A bar of the picture.

    Parameters
    ----------
    name : str
        What stands before it.
    amount : str
        What stands behind it.
    length : float
        As a share of the longest.
    orders : str
        What is ordered.
    best : bool
        Whether one format more is of use compared with the bar before.
    """

    name: str
    amount: str
    length: float
    orders: str
    best: bool


def bars(metal: MetalPurchase, currency: str) -> tuple[list[Bar], float]:
    """Return the bars of a metal, and where the bound is: all as shares of the longest.

    Parameters
    ----------
    metal : MetalPurchase
        With what was asked about the number of formats.
    currency : str
        Of its amounts.
    """
    costs = [a.cost for a in metal.by_number if a.cost is not None]
    longest = max([*costs, metal.bound, 1])
    drawn = []
    for number, asked in enumerate(metal.by_number, start=1):
        known = asked.cost is not None
        amount = hundredths(asked.cost, currency) if known else "cannot make all pieces"
        length, name = (asked.cost or 0) / longest, count(number, "format")
        what = ordered(asked.formats) if asked.formats else "nothing to order"
        drawn.append(Bar(name, amount, length, what, known and len(asked.formats) == number))
    return drawn, metal.bound / longest


def bound_words(metal: MetalPurchase, currency: str) -> str:
    """Return what stands at the line of the bound."""
    return f"no order costs less than {hundredths(metal.bound, currency)}"


def cost_svg(purchase: Purchase) -> str:
    """Draw what an order costs with one format, two and so on.

    Parameters
    ----------
    purchase : Purchase
        Its metals are drawn one below the other.

    Returns
    -------
    str
        An SVG element that needs nothing else; a page may give its classes other colours.
    """
    return "\n".join(_lines(purchase)) + "\n"


def _lines(purchase: Purchase) -> Iterator[str]:
    heights = [_HEAD + _ROW * len(m.by_number) + _FOOT for m in purchase.metals]
    yield (
        f'<svg class="costs" xmlns="http://www.w3.org/2000/svg" role="img" viewBox="0 0 {_WIDE} '
        f'{sum(heights) or _HEAD}" font-family="system-ui, sans-serif" font-size="13" '
        f'fill="{_INK}">'
    )
    yield "<title>Cost against the number of formats ordered</title>"
    yield f'<rect class="paper" width="100%" height="100%" fill="{_PAPER}"/>'
    top = 0
    for metal, height in zip(purchase.metals, heights, strict=True):
        yield from _metal(metal, purchase.currency, top)
        top += height
    yield "</svg>"


def _metal(metal: MetalPurchase, currency: str, top: int) -> Iterator[str]:
    drawn, bound = bars(metal, currency)
    yield f'<text x="12" y="{top + 22}" font-weight="600">{_text(metal.metal)}</text>'
    for number, bar in enumerate(drawn):
        yield from _bar(bar, top + _HEAD + _ROW * number)
    bottom = top + _HEAD + _ROW * len(drawn)
    x = _LABEL + _BARS * bound
    yield (
        f'<path class="bound" d="M{x:.1f} {top + _HEAD - 4}V{bottom + 2}" fill="none" '
        f'stroke="{_BOUND}" stroke-width="1.5" stroke-dasharray="4 3"/>'
    )
    words = _text(bound_words(metal, currency))
    yield f'<text class="at-bound" x="{_LABEL}" y="{bottom + 17}" fill="{_BOUND}">{words}</text>'


def _bar(bar: Bar, y: int) -> Iterator[str]:
    yield f'<text x="12" y="{y + 15}">{bar.name}</text>'
    wide, room = _BARS * bar.length, 6 if bar.length else 0
    if bar.length:
        kind, fill = ("best", _BEST) if bar.best else ("bar", _BAR)
        yield (
            f'<rect class="{kind}" x="{_LABEL}" y="{y + 2}" width="{wide:.1f}" '
            f'height="{_ROW - 6}" fill="{fill}"><title>{_text(bar.orders)}</title></rect>'
        )
    yield f'<text x="{_LABEL + wide + room:.1f}" y="{y + 15}">{_text(bar.amount)}</text>'


def cost_height(metal: MetalPurchase) -> float:
    """Return how high the picture of a metal is on a page, in points."""
    return _PAGE_ROW * (len(metal.by_number) + 1)


def draw_costs(page: Any, metal: MetalPurchase, currency: str, width: float) -> None:
    """Draw what an order costs with one format, two and so on, on a page of a PDF.

    Parameters
    ----------
    page : reportlab.pdfgen.canvas.Canvas
        Its origin is the lower left corner of the picture.
    metal : MetalPurchase
        With what was asked about the number of formats.
    currency : str
        Of its amounts.
    width : float
        Of the picture, in points.
    """
    drawn, bound = bars(metal, currency)
    scale, high = 0.7 * (width - _PAGE_LABEL), cost_height(metal)
    page.saveState()
    page.setFont(FONT, _LETTERS)
    for number, bar in enumerate(drawn, start=1):
        low = high - number * _PAGE_ROW
        page.setFillColor(_BEST if bar.best else _BAR)
        page.rect(_PAGE_LABEL, low + 2, scale * bar.length, _PAGE_ROW - 4, stroke=0, fill=1)
        page.setFillColor(_INK)
        page.drawString(2, low + 3.5, bar.name)
        page.drawString(_PAGE_LABEL + scale * bar.length + 4, low + 3.5, plain(bar.amount))
    x = _PAGE_LABEL + scale * bound
    page.setStrokeColor(_BOUND)
    page.setDash(4, 3)
    page.line(x, _PAGE_ROW - 2, x, high)
    page.setFillColor(_BOUND)
    page.drawString(_PAGE_LABEL, 3, plain(bound_words(metal, currency)))
    page.restoreState()


def _text(text: object) -> str:
    return escape(plain(text))
