"""Which parts the names under ``apart`` mean."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from nestlib.errors import Problem
from nestlib.jobs import PartLine
from nestlib.model import Part
from nestlib.suggesting import did_you_mean


def kept_apart(
    found: Sequence[tuple[PartLine, Sequence[Part]]], refuse: Callable[[Problem], None]
) -> tuple[Part, ...]:
    """Return parts with the names of those they have to lie apart from.

    Parameters
    ----------
    found : sequence of (PartLine, sequence of Part)
        Entries and the parts that came of each, under their final names. An entry may
        name a part, or another entry by its name or drawing: that means all its parts.
    refuse : callable
        Told of each name that is nobody's; not while there are entries without parts,
        whose drawings are at fault.

    Returns
    -------
    tuple of Part
    """
    meant: defaultdict[str, list[str]] = defaultdict(list)
    for line, parts in found:
        for part in parts:
            for name in dict.fromkeys((line.entry.name or line.drawing.stem, part.name)):
                meant[name].append(part.name)
    if all(parts for _, parts in found):
        _refuse_unknown([line for line, _ in found], meant, refuse)
    return tuple(
        replace(part, apart=tuple(dict.fromkeys(n for word in part.apart for n in meant[word])))
        for _, parts in found
        for part in parts
    )


def _refuse_unknown(
    lines: Sequence[PartLine],
    known: Mapping[str, Sequence[str]],
    refuse: Callable[[Problem], None],
) -> None:
    for line in lines:
        for name in line.entry.apart:
            if name not in known:
                remedy = did_you_mean(name, known)
                refuse(line.problem("apart", f'there is no part "{name}"', remedy))
