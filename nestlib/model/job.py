"""Everything a nest needs."""

from __future__ import annotations

from dataclasses import dataclass, field

from nestlib.model.entry import Entry
from nestlib.model.machine import Machine
from nestlib.model.metal import Metal
from nestlib.model.part import Part
from nestlib.model.sheet import Sheet


@dataclass(frozen=True)
class Spacing:
    """Distances that a layout has to keep, in mm.

    The slot lies from the contour to `kerf` outside it, on the waste side.

    Parameters
    ----------
    kerf : float
        Width of the slot.
    spacing : float
        Metal left between two neighbouring slots.
    margin : float
        Metal left between a slot and the edge of the sheet, a hole in it or a keep-out zone.
    """

    kerf: float = 0.2
    spacing: float = 3.0
    margin: float = 10.0

    @property
    def between_parts(self) -> float:
        """Least distance between the contours of two parts: ``spacing + 2 kerf``."""
        return self.spacing + 2 * self.kerf

    @property
    def to_edge(self) -> float:
        """Least distance between a contour and the sheet's edge: ``margin + kerf``."""
        return self.margin + self.kerf


@dataclass(frozen=True)
class Money:
    """What counts besides the price of the sheets.

    Parameters
    ----------
    set_up : float
        Price of preparing one layout, however often it is cut.
    max_layouts : int, or None
        So many different layouts at most, if that can be had; None for any number.
    remnant_worth : float
        What a remnant is worth: this share of its sheet's price for its share of the
        sheet's area, 0 to 1.
    """

    set_up: float = 0.0
    max_layouts: int | None = None
    remnant_worth: float = 0.0


@dataclass(frozen=True)
class Holding:
    """What is held by joints until it is broken out, and where the head may stay down.

    Parameters
    ----------
    joints : str
        ``"none"``; ``"tipping"``: parts that can tip or drop, and slugs that can tip;
        ``"all"``: every part and every slug. A part may say otherwise for itself.
    joint_width : float, or None
        Metal left in a joint, in mm; by the thickness if None.
    over_openings : bool
        Whether the head may stay down over pieces and slugs that lie still once cut free,
        or of which nothing is known; it is always lifted over what can tip or drop.
    """

    joints: str = "none"
    joint_width: float | None = None
    over_openings: bool = False


@dataclass(frozen=True)
class Unloading:
    """How what is left around the parts is taken apart, once they are cut.

    Parameters
    ----------
    cut_off : str
        How a remnant is freed, as the last cut of its sheet: ``"none"``, it is not;
        ``"straight"``, by a cut across the sheet; ``"stepped"``, along the parts, where
        that leaves more.
    piece_weight : float, or None
        No piece of the skeleton shall be heavier, in kg; None for any weight.
    piece_size : float, or None
        No side of its bounding box shall be longer, in mm; None for any size.
    edge_overrun : float
        How far these cuts run on beyond the edge of the sheet as drawn, in mm, so that a
        sheet that is a little larger or lies askew is cut through.
    """

    cut_off: str = "none"
    piece_weight: float | None = None
    piece_size: float | None = None
    edge_overrun: float = 0.0

    @property
    def cuts_skeleton(self) -> bool:
        """Whether the skeleton is cut into pieces."""
        return self.piece_weight is not None or self.piece_size is not None


@dataclass(frozen=True, eq=False)
class Job:
    """Parts, metal, machine, stock and spacing.

    Parameters
    ----------
    title : str
        What the job is called.
    parts : tuple of Part
        With unique names.
    sheets : tuple of Sheet
        What there is to cut from, with unique names.
    metal : Metal
        Material and thickness of all parts and sheets.
    machine : Machine
        What they are cut on.
    spacing : Spacing
        Distances to keep.
    currency : str
        Unit of all costs.
    remnant_size : float
        A leftover is kept as a remnant if both its sides are at least this long, in mm.
    source : str
        The job file; empty if the job was made in code.
    money : Money
        What counts besides the price of the sheets.
    holding : Holding
        What is held by joints, and where the head may stay down.
    cut_order : str
        ``"part by part"``: a part that is begun is finished before the next one;
        ``"sheet by sheet"``: only what has to come first does.
    heat_distance : float
        A contour begins no nearer than this to the end of the one before, where the order
        can have it so, in mm; 0 for any distance.
    heat_seconds : float
        The same as the time in s that the head travels between the two.
    entry : Entry
        Where contours are entered, and how the beam comes in and leaves.
    heat_wait : float
        How long the head waits, in s, before a cut that the order could not keep so far
        away; 0 for not at all.
    unloading : Unloading
        How remnant and skeleton are taken off the table.
    digest : str
        Digest of all that the job was read from, and of how it is nested, by which a batch
        recognises its plan; empty if not known.
    cautions : tuple of str
        What was noticed while it was read and cannot be left untold; its plan repeats it.
    """

    title: str
    parts: tuple[Part, ...]
    sheets: tuple[Sheet, ...]
    metal: Metal
    machine: Machine
    spacing: Spacing = Spacing()
    currency: str = ""
    remnant_size: float = 300.0
    source: str = ""
    money: Money = Money()
    holding: Holding = Holding()
    cut_order: str = "part by part"
    heat_distance: float = 0.0
    heat_seconds: float = 0.0
    entry: Entry = field(default_factory=Entry)
    heat_wait: float = 0.0
    unloading: Unloading = Unloading()
    digest: str = ""
    cautions: tuple[str, ...] = ()

    @property
    def heat_apart(self) -> float:
        """Distance that heat demands between two cuts, in mm: the larger of both wishes."""
        return max(self.heat_distance, self.heat_seconds * self.machine.rapid / 60)

    def part(self, name: str) -> Part:
        """Return the part of that name."""
        return next(p for p in self.parts if p.name == name)

    def sheet(self, name: str) -> Sheet:
        """Return the sheet of that name."""
        return next(s for s in self.sheets if s.name == name)
