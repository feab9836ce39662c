"""What somebody who mistyped a word may have meant."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

#: How alike two words have to be, from 0 to 1, before one is taken for a slip of the other.
_ALIKE = 0.72


def nearest(word: str, known: Iterable[str]) -> str | None:
    """Return the known word that a mistyped one is most like; None if none is close.

    Examples
    --------
    >>> nearest("kref", ["kerf", "margin"]), nearest("colour", ["cost", "kerf"])
    ('kerf', None)
    """
    near = difflib.get_close_matches(word.strip().lower(), list(known), n=1, cutoff=_ALIKE)
    return near[0] if near else None


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """Return a remedy for an unknown word: a known one that is close, and all of them.

    Examples
    --------
    >>> did_you_mean("quantty", ["name", "quantity"])
    'Did you mean "quantity"? Known are: name, quantity'
    """
    words = list(known)
    near = nearest(word, words)
    listed = f"Known are: {', '.join(words)}"
    return f'Did you mean "{near}"? {listed}' if near else listed
