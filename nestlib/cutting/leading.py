"""The contours of a layout as cuts with their leads and ends, one after the other."""

from __future__ import annotations

from collections.abc import Sequence

from nestlib.cutting.joints import Critical
from nestlib.cutting.leads import Wishes, choose_lead, choose_lead_out, usual_length
from nestlib.cutting.order import Item, Visit, middle
from nestlib.cutting.starts import Start, entered_at, preferred, ranks
from nestlib.cutting.surroundings import Surroundings
from nestlib.model.contour import Contour
from nestlib.model.job import Job
from nestlib.model.layout import Cut, Layout
from nestlib.model.part import Part

#: An over-cut or a gap takes no more than this share of a contour.
MOST = 0.25

Point = tuple[float, float]


class Leading:
    """Finds the leads of all cuts in their order, and keeps in mind what found none.

    Parameters
    ----------
    job : Job
        Says how contours are entered and left.
    layout : Layout
        The placements.
    parts : sequence of Part
        The part of each placement.
    surroundings : Surroundings
        What leads have to keep away from.
    """

    def __init__(
        self, job: Job, layout: Layout, parts: Sequence[Part], surroundings: Surroundings
    ) -> None:
        self._entry, self._layout, self._parts = job.entry, layout, parts
        self._surroundings = surroundings
        usual = usual_length(job.metal.thickness, job.spacing.kerf)
        self._length = job.entry.lead_in_length or usual
        self._length_out = job.entry.lead_out_length or usual / 2
        self.warnings: list[str] = []

    def places(self, item: Item) -> list[Start]:
        """Where a contour is best entered."""
        return preferred(item.contour, self._entry.start_at, self._critical(item))

    def cut(self, visit: Visit, head: Point) -> Cut:
        """Return a contour that is cut through the sheet, with its leads."""
        item, entry, hole = visit.item, self._entry, visit.item.role == "inner"
        own, critical = item.piece.placement, self._critical(item)
        wishes = Wishes(self._length, entry, head, hole, visit.entry, critical)
        lead = choose_lead(item.contour, own, self._surroundings, wishes)
        contour = entered_at(item.contour, lead.start.segment, lead.start.share)
        most = MOST * contour.length
        over, gap = min(entry.over_cut, most), min(entry.end_gap, most)
        out = self._lead_out(item, contour, over, lead.path)
        for path in (lead.path, out):
            if path is not None:
                self._surroundings.take(path)
        if lead.path is None:
            self._warn(item, "lead-in, so the beam starts on the contour itself")
        if ranks([lead.start], entry.start_at, critical)[1].any():
            self._warn(item, "start off the critical edges, so it begins on one")
        return Cut(
            own, item.role, item.index, contour, lead.path,
            lead_out=out, over_cut=over, end_gap=gap,
        )  # fmt: skip

    def _lead_out(
        self, item: Item, contour: Contour, over: float, lead: Contour | None
    ) -> Contour | None:
        if self._entry.lead_out == "none":
            return None
        wishes = Wishes(self._length_out, self._entry)
        out = choose_lead_out(contour, over, item.piece.placement, self._surroundings, wishes, lead)
        if out is None:
            self._warn(item, "lead-out, so the beam goes off on the contour itself")
        return out

    def _critical(self, item: Item) -> Critical | None:
        """The edges of a piece's outside that should not be entered; None if all are alike."""
        number = item.piece.placement
        sides = self._parts[number].critical
        if item.role != "outer" or not set(sides) - {"outer", "holes"}:
            return None
        return Critical(sides, self._layout.placements[number])

    def _warn(self, item: Item, what: str) -> None:
        x, y = middle(item.contour)
        which = "outer contour" if item.role == "outer" else f"hole {item.index + 1}"
        name = self._parts[item.piece.placement].name
        self.warnings.append(f"{name}, {which} at ({x:.1f}, {y:.1f}): no room for a {what}")
