"""What the reports say about skeleton and remnant: pieces, weights, and what the cuts take."""

from __future__ import annotations

from collections.abc import Iterator

from nestlib.model import Effort, Layout, Plan
from nestlib.reporting import texts


def unloading_figures(plan: Plan) -> Iterator[tuple[str, str]]:
    """Yield names and values of what the last cuts of all sheets take and bring."""
    layouts = [x for x in plan.layouts if x.path.skeleton]
    if layouts:
        pieces = [piece for x in layouts for piece in x.path.skeleton]
        number = sum(len(x.path.skeleton) * x.runs for x in layouts)
        heaviest = plan.job.metal.weight(max(piece.area for piece in pieces))
        longest = max(max(piece.size) for piece in pieces)
        yield (
            "Skeleton",
            f"{texts.count(number, 'piece')}, the heaviest {heaviest:.2f} kg, "
            f"the longest side {longest:.0f} mm",
        )
    for role, name in (
        ("skeleton", "Cuts in the skeleton"),
        ("cut_off", "Cuts that free remnants"),
    ):
        efforts = [effort for x in range(len(plan.layouts)) for effort in _efforts(plan, x, role)]
        number = sum(_count(x, role) * x.runs for x in plan.layouts)
        if number:
            whole = sum(efforts, Effort())
            took = f", about {texts.duration(whole.seconds)}" if efforts else ""
            way = sum(
                c.length * x.runs for x in plan.layouts for c in x.path.cuts if c.role == role
            )
            yield name, f"{number}, {texts.metres(way)}{took}"


def _count(layout: Layout, role: str) -> int:
    return sum(cut.role == role for cut in layout.path.cuts)


def _efforts(plan: Plan, number: int, role: str) -> Iterator[Effort]:
    """What the cuts of one kind take on all sheets of a layout, with the ways there."""
    if plan.work is not None:
        layout = plan.layouts[number]
        for cut, effort in zip(layout.path.cuts, plan.work.cuts[number], strict=True):
            if cut.role == role:
                yield effort.times(layout.runs)
