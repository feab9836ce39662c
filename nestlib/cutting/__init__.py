"""Cut paths: the order of the cuts, where each begins, and how the beam gets there."""

from nestlib.cutting.closed_tour import closed_tour
from nestlib.cutting.leads import Lead, choose_lead, usual_length
from nestlib.cutting.order import Item, Piece, cutting_order, nesting
from nestlib.cutting.path import cut_path, placed_piece
from nestlib.cutting.starts import Start, entered_at, starts
from nestlib.cutting.surroundings import Surroundings

__all__ = [
    "Item",
    "Lead",
    "Piece",
    "Start",
    "Surroundings",
    "choose_lead",
    "closed_tour",
    "cut_path",
    "cutting_order",
    "entered_at",
    "nesting",
    "placed_piece",
    "starts",
    "usual_length",
]
