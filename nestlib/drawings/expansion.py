"""How much a nest of references unfolds to, found without unfolding it.

Blocks inside blocks and repeated groups multiply: ten levels of ten make ten thousand
million. Files made so, by accident or on purpose, are refused before they are expanded.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

#: A drawing may unfold to this many entities.
MOST = 250_000


def unfolded(
    root: str, plain: Mapping[str, int], references: Mapping[str, Sequence[tuple[str, int]]]
) -> int:
    """Return how many plain things a definition unfolds to.

    Parameters
    ----------
    root : str
        The definition that is drawn.
    plain : mapping of str to int
        How many things each definition draws itself.
    references : mapping of str to sequence of (str, int)
        Which others each definition draws, and how often.

    Returns
    -------
    int

    Raises
    ------
    RecursionError
        If a definition contains itself; the message is its name.

    Examples
    --------
    >>> unfolded("sheet", {"sheet": 1, "row": 4}, {"sheet": [("row", 10)]})
    41
    """
    counts: dict[str, int] = {}
    open_: set[str] = set()
    waiting = [root]
    while waiting:  # not recursive: files may nest deeper than the interpreter does
        name = waiting[-1]
        if name in counts:
            waiting.pop()
            continue
        inner = [n for n, _ in references.get(name, ()) if n not in counts]
        if inner:
            if name in open_ and any(n in open_ for n in inner):
                raise RecursionError(next(n for n in inner if n in open_))
            open_.add(name)
            waiting.extend(inner)
            continue
        counts[name] = plain.get(name, 0) + sum(
            # What holds nothing is still visited.
            max(counts[n], 1) * times
            for n, times in references.get(name, ())
        )
        open_.discard(name)
        waiting.pop()
    return counts[root]
