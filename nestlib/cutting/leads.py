"""Leads: from the pierce point, in the waste, to a contour, and from its end into the waste.

Piercing leaves a blob that is wider than the slot, so it is done in the waste. Leads become
shorter and turn until they touch neither part nor slot nor other lead. Lengths and
preferences are our own simple rules; common practice, no source.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
import shapely

from nestlib.cutting.joints import Critical
from nestlib.cutting.lead_shapes import Choices, joined, leads_in, leads_out, to_heart
from nestlib.cutting.starts import Start, beyond, ranks, starts
from nestlib.cutting.surroundings import Surroundings
from nestlib.geometry.polygons import region
from nestlib.model.contour import Contour, FloatArray
from nestlib.model.entry import Entry

#: Shares of the usual length that are tried.
_SHARES = np.array([1.0, 0.7, 0.45, 0.3, 0.2])

# What is second best counts like so many mm of rapid: by the rank of a place, and on a
# critical edge.
_RANKED = np.array([0.0, 10.0, 40.0])
_CRITICAL = 1000.0
_SHORTENED = 60.0
_RAPID = 0.1
_WANTED = 0.5

#: Straight beginning of a lead, in slots: a control moves half a slot aside on it.
_TO_SWITCH = 0.6

#: A hole up to so many leads wide is pierced in its heart.
_HEART_LEADS = 3.0


@dataclass(frozen=True)
class Lead:
    """Where a contour is entered, and how.

    Parameters
    ----------
    start : Start
        The place on the contour.
    path : Contour, or None
        Open, from the pierce point to the start; None if there is no room for it.
    """

    start: Start
    path: Contour | None


@dataclass(frozen=True)
class Wishes:
    """What a contour's lead should be like.

    Parameters
    ----------
    length : float
        Usual length in mm; a lead becomes shorter where room is scarce.
    entry : Entry
        Shapes and preferred places.
    head : (float, float)
        Where the head comes from.
    hole : bool
        Whether the contour is a hole, which is pierced in its heart if it is small.
    wanted : (float, float), or None
        Where the order of the cuts wants the contour entered, in mm; it is, or nearby, if
        a lead fits there.
    critical : Critical, or None
        Says which edges should not be entered.
    """

    length: float
    entry: Entry = field(default_factory=Entry)
    head: tuple[float, float] = (0.0, 0.0)
    hole: bool = False
    wanted: tuple[float, float] | None = None
    critical: Critical | None = None


def usual_length(thickness: float, kerf: float) -> float:
    """Return the length in mm of a lead that has all the room it wants.

    Examples
    --------
    >>> usual_length(4.0, 0.2)
    6.2
    """
    return max(3.0, 1.5 * thickness) + kerf


def choose_lead(contour: Contour, own: int, surroundings: Surroundings, wishes: Wishes) -> Lead:
    """Return the best lead that touches no part.

    Parameters
    ----------
    contour : Contour
        Closed, run through with the waste on the left.
    own : int
        Which of the pieces in the surroundings it belongs to.
    surroundings : Surroundings
        What the lead has to keep away from.
    wishes : Wishes
        What it should be like.

    Returns
    -------
    Lead
        Without a path if no lead fits.
    """
    places = starts(contour, spread=wishes.entry.start_at == "anywhere")
    choices = _choices(contour, places, wishes, _TO_SWITCH * surroundings.kerf)
    for batch in choices.by_cost():
        free = np.flatnonzero(surroundings.free(batch.sampled(), own))
        if len(free):
            best = int(free[0])
            return Lead(places[int(batch.starts[best])], batch.path(best))
    return Lead(_least_ranked(places, wishes), None)


def choose_lead_out(
    contour: Contour,
    over: float,
    own: int,
    surroundings: Surroundings,
    wishes: Wishes,
    lead_in: Contour | None,
) -> Contour | None:
    """Return the best lead from where a contour ends into the waste.

    Parameters
    ----------
    contour, own, surroundings, wishes
        As in `choose_lead`; the contour begins where it is entered, and the length is that
        of leads out.
    over : float
        How far beyond its start it is cut, in mm.
    lead_in : Contour, or None
        Its own lead, which is met where both meet the contour and nowhere else.

    Returns
    -------
    Contour, or None
        Open; None if none fits.
    """
    least = _TO_SWITCH * surroundings.kerf
    lengths = wishes.length * _SHARES
    place = beyond(contour, over)
    some = joined(leads_out(place, lengths, least, wishes.entry.lead_out))
    shorter = wishes.length - np.hypot(*(some.outer - some.inner).T)
    for batch in some.costing(_SHORTENED * shorter / wishes.length).by_cost():
        free = np.flatnonzero(surroundings.free(batch.sampled(), own, lead_in))
        if len(free):
            return batch.path(int(free[0])).reversed()
    return None


def _choices(contour: Contour, places: list[Start], wishes: Wishes, least: float) -> Choices:
    """Every lead to every place, with its cost."""
    length, entry = wishes.length, wishes.entry
    widest = _HEART_LEADS * length if entry.centre_pierce is None else entry.centre_pierce
    heart, radius = _heart(contour, max(length, widest)) if wishes.hole else (None, math.inf)
    lengths = length * _SHARES
    if radius < length:
        lengths = np.append(lengths[lengths < 1.5 * radius], 0.95 * radius)
    found = []
    for n in lengths:
        some = joined(leads_in(places, np.array([n]), least, entry.lead_in))
        found.append(some.costing(np.full(len(some.costs), _SHORTENED * (1 - n / length))))
    if heart is not None and 2 * radius <= widest:
        found.append(to_heart(places, heart, max(2 * length, 2 / 3 * widest)))
    some = joined(found)
    costs = _place_costs(places, wishes)[some.starts]
    return some.costing(costs + _RAPID * np.hypot(*(some.outer - wishes.head).T))


def _place_costs(places: list[Start], wishes: Wishes) -> FloatArray:
    """What it costs to enter a contour at each place."""
    rank, critical = ranks(places, wishes.entry.start_at, wishes.critical)
    costs = np.where(critical, _CRITICAL, 0.0) + _RANKED[rank]
    if wishes.wanted is not None:
        away = [math.dist(wishes.wanted, (p.x, p.y)) for p in places]
        costs = costs + _WANTED * np.array(away)
    return np.asarray(costs)


def _least_ranked(places: list[Start], wishes: Wishes) -> Start:
    return places[int(np.argmin(_place_costs(places, wishes)))]


def _heart(contour: Contour, reach: float) -> tuple[tuple[float, float], float]:
    """Middle and radius of the largest circle in a hole; infinite if the hole is wide."""
    x0, y0, x1, y1 = contour.bounds
    centre = ((x0 + x1) / 2, (y0 + y1) / 2)
    if contour.is_circle:
        return centre, (x1 - x0) / 2
    size = min(x1 - x0, y1 - y0)
    if size > 3 * reach:
        return centre, math.inf
    radius = shapely.maximum_inscribed_circle(region(contour), tolerance=0.03 * size)
    (x, y), edge = shapely.get_coordinates(radius)
    return (float(x), float(y)), math.dist((x, y), edge)
