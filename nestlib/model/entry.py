"""Where the beam comes in and leaves: what a job wants of starts, leads and ends."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Entry:
    """How contours are entered and left; all lengths in mm.

    Parameters
    ----------
    start_at : str
        Where a contour is best entered: ``"corner"`` that stands out, ``"mid-edge"``, or
        ``"anywhere"`` along it, for the least travel. Edges marked as critical only where
        nothing else is left.
    lead_in : str
        ``"line"``, ``"arc"`` with a straight beginning, or ``"by place"``: an arc where the
        contour runs on smoothly, a line at a corner. The other one where none of these fits.
    lead_in_length : float, or None
        By the thickness if None; leads become shorter where room is scarce.
    lead_out : str
        ``"none"``, ``"line"`` or ``"arc"`` with a straight end.
    lead_out_length : float, or None
        Half of a lead-in by the thickness if None.
    centre_pierce : float, or None
        Holes no wider than this are pierced in the middle; 0 for none, and if None those up
        to three lead-ins wide.
    over_cut : float
        How far a contour is cut beyond its start.
    end_gap : float
        How far before its start the beam goes off: not with a lead-out or an over-cut.
    """

    start_at: str = "corner"
    lead_in: str = "by place"
    lead_in_length: float | None = None
    lead_out: str = "none"
    lead_out_length: float | None = None
    centre_pierce: float | None = None
    over_cut: float = 0.0
    end_gap: float = 0.0


#: What each word of an `Entry` may be.
STARTS = ("corner", "mid-edge", "anywhere")
LEAD_INS = ("by place", "line", "arc")
LEAD_OUTS = ("none", "line", "arc")
