"""The contours of a layout as cuts with their leads and ends, one after the other."""

from __future__ import annotations

from collections.abc import Sequence

from nestlib.cutting.bundles import shared_cut
from nestlib.cutting.joints import Critical
from nestlib.cutting.leads import Wishes, choose_lead, choose_lead_out, usual_length
from nestlib.cutting.order import Item, Piece, Visit, middle
from nestlib.cutting.starts import Start, entered_at, preferred, ranks
from nestlib.cutting.surroundings import Surroundings
from nestlib.model.contour import Contour
from nestlib.model.job import Job
from nestlib.model.layout import Cut, Layout
from nestlib.model.part import Part

#: An over-cut or a gap takes no more than this share of a contour.
MOST = 0.25

_NO_LEAD_IN = "lead-in, so the beam starts on the contour itself"

Point = tuple[float, float]


class Leading:
    """Finds the leads of all cuts in their order, and keeps in mind what found none.

    Parameters
    ----------
    job : Job
        Says how contours are entered and left.
    layout : Layout
        The placements.
    together : sequence of Piece
        What is cut as one, in the order of the surroundings.
    surroundings : Surroundings
        What leads have to keep away from.
    """

    def __init__(
        self, job: Job, layout: Layout, together: Sequence[Piece], surroundings: Surroundings
    ) -> None:
        self._entry, self._layout, self._job = job.entry, layout, job
        self._own = {body.placement: i for i, body in enumerate(together)}
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
        own, critical = self._own[item.piece.placement], self._critical(item)
        if item.role == "shared":
            cut = shared_cut(item, own, self._surroundings, self._length, visit.entry)
            if cut.lead_in is None:
                self._warn(item, _NO_LEAD_IN)
            return cut
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
            self._warn(item, _NO_LEAD_IN)
        if ranks([lead.start], entry.start_at, critical)[1].any():
            self._warn(item, "start off the critical edges, so it begins on one")
        number, index = item.owner
        pieces = () if hole else tuple(piece.placement for piece in item.piece.members)
        return Cut(
            number, item.role, index, contour, lead.path,
            pieces=pieces, lead_out=out, over_cut=over, end_gap=gap,
        )  # fmt: skip

    def _lead_out(
        self, item: Item, contour: Contour, over: float, lead: Contour | None
    ) -> Contour | None:
        if self._entry.lead_out == "none":
            return None
        wishes = Wishes(self._length_out, self._entry)
        out = choose_lead_out(
            contour, over, self._own[item.piece.placement], self._surroundings, wishes, lead
        )
        if out is None:
            self._warn(item, "lead-out, so the beam goes off on the contour itself")
        return out

    def _critical(self, item: Item) -> Critical | None:
        """The edges of a piece's outside that should not be entered; None if all are alike."""
        number = item.piece.placement
        sides = self._part(number).critical
        if item.role != "outer" or not set(sides) - {"outer", "holes"}:
            return None
        return Critical(sides, self._layout.placements[number])

    def _part(self, number: int) -> Part:
        return self._job.part(self._layout.placements[number].part)

    def _warn(self, item: Item, what: str) -> None:
        x, y = middle(item.contour)
        named = {
            "outer": "outer contour",
            "around": "the way around pieces that share cuts",
            "shared": f"shared cut {item.index + 1}",
        }
        which = named.get(item.role, f"hole {item.owner[1] + 1}")
        together = item.role in ("shared", "around")
        numbers = [m.placement for m in item.piece.members] if together else [item.owner[0]]
        names = " and ".join(dict.fromkeys(self._part(number).name for number in numbers))
        self.warnings.append(f"{names}, {which} at ({x:.1f}, {y:.1f}): no room for a {what}")
