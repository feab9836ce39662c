"""Cost against the number of formats on an order, as one self-contained SVG.

For each metal a row of bars, one for each number of formats, with its amount, and a line at
what no order can cost less than. Bars begin at nothing, so their lengths can be compared.
"""

from __future__ import annotations

from collections.abc import Iterator
from html import escape

from nestlib.model import Asked, MetalPurchase, Purchase
from nestlib.reporting.texts import count, money, plain

_INK, _PAPER, _BAR, _BEST, _BOUND = "#23292e", "#ffffff", "#9db4c0", "#8fa68e", "#a3342a"

#: Sizes in the picture's own unit.
_WIDE, _LABEL, _BARS, _ROW, _HEAD, _FOOT = 720, 110, 400, 26, 34, 34


def cost_svg(purchase: Purchase) -> str:
    """Draw what an order costs with one format, two and so on.

    Parameters
    ----------
    purchase : Purchase
        Its metals are drawn one below the other.

    Returns
    -------
    str
        An SVG element that needs nothing else.
    """
    return "\n".join(_lines(purchase)) + "\n"


def _lines(purchase: Purchase) -> Iterator[str]:
    heights = [_HEAD + _ROW * len(m.by_number) + _FOOT for m in purchase.metals]
    yield (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" viewBox="0 0 {_WIDE} '
        f'{sum(heights) or _HEAD}" font-family="system-ui, sans-serif" font-size="13" '
        f'fill="{_INK}">'
    )
    yield "<title>Cost against the number of formats ordered</title>"
    yield f'<rect width="100%" height="100%" fill="{_PAPER}"/>'
    top = 0
    for metal, height in zip(purchase.metals, heights, strict=True):
        yield from _metal(metal, purchase.currency, top)
        top += height
    yield "</svg>"


def _metal(metal: MetalPurchase, currency: str, top: int) -> Iterator[str]:
    costs = [a.cost for a in metal.by_number if a.cost is not None]
    scale = _BARS / max([*costs, metal.bound, 1])
    yield f'<text x="12" y="{top + 22}" font-weight="600">{_text(metal.metal)}</text>'
    for number, asked in enumerate(metal.by_number, start=1):
        yield from _bar(asked, number, currency, top + _HEAD + _ROW * (number - 1), scale)
    bottom = top + _HEAD + _ROW * len(metal.by_number)
    x = _LABEL + scale * metal.bound
    yield (
        f'<path d="M{x:.1f} {top + _HEAD - 4}V{bottom + 2}" stroke="{_BOUND}" '
        'stroke-width="1.5" stroke-dasharray="4 3"/>'
    )
    words = f"no order costs less than {money(metal.bound / 100, currency)}"
    yield f'<text x="{_LABEL}" y="{bottom + 17}" fill="{_BOUND}">{_text(words)}</text>'


def _bar(asked: Asked, number: int, currency: str, y: int, scale: float) -> Iterator[str]:
    yield f'<text x="12" y="{y + 15}">{count(number, "format")}</text>'
    if asked.cost is None:
        yield f'<text x="{_LABEL}" y="{y + 15}">cannot make all pieces</text>'
        return
    wide = scale * asked.cost
    fill = _BEST if len(asked.formats) == number else _BAR
    what = ", ".join(f"{n} × {name}" for name, n in asked.formats) or "nothing to order"
    yield (
        f'<rect x="{_LABEL}" y="{y + 2}" width="{wide:.1f}" height="{_ROW - 6}" fill="{fill}">'
        f"<title>{_text(what)}</title></rect>"
    )
    amount = money(asked.cost / 100, currency)
    yield f'<text x="{_LABEL + wide + 6:.1f}" y="{y + 15}">{_text(amount)}</text>'


def _text(text: object) -> str:
    return escape(plain(text))
