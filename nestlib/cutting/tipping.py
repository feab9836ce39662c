"""What becomes of a piece or a slug that is cut free: it stays, it can tip, or it drops.

Statics of a rigid body on points that can only push: it is at rest if and only if the
plumb line of its centre of mass passes inside the convex hull of the support points.
Seen from the centre of mass, the points then leave no free angle of half a turn.

By this a rectangle laid anywhere is safe on slats if it spans two pitches across them:
150 mm with slats 75 mm apart, 100 mm with slats 50 mm apart, which is where the trade
sees tip-up risk begin (common practice, no source).
"""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from nestlib.cutting.bed import Supports, pitch_across, supports_under
from nestlib.model.contour import FloatArray
from nestlib.model.machine import Support

STAYS, TIPS, DROPS = "stays", "tips", "drops"

#: What is nowhere longer than this share of the pitch slides off its support and falls
#: through: common practice, no source.
_FALLS_THROUGH = 0.5

#: Free angles of half a turn are told from smaller ones by this, in radians.
_STRICTLY = 1e-9


def fate(metal: BaseGeometry, centre: tuple[float, float], support: Support) -> str:
    """Return what becomes of a piece or a slug once nothing holds it.

    Parameters
    ----------
    metal : shapely geometry
        Where it lies, with its holes; a slug in several pieces shares their fate.
    centre : (float, float)
        Its centre of mass.
    support : Support
        What the sheet lies on. If its offset is not known, the worst of all counts: a
        piece stays only if it stays wherever the sheet is laid.

    Returns
    -------
    str
        ``"stays"``: its centre of mass lies strictly inside the convex hull of its
        supports. ``"drops"``: it has no support, or it is so small that it slides off and
        falls through. ``"tips"``: anything else.
    """
    if metal.is_empty:
        return DROPS
    found = supports_under(metal, centre, support)
    held = surrounded(found, centre)
    if held.all():
        return STAYS
    if _reach(metal) < _FALLS_THROUGH * pitch_across(support):
        return DROPS
    loose = np.bincount(found.offset, minlength=found.offsets)[~held]
    return TIPS if loose.any() else DROPS


def surrounded(
    supports: Supports, centre: tuple[float, float]
) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Return for which offsets a centre lies strictly inside the hull of the supports.

    Parameters
    ----------
    supports : Supports
        As `supports_under` returns them.
    centre : (float, float)
        In mm.

    Returns
    -------
    ndarray of bool, shape (offsets,)
    """
    away = supports.points - centre
    far = np.hypot(*away.T) > 0
    return _free_angles(away[far], supports.offset[far], supports.offsets) < np.pi - _STRICTLY


def _free_angles(
    away: FloatArray, group: np.ndarray[tuple[int], np.dtype[np.intp]], groups: int
) -> FloatArray:
    """Widest angle without a vector, (groups,); a whole turn where there is none."""
    widest = np.full(groups, 2 * np.pi)
    if not len(away):
        return widest
    angle = np.arctan2(away[:, 1], away[:, 0])
    order = np.lexsort((angle, group))
    angle, group = angle[order], group[order]
    first = np.flatnonzero(np.diff(group, prepend=-1))
    last = np.append(first[1:], len(group)) - 1
    gap = np.diff(angle, append=0.0)
    gap[last] = angle[first] + 2 * np.pi - angle[last]
    widest[group[first]] = np.maximum.reduceat(gap, first)
    return widest


def _reach(metal: BaseGeometry) -> float:
    """Greatest distance between two of its points, in mm."""
    corners = shapely.get_coordinates(shapely.convex_hull(metal))
    return float(np.hypot(*(corners[:, None] - corners[None]).T).max())
