"""Do only such pieces share a sheet as the parts allow, and is it told rightly where they lie?"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from datetime import date
from itertools import pairwise

from nestlib.model import Violation
from nestlib.verifying.written import WrittenLayout, WrittenPlan


def check_conditions(plan: WrittenPlan, layout: WrittenLayout) -> Iterator[Violation]:
    """Check what may lie on the sheet of one layout.

    Parameters
    ----------
    plan : WrittenPlan
        Holds the parts.
    layout : WrittenLayout
        The placements.

    Yields
    ------
    Violation
    """
    counts = Counter(p.part for p in layout.placements)
    for name, count in sorted(counts.items()):
        most = plan.parts[name].part.most_per_sheet
        if most is not None and count > most:
            text = f"{count} pieces of '{name}' lie on one sheet, and {most} may"
            yield Violation("too-many-on-sheet", layout.dxf, text)
    for one, other in sorted(_forbidden(plan)):
        if one == other and counts[one] > 1:
            text = f"{counts[one]} pieces of '{one}' lie on one sheet, and they have to lie apart"
            yield Violation("not-apart", layout.dxf, text)
        elif one != other and counts[one] and counts[other]:
            text = f"'{one}' and '{other}' lie on one sheet, and they have to lie apart"
            yield Violation("not-apart", layout.dxf, text)


def check_dates(plan: WrittenPlan) -> Iterator[Violation]:
    """Check that what is due first is cut first, and that the plan says when it is done.

    Parameters
    ----------
    plan : WrittenPlan
        As written.

    Yields
    ------
    Violation
    """
    held = _held(plan)
    dues = [_first_due(plan, names) for names in held]
    for number, (earlier, later) in enumerate(pairwise(dues), start=1):
        if later < earlier:
            text = f"layout {number} comes before layout {number + 1}, which is due on {later}"
            yield Violation("layouts-out-of-order", plan.layouts[number].dxf, text)
    for name, written in plan.parts.items():
        said, last = written.last_layout, max(_numbers(held, [name]), default=None)
        if said is not None and said != last:
            text = f"'{name}' is said to be done with layout {said}, and its last one is {last}"
            yield Violation("figure-differs", "", text)


def check_kits(plan: WrittenPlan) -> Iterator[Violation]:
    """Check that the plan says rightly on which layouts each kit lies.

    Parameters
    ----------
    plan : WrittenPlan
        As written.

    Yields
    ------
    Violation
    """
    held = _held(plan)
    for kit in plan.kits:
        parts = [name for name, w in plan.parts.items() if w.part.kit == kit.name]
        if sorted(kit.parts) != sorted(parts) or list(kit.layouts) != _numbers(held, parts):
            text = f"kit '{kit.name}' does not consist of the parts, or lie where the plan says"
            yield Violation("figure-differs", "", text)


def _forbidden(plan: WrittenPlan) -> set[tuple[str, str]]:
    """Pairs of parts that must not share a sheet, whichever of them says so."""
    pairs = ((name, other) for name, w in plan.parts.items() for other in w.part.apart)
    return {(min(pair), max(pair)) for pair in pairs}


def _first_due(plan: WrittenPlan, names: Iterable[str]) -> date:
    """Earliest due date among some parts; the end of time if none has one."""
    return min((plan.parts[n].part.due or date.max for n in names), default=date.max)


def _held(plan: WrittenPlan) -> list[set[str]]:
    """Names of the parts on each layout."""
    return [{p.part for p in layout.placements} for layout in plan.layouts]


def _numbers(held: Iterable[set[str]], parts: Iterable[str]) -> list[int]:
    """Numbers of the layouts that hold any of some parts."""
    wanted = set(parts)
    return [number for number, names in enumerate(held, start=1) if names & wanted]
