"""Do the costs of parts and layouts add up to that of the plan, to the last hundredth?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from nestlib.model import Violation
from nestlib.verifying.fields import Field

if TYPE_CHECKING:
    from nestlib.verifying.written import WrittenPlan

#: What money is spent on; each may be unknown.
KINDS = ("sheets", "set_ups", "cutting", "moving", "gas")

#: Times and lengths may differ by this share, since plans may round them.
_ROUNDING = 1e-6


@dataclass(frozen=True)
class WrittenWork:
    """What some part of a plan is said to take and to cost.

    Parameters
    ----------
    cut_length : float
        In mm.
    pierces : int
        How many.
    seconds : float, or None
        Of the machine; None if not known.
    cost : dict of str to int
        Hundredths, by what they are spent on; what is not stated is left out.
    total : int, or None
        Sum as the plan says.
    """

    cut_length: float
    pierces: int
    seconds: float | None
    cost: dict[str, int]
    total: int | None


def read_work(owner: Field) -> WrittenWork | None:
    """Return what a part, a layout or the plan is said to take; older plans do not tell."""
    if not owner.has("work") or not owner["work"].given:
        return None
    effort, cost = owner["work"]["effort"], owner["work"]["cost"]
    return WrittenWork(
        cut_length=effort["cut_length"].number(0),
        pierces=effort["pierces"].whole(),
        seconds=effort["seconds"].number(0) if effort["seconds"].given else None,
        cost={kind: cost[kind].whole() for kind in KINDS if cost[kind].given},
        total=cost["total"].whole() if cost["total"].given else None,
    )


def check_costs(plan: WrittenPlan) -> Iterator[Violation]:
    """Check that costs, times, lengths and pierces add up.

    Parameters
    ----------
    plan : WrittenPlan
        As written.

    Yields
    ------
    Violation
    """
    whole = plan.work
    if whole is None:
        return
    parts = [w.work for w in plan.parts.values() if w.work is not None]
    layouts = [lay.work for lay in plan.layouts if lay.work is not None]
    for name, some, count in (
        ("parts", parts, len(plan.parts)), ("layouts", layouts, len(plan.layouts)),
    ):  # fmt: skip
        if len(some) != count:
            yield _differs(f"the plan has costs, and only {len(some)} of {count} {name} have")
        yield from _sums(name, whole, some)
    for layout in plan.layouts:
        if layout.work is not None and layout.work.pierces != layout.pierces:
            text = f"its path has {layout.pierces} pierces, its costs count {layout.work.pierces}"
            yield Violation("figure-differs", layout.dxf, text)
    runs = [(lay.work, lay.runs) for lay in plan.layouts if lay.work is not None]
    yield from _times(whole, runs)


def _sums(name: str, whole: WrittenWork, some: Sequence[WrittenWork]) -> Iterator[Violation]:
    for kind in KINDS:
        total = sum(w.cost.get(kind, 0) for w in some)
        if total != whole.cost.get(kind, 0):
            yield _differs(
                f"{kind}: the {name} cost {total} hundredths, not {whole.cost.get(kind)}"
            )
    for work in (whole, *some):
        if (work.total or 0) != sum(work.cost.values()):
            yield _differs(f"a total of {work.total} hundredths is not the sum of its kinds")


def _times(whole: WrittenWork, runs: Sequence[tuple[WrittenWork, int]]) -> Iterator[Violation]:
    """The machine is busy as long as with all sheets, one after another."""
    if sum(work.pierces * n for work, n in runs) != whole.pierces:
        yield _differs(f"the plan counts {whole.pierces} pierces, its layouts others")
    for name in ("cut_length", "seconds"):
        said, found = getattr(whole, name), [(getattr(work, name), n) for work, n in runs]
        if said is None or any(value is None for value, _ in found):
            continue
        total = sum(value * n for value, n in found)
        if abs(total - said) > _ROUNDING * max(1.0, total):
            yield _differs(f"{name}: the plan says {said:g}, its layouts give {total:g}")


def _differs(text: str) -> Violation:
    return Violation("figure-differs", "", text)
