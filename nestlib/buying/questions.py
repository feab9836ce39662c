"""What a purchaser asks of the same layouts: one format, few formats, one format less.

All of them are small integer programs over the same columns, so their answers can be
compared: with more formats an order never costs more, and without one never less.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from nestlib.buying.choice import Choice
from nestlib.buying.choosing import Case, choose
from nestlib.buying.formats import holders, without

#: Answers are given for orders of up to so many formats.
MOST_FORMATS = 6


@dataclass(frozen=True)
class Answers:
    """What was found over one set of layouts.

    Parameters
    ----------
    best : Choice or None
        At least cost, whatever the number of formats; None if not all can be made.
    by_number : tuple of Choice or None
        With at most one format ordered, two and so on; the last is as cheap as the best.
    alone : tuple of (str, Choice or None)
        With each format alone, besides what is at hand, of an offer cut to length with the
        length that costs least; None if it cannot make all.
    missing : tuple of (str, Choice or None)
        Without each format of the best order.
    """

    best: Choice | None
    by_number: tuple[Choice | None, ...] = ()
    alone: tuple[tuple[str, Choice | None], ...] = ()
    missing: tuple[tuple[str, Choice | None], ...] = ()


def answer(
    case: Case,
    seed: int = 0,
    go_on: Callable[[], bool] = lambda: True,
    on_question: Callable[[str], None] = lambda _: None,
) -> Answers:
    """Answer all questions.

    Parameters
    ----------
    case : Case
        What is wanted, and from what it can be made.
    seed : int
        Of the solver.
    go_on : callable
        Asked before each question but the first whether to go on.
    on_question : callable
        Told each question.
    """
    on_question("the best order")
    best = choose(case, seed=seed)
    if best is None:
        return Answers(None)
    if not any(best.packs):
        return Answers(best, (best,))
    alone = tuple(_alone(case, seed, go_on, on_question))
    by_number = tuple(_by_number(case, best, alone, seed, go_on, on_question))
    # A program that ran out of effort may be beaten by one with less freedom.
    best = min([best, *(c for c in by_number if c), *(c for _, c in alone if c)], key=_cost)
    missing = []
    for name in _ordered(case, best):
        if go_on():
            on_question(f"an order without {name}")
            rest = replace(case, formats=tuple(without(case.formats, [name])))
            missing.append((name, choose(rest, seed=seed)))
    return Answers(best, by_number, alone, tuple(missing))


def _cost(choice: Choice) -> int:
    return choice.cost


def _ordered(case: Case, choice: Choice) -> list[str]:
    return [f.name for f, n in zip(case.formats, choice.packs, strict=True) if n]


def _alone(
    case: Case, seed: int, go_on: Callable[[], bool], on_question: Callable[[str], None]
) -> Iterator[tuple[str, Choice | None]]:
    """Orders of one format each: of an offer cut to length, of the length that costs least.

    Layouts are looked for on few lengths, so an order of another length alone may cost far
    more than it would have to.
    """
    names = [f.name for f in case.formats if f.orderable]
    makers = {c.format for c in case.columns}
    by_offer: dict[int | None, list[tuple[str, Choice | None]]] = {}
    for form, own in ((i, f) for i, f in enumerate(case.formats) if f.orderable):
        if (form in makers or _longest(case, form)) and go_on():
            on_question(f"an order of {own.name} alone")
            others = [n for n in names if n != own.name]
            only = replace(case, formats=tuple(without(case.formats, others)))
            by_offer.setdefault(own.offer, []).append((own.name, choose(only, seed=seed)))
    for answers in by_offer.values():
        yield min(answers, key=lambda answer: _cost(answer[1]) if answer[1] else math.inf)


def _longest(case: Case, form: int) -> bool:
    """Whether it is the longest of its offer, which holds whatever any of them holds."""
    return holders(case.formats, form) == [form]


def _by_number(
    case: Case,
    best: Choice,
    alone: Sequence[tuple[str, Choice | None]],
    seed: int,
    go_on: Callable[[], bool],
    on_question: Callable[[str], None],
) -> Iterator[Choice | None]:
    """Orders of at most one format, two and so on, until more are of no use."""
    most = len(_ordered(case, best))
    single = [c for _, c in alone if c] + [best] * (most == 1)
    if not single and not go_on():
        return  # nobody has asked yet
    found: Choice | None = min(single, key=_cost, default=None)
    yield found
    for number in range(2, min(most, MOST_FORMATS) + 1):
        if not go_on():
            return
        on_question(f"an order of at most {number} formats")
        # The best order itself is one of so many formats.
        choice = best if number == most else choose(case, most_formats=number, seed=seed)
        if choice and (found is None or choice.cost < found.cost):
            found = choice
        yield found
