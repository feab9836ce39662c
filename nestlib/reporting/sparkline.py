"""How a figure has come about, in a few characters."""

from __future__ import annotations

from collections.abc import Sequence

_STEPS = "▁▂▃▄▅▆▇█"


def sparkline(values: Sequence[float], width: int) -> str:
    """Return the last values as bars between their least and their most.

    Parameters
    ----------
    values : sequence of float
        In their order.
    width : int
        Most characters.

    Examples
    --------
    >>> sparkline([0.5, 0.6, 0.75, 0.85], 8), sparkline([0.5], 8)
    ('▁▃▆█', '▁')
    """
    shown = values[-width:]
    low, high = min(shown, default=0.0), max(shown, default=0.0)
    room = (high - low) or 1.0
    return "".join(_STEPS[round((v - low) / room * (len(_STEPS) - 1))] for v in shown)
