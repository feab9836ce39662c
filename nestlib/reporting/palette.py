"""Fills of the parts: colours and hatches that can be told apart without seeing colours.

The colours are the light qualitative scheme of Paul Tol, "Colour schemes" (SRON technical
note SRON/EPS/TN/09-002, issue 3.2, 2021), made for fills under dark letters and for people
who see colours otherwise; the values are given from memory. Their order is ours, so that
next to each other dark follows light also in grey.
"""

from __future__ import annotations

#: One after the other.
PALETTE = (
    "#77aadd", "#dddddd", "#44bb99", "#ffaabb", "#aaaa00", "#99ddff", "#ee8866", "#eedd88",
    "#bbcc33",
)  # fmt: skip

#: Paths in a square of side 4: none, stripes, dots, a grid. Four and nine share no divisor,
#: so that 36 parts all look different.
HATCHES = ("", "M0 2H4", "M2 2h0.01", "M0 2H4M2 0V4")

#: Ink of hatches, contours and letters on the fills.
INK = "#23292e"


def fill(number: int) -> tuple[str, str]:
    """Return colour and hatch of a part.

    Parameters
    ----------
    number : int
        Which part of the job.

    Examples
    --------
    >>> fill(0), fill(10)
    (('#77aadd', ''), ('#dddddd', 'M2 2h0.01'))
    """
    return PALETTE[number % len(PALETTE)], HATCHES[number % len(HATCHES)]
