"""How many pieces of one kind a container holds at most, and so how many it takes."""

from __future__ import annotations

from collections.abc import Sequence

from nestlib.packing.bounds.case import Case
from nestlib.packing.bounds.pattern_rules import PatternRules
from nestlib.packing.bounds.weighting import Weighting

#: Of how many kinds, those that need most containers, the arguments are kept.
_KEPT = 30


def most_in_one(case: Case, rules: Sequence[PatternRules]) -> list[int]:
    """Return how many pieces of each kind the container that holds most of them holds.

    Parameters
    ----------
    case : Case
        What has to lie where.
    rules : sequence of PatternRules
        For each kind of container.
    """
    return [max(1, *(r.most[i] for r in rules)) for i in range(len(case.kinds))]


def by_number(case: Case, rules: Sequence[PatternRules], often: Sequence[int]) -> list[Weighting]:
    """Return the arguments of number: no container holds more pieces of a kind than it may.

    Parameters
    ----------
    case : Case
        What has to lie where.
    rules : sequence of PatternRules
        For each kind of container; they keep `most_per_sheet` and its like.
    often : sequence of int
        In how many containers each kind has to lie at least.

    Returns
    -------
    list of Weighting
        One for each of the kinds that need most containers.
    """
    kinds = range(len(case.kinds))
    return [
        Weighting(
            tuple(int(k == i) for k in kinds),
            tuple(r.most[i] for r in rules),
            "most pieces of a part on one sheet",
        )
        for i in sorted(kinds, key=lambda i: -often[i])[:_KEPT]
    ]
