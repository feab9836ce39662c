"""What the packer sees of a job: shapes, containers and aims."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from shapely import Polygon

from nestlib.bundling import Thing, allowed_turns, as_part
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
    of_part: dict[str, tuple[int, ...]] = {}
    for i, thing in enumerate(things):
        name = job.parts[thing.part].name
        of_part[name] = (*of_part.get(name, ()), i)
    ranks, levels = due_ranks(job.parts), placing_levels(job.parts)
    shapes = []
    for thing in things:
        part = job.parts[thing.part]
        shape = replace(
            _shape(part, clearance(part)),
            quantity=thing.quantity,
            most=thing.most,
            priority=levels[thing.part],
            due=ranks.get(part.due) if part.due else None,
            apart=tuple(i for name in part.apart for i in of_part.get(name, ())),
        )
        shapes.append(_together(shape, thing, part, clearance))
    return shapes


def _together(
    shape: Shape, thing: Thing, part: Part, clearance: Callable[[Part], Polygon]
) -> Shape:
    """The shape of a pattern, given that of one of its pieces."""
    if thing.pattern is None:
        return shape
    return replace(
        shape,
        name=f"{part.name}, {thing.pieces} together",
        polygon=clearance(as_part(part, thing.pattern)),
        area=shape.area * thing.pieces,
        rotations=allowed_turns(part, thing.pattern),
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
