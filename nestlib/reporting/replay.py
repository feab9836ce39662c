"""What the report's replay knows of each cut: its seconds, its way and what it sets free."""

from __future__ import annotations

from typing import Any

from nestlib.model import Cut, Effort, Layout, Plan
from nestlib.reporting.frame import Frame
from nestlib.reporting.texts import plain


def replay_data(plan: Plan) -> dict[str, Any]:
    """Return what the report's script needs and the drawing does not say.

    Parameters
    ----------
    plan : Plan
        With or without its work.

    Returns
    -------
    dict
        Fit for JSON. Of each cut in cutting order ``seconds`` of moving there, piercing and
        the beam's way (absent if the machine's file does not state them), ``way`` as x and
        y of each corner from the end of the cut before, in mm of the picture, ``frees``,
        the pieces that nothing holds any longer, ``fate``, and ``wait``, the seconds of
        moving there that the head stands still at their end.
    """
    return {
        "heat_distance": round(plan.job.heat_apart, 3),
        "layouts": [_layout(plan, number) for number in range(len(plan.layouts))],
    }


def _layout(plan: Plan, number: int) -> dict[str, Any]:
    layout = plan.layouts[number]
    efforts = plan.work.cuts[number] if plan.work else (None,) * len(layout.path.cuts)
    names = [part.name for part in plan.job.parts if part.name in layout.counts]
    rows = zip(layout.path.rapids, efforts, strict=True)
    return {
        "parts": [plain(name) for name in names],
        "pieces": [names.index(p.part) for p in layout.placements],
        "cuts": [_cut(cut, way, effort, layout) for (cut, way), effort in rows],
    }


def _cut(
    cut: Cut, way: tuple[tuple[float, float], ...], effort: Effort | None, layout: Layout
) -> dict[str, Any]:
    """One cut; what is empty is left out, since there are thousands."""
    view = Frame.around(layout.sheet).view
    record = {
        "role": cut.role,
        "piece": cut.placement,
        "seconds": _seconds(effort),
        "way": [round(v, 2) for point in way for v in view(*point)],
        "frees": _freed(cut),
        "fate": cut.fate if cut.free else None,
        "joints": len(cut.joints),
        "lifted": cut.lifted,
        "wait": cut.wait,
    }
    return {key: value for key, value in record.items() if value or key == "piece"}


def _seconds(effort: Effort | None) -> list[float] | None:
    """Moving there, piercing, and the beam's way; None if one of them is not known."""
    if effort is None:
        return None
    times = (effort.moving, effort.piercing, effort.cutting, effort.marking)
    known = [t for t in times if t is not None]
    if len(known) < len(times):
        return None
    moving, piercing, *beam = known
    return [round(moving, 3), round(piercing, 3), round(sum(beam), 3)]


def _freed(cut: Cut) -> list[int]:
    """Pieces that nothing holds once the cut is done."""
    whole = cut.free and cut.role in ("outer", "around")
    return list(cut.pieces or (cut.placement,)) if whole else []
