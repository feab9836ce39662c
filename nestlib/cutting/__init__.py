"""Cut paths: the order of the cuts, where each begins, how the head gets there, what stays."""

from nestlib.cutting.closed_tour import closed_tour
from nestlib.cutting.joints import place_joints
from nestlib.cutting.leads import Lead, choose_lead, usual_length
from nestlib.cutting.order import Item, Piece, cutting_order, nesting
from nestlib.cutting.path import cut_path, placed_piece
from nestlib.cutting.rapids import ways
from nestlib.cutting.securing import secured
from nestlib.cutting.starts import Start, entered_at, starts
from nestlib.cutting.surroundings import Surroundings
from nestlib.cutting.timing import cut_efforts, not_stated
from nestlib.cutting.tipping import fate
from nestlib.cutting.unloading import with_unloading

__all__ = [
    "Item",
    "Lead",
    "Piece",
    "Start",
    "Surroundings",
    "choose_lead",
    "closed_tour",
    "cut_efforts",
    "cut_path",
    "cutting_order",
    "entered_at",
    "fate",
    "nesting",
    "not_stated",
    "place_joints",
    "placed_piece",
    "secured",
    "starts",
    "usual_length",
    "ways",
    "with_unloading",
]
