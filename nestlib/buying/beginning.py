"""A plan to begin with, so that no choice costs more than what a search has found as a whole.

The solver is given many layouts and little time, and may not put together again the plans that
they come from.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np

from nestlib.buying.choice import Choice, Runs
from nestlib.buying.formats import Format, LeastOrder, grams


def beginning(
    plans: Sequence[Runs],
    wanted: Sequence[int],
    formats: Sequence[Format],
    least: Sequence[LeastOrder] = (),
    most_formats: int | None = None,
    delivery: int = 0,
) -> Choice | None:
    """Return the plan that costs least of those that may be ordered and make all.

    Parameters
    ----------
    plans : sequence of tuple
        What searches found, perhaps for other numbers of pieces.
    wanted : sequence of int
        Pieces of each part.
    formats : sequence of Format
        What there is and what can be ordered.
    least : sequence of LeastOrder
        For each offer; a plan that needs less of one is left out.
    most_formats : int, optional
        So many formats are ordered at most.
    delivery : int
        Price of ordering anything at all, in hundredths.

    Returns
    -------
    Choice or None
        None if there is no such plan.

    Examples
    --------
    >>> from nestlib.buying.columns import Column
    >>> formats = [Format("large", 3000, 0, 4.0, 4.0, 0, pack=2)]
    >>> beginning([((Column(0, (4,)), 3),)], [9], formats).packs
    (2,)
    """
    found = [_ordered(runs, formats, delivery) for runs in plans if _makes_all(runs, wanted)]
    allowed = [
        b
        for b in found
        if b is not None
        and (most_formats is None or sum(map(bool, b.packs)) <= most_formats)
        and _reaches(b, formats, least)
    ]
    return min(allowed, key=lambda b: b.cost, default=None)


def _makes_all(runs: Runs, wanted: Sequence[int]) -> bool:
    made = sum((n * np.array(column.counts) for column, n in runs), np.zeros(len(wanted)))
    return bool((made >= wanted).all())


def _ordered(runs: Runs, formats: Sequence[Format], delivery: int) -> Choice | None:
    """A plan with its orders; None if there are not enough sheets of a format."""
    sheets: Counter[int] = Counter()
    for column, n in runs:
        sheets[column.format] += n
    used = tuple(sheets[f] for f in range(len(formats)))
    packs = tuple(
        -(-max(0, n - form.at_hand) // form.pack) for n, form in zip(used, formats, strict=True)
    )
    if any(n and not form.orderable for n, form in zip(packs, formats, strict=True)):
        return None
    sold = list(zip(formats, packs, used, strict=True))
    paid = delivery * any(packs) + sum(form.price * form.pack * p for form, p, _ in sold)
    cost = paid - sum(form.value * (form.pack * p - n) for form, p, n in sold)
    return Choice(packs, runs, used, paid, cost, exact=False)


def _reaches(plan: Choice, formats: Sequence[Format], least: Sequence[LeastOrder]) -> bool:
    """Whether as much is ordered of each offer as has to be, if anything is."""
    for offer, order in enumerate(least):
        own = [
            (form, n)
            for form, n in zip(formats, plan.packs, strict=True)
            if form.offer == offer and n
        ]
        sheets = sum(form.pack * n for form, n in own)
        weight = sum(grams(form.weight * form.pack) * n for form, n in own)
        if own and (sheets < order.sheets or weight < grams(order.weight)):
            return False
    return True
