"""What ``plan.json`` says of a layout: its pieces, its cut path and what is left."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from nestlib.model.contour import Contour
from nestlib.model.layout import Cut, Layout
from nestlib.model.plan import Plan
from nestlib.model.work import Effort
from nestlib.writing.plain_data import contour_record
from nestlib.writing.work_json import effort_record, work_record


def layout_record(plan: Plan, number: int, file: str) -> dict[str, Any]:
    """Return what it says of a layout, whose DXF file has this name."""
    layout, work = plan.layouts[number], plan.work
    area = sum(plan.job.part(name).area * n for name, n in layout.counts.items())
    cuts = layout.path.cuts
    efforts = [None] * len(cuts) if work is None else work.cuts[number]
    return {
        "sheet": layout.sheet.name,
        "runs": layout.runs,
        "dxf": file,
        "utilisation": float(area / layout.sheet.area),
        "placements": [
            {
                "part": p.part,
                "rotation": float(p.rotation),
                "flip": p.flip,
                "x": float(p.x),
                "y": float(p.y),
            }
            for p in layout.placements
        ],
        "path": [
            _cut(cut, order, effort)
            for order, (cut, effort) in enumerate(zip(cuts, efforts, strict=True), start=1)
        ],
        "cut_length": float(layout.path.cut_length),
        "mark_length": float(layout.path.mark_length),
        "rapid_length": float(layout.path.rapid_length),
        "pierces": int(layout.path.pierces),
        "joints": int(layout.path.joints),
        "lifts": int(layout.path.lifts),
        "lifted_length": float(layout.path.lifted_length),
        "skeleton": [
            {
                "area": float(piece.area),
                "weight": float(plan.job.metal.weight(piece.area)),
                "size": [float(side) for side in piece.size],
            }
            for piece in layout.path.skeleton
        ],
        "warnings": list(layout.path.warnings),
        "work": work and work_record(work.layouts[number], work.layout_costs[number]),
        "singly": layout.singly and effort_record(layout.singly),
    }


def _lead(lead: Contour) -> dict[str, Any]:
    return {"points": lead.points.tolist(), "bulges": lead.bulges.tolist()}


def _cut(cut: Cut, order: int, effort: Effort | None) -> dict[str, Any]:
    return {
        "order": order,
        "placement": cut.placement if cut.of_piece else None,
        "role": cut.role,
        "index": cut.index,
        "start": cut.contour.points[0].tolist(),
        "pierce": list(cut.pierce),
        "lead": None if cut.lead_in is None else _lead(cut.lead_in),
        "length": float(cut.length),
        "contour": contour_record(cut.contour),
        "work": effort and effort_record(effort),
        "joints": [
            {"at": float(j.at), "width": float(j.width), "gap": float(j.gap)} for j in cut.joints
        ],
        "fate": cut.fate,
        "lifted": cut.lifted,
        "via": [[float(x), float(y)] for x, y in cut.via],
        "lead_out": None if cut.lead_out is None else _lead(cut.lead_out),
        "over_cut": float(cut.over_cut),
        "end_gap": float(cut.end_gap),
        "pieces": list(cut.pieces),
        "wait": float(cut.wait),
    }


def remnant_records(layouts: Sequence[Layout]) -> list[dict[str, Any]]:
    """Return what it says of all remnants."""
    return [
        {
            "name": remnant.name,
            "layout": number,
            "sheet": layout.sheet.name,
            "runs": layout.runs,
            "outline": contour_record(remnant.outline),
            "area": float(remnant.area),
        }
        for number, layout in enumerate(layouts)
        for remnant in layout.remnants
    ]
