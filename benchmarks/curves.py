"""Density against time as a small SVG chart."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from statistics import mean
from xml.sax.saxutils import escape

Curve = Sequence[tuple[float, float]]

_WIDE, _HIGH, _LEFT, _BELOW = 480, 260, 44, 30

_COLOURS = ("#33567a", "#b5652b", "#4c8a4a", "#8a4a86", "#a8922c", "#555555")

#: Seconds that may be marked.
_MARKS = (0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 60, 120, 300, 600)


def density_at(curve: Curve, seconds: float) -> float:
    """Return the density that was reached by then; 0 before there was a layout.

    Examples
    --------
    >>> density_at([(1.0, 60.0), (3.0, 70.0)], 2.5)
    60.0
    """
    return max((density for t, density in curve if t <= seconds), default=0.0)


def mean_curve(curves: Sequence[Curve]) -> list[tuple[float, float]]:
    """Return the mean of several curves, from when all of them have a layout.

    Examples
    --------
    >>> mean_curve([[(1.0, 60.0), (3.0, 70.0)], [(2.0, 70.0)]])
    [(2.0, 65.0), (3.0, 70.0)]
    """
    begin = max(curve[0][0] for curve in curves)
    moments = sorted({t for curve in curves for t, _ in curve if t >= begin})
    return [(t, mean(density_at(curve, t) for curve in curves)) for t in moments]


def time_to(curves: Sequence[Curve], density: float) -> float | None:
    """Return when the mean of several curves reaches a density; None if it never does.

    Examples
    --------
    >>> time_to([[(1.0, 60.0), (3.0, 70.0)], [(2.0, 70.0)]], 70.0)
    3.0
    """
    return next((t for t, reached in mean_curve(curves) if reached >= density - 1e-6), None)


#: Seconds at which a chart begins at the earliest: rounded times may be 0.
_EARLIEST = 0.01


def chart(title: str, curves: Mapping[str, Curve], seconds: float) -> str:
    """Return the SVG text of a chart: seconds to the right, on a logarithmic scale.

    Parameters
    ----------
    title : str
        What is shown.
    curves : mapping
        Name and curve of each line.
    seconds : float
        Where the chart ends.
    """
    begin = max(_EARLIEST, min(curve[0][0] for curve in curves.values()))
    top = max(curve[-1][1] for curve in curves.values())
    low = max(min(curve[0][1] for curve in curves.values()), top - 15.0)
    high = top + 0.05 * max(top - low, 1.0)

    def place(t: float, density: float) -> tuple[float, float]:
        right = math.log(min(max(t, begin), seconds) / begin) / math.log(seconds / begin)
        up = (max(density, low) - low) / (high - low)
        return _LEFT + right * _WIDE, 10 + (1.0 - up) * _HIGH

    size = f"0 0 {_LEFT + _WIDE + 70} {_HIGH + _BELOW + 10}"
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{size}" font-family="sans-serif" '
        'font-size="11">',
        f"<title>{escape(title)}</title>",
        f'<rect x="{_LEFT}" y="10" width="{_WIDE}" height="{_HIGH}" fill="#fbfaf7" stroke="#999"/>',
    ]
    for t in (m for m in _MARKS if begin <= m <= seconds):
        x, _ = place(t, low)
        lines.append(f'<text x="{x:.1f}" y="{_HIGH + 26}" text-anchor="middle">{t:g} s</text>')
    for density in range(math.ceil(low), math.floor(high) + 1, 1 if high - low < 8 else 2):
        _, y = place(seconds, density)
        lines.append(f'<text x="{_LEFT - 4}" y="{y + 4:.1f}" text-anchor="end">{density} %</text>')
    for k, (name, curve) in enumerate(curves.items()):
        colour = _COLOURS[k % len(_COLOURS)]
        points = " ".join(f"{x:.1f},{y:.1f}" for x, y in _steps(curve, seconds, place))
        lines.append(f'<polyline points="{points}" fill="none" stroke="{colour}"/>')
        y = 24 + 14 * k
        lines.append(f'<text x="{_LEFT + _WIDE + 6}" y="{y}" fill="{colour}">{escape(name)}</text>')
    return "\n".join([*lines, "</svg>", ""])


def _steps(
    curve: Curve, seconds: float, place: Callable[[float, float], tuple[float, float]]
) -> Iterator[tuple[float, float]]:
    """Return the corners of a stair: a density lasts until the next."""
    before = None
    for t, density in curve:
        if before is not None:
            yield place(t, before)
        yield place(t, density)
        before = density
    if before is not None:
        yield place(seconds, before)
