"""What somebody who mistyped a word may have meant."""

from __future__ import annotations

import difflib
from collections.abc import Iterable


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """Return a remedy for an unknown word: the nearest known one, and all of them.

    Examples
    --------
    >>> did_you_mean("quantty", ["name", "quantity"])
    'Did you mean "quantity"? Known are: name, quantity'
    """
    words = list(known)
    near = difflib.get_close_matches(word.strip().lower(), words, n=1)
    listed = f"Known are: {', '.join(words)}"
    return f'Did you mean "{near[0]}"? {listed}' if near else listed
