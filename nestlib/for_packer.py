"""What the packer sees of a job: shapes, containers and aims."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from shapely import Polygon

from nestlib.bundling import Thing, allowed_turns, as_part, grain_of, may_flip
from nestlib.due import due_ranks, placing_levels
from nestlib.geometry import part_clearance, sheet_room
from nestlib.model import Job, Part, Placement, Sheet
from nestlib.packing import Aims, Container, PackedPlacement, Shape


def shapes_of(job: Job, things: Sequence[Thing]) -> list[Shape]:
    """Return a shape for each thing: a part, or a pattern of its pieces.

    Parameters
    ----------
    job : Job
        Parts and spacing.
    things : sequence of Thing
        What is packed.
    """
    return _shapes(job, things, lambda part: part_clearance(part, job.spacing))


def nearest_shapes(job: Job, things: Sequence[Thing]) -> list[Shape]:
    """Return shapes for a bound: pieces that share cuts come as near as a kerf.

    Half a kerf around such a part, and half the usual distance around all others, is never
    more than any two of them keep.
    """

    def near(part: Part) -> Polygon:
        spacing = job.spacing
        if part.common_lines:
            spacing = replace(spacing, kerf=job.spacing.kerf / 2, spacing=0.0)
        return part_clearance(part, spacing)

    return _shapes(job, things, near)


def containers_of(job: Job) -> list[Container]:
    """Return a container for each of `remnants_first`."""
    return [_container(sheet, job) for sheet in remnants_first(job)]


def remnants_first(job: Job) -> list[Sheet]:
    """Return the sheets: leftovers of earlier work are used up before a new one is opened."""
    return sorted(job.sheets, key=lambda sheet: not sheet.remnant)


def placement_of(part: Part, placed: PackedPlacement) -> Placement:
    """Return where a piece of a part lies, with its angle from 0 up to 360."""
    # Twice: what is a little below 0 becomes 360 by rounding.
    return Placement(part.name, placed.rotation % 360 % 360, placed.flip, placed.x, placed.y)


def aims_of(job: Job) -> Aims:
    """Return what counts besides the price of the sheets."""
    money = job.money
    stepped = job.unloading.cut_off == "stepped"
    return Aims(
        money.set_up, money.max_layouts, money.remnant_worth, job.remnant_size, stepped=stepped
    )


def _shapes(job: Job, things: Sequence[Thing], clearance: Callable[[Part], Polygon]) -> list[Shape]:
    of_part: dict[str, list[int]] = {}
    for i, thing in enumerate(things):
        for name in {part.name for part in thing.parts_of(job)}:
            of_part.setdefault(name, []).append(i)
    ranks, levels = due_ranks(job.parts), placing_levels(job.parts)
    shapes = []
    for thing in things:
        # What is laid together is equally urgent, due on the same day and of one kit.
        parts = thing.parts_of(job)
        part = parts[0]
        others = {i for p in parts for name in p.apart for i in of_part.get(name, ())}
        shape = replace(
            _shape(part, clearance(part)),
            quantity=thing.quantity,
            most=thing.most,
            priority=levels[thing.parts[0]],
            due=ranks.get(part.due) if part.due else None,
            apart=tuple(sorted(others)),
        )
        shapes.append(_together(shape, thing, parts, clearance))
    return shapes


def _together(
    shape: Shape, thing: Thing, parts: Sequence[Part], clearance: Callable[[Part], Polygon]
) -> Shape:
    """The shape of a pattern, given that of its first piece."""
    if thing.pattern is None:
        return shape
    names = ", ".join(dict.fromkeys(part.name for part in parts))
    return replace(
        shape,
        name=f"{names}, {thing.pieces} together",
        polygon=clearance(as_part(parts, thing.pattern)),
        area=sum(part.area for part in parts),
        rotations=allowed_turns(parts, thing.pattern),
        grain=grain_of(parts, thing.pattern),
        flip=may_flip(parts, thing.pattern),
    )


def _shape(part: Part, polygon: Polygon) -> Shape:
    return Shape(
        name=part.name,
        polygon=polygon,
        area=part.area,
        rotations=part.rotations,
        flip=part.flip,
        grain=part.grain,
        filler=part.filler,
        kit=part.kit,
        need=part.need,
    )


def _container(sheet: Sheet, job: Job) -> Container:
    return Container(
        name=sheet.name,
        room=sheet_room(sheet, job.spacing),
        area=sheet.area,
        quantity=sheet.quantity,
        grain=sheet.grain,
        cost=sheet.cost,
        order=0 if sheet.remnant else 1,
        beyond=max(0.0, job.spacing.spacing / 2 - job.spacing.margin),
    )
