"""Which pieces cannot lie in the same container.

Two convex bodies overlap wherever they lie if they do where they are furthest apart, in
opposite corners of the room: the displacements at which convex bodies overlap are a
convex set, their Minkowski sum, so it holds the rectangle of all displacements if it
holds its corners.

References
----------
M. de Berg, O. Cheong, M. van Kreveld, M. Overmars, "Computational Geometry", 3rd ed.,
Springer 2008, section 13.3 (Minkowski sums of convex polygons).
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from nestlib.packing.bounds.bodies import SLACK, Lying
from nestlib.packing.bounds.case import Case, Space
from nestlib.packing.bounds.weighting import Weighting
from nestlib.packing.kernels import FloatArray

#: Only so many of the largest kinds are compared.
_MOST = 250

#: Most ways to lie of all kinds that are compared, and most pairs of them that are looked at.
_LYINGS, _LOOKS = 1500, 40_000

#: How many cliques are grown.
_CLIQUES = 12


def apart(case: Case, space: int) -> NDArray[np.bool_]:
    """Return which kinds cannot lie together in one container.

    Parameters
    ----------
    case : Case
        What has to lie where.
    space : int
        Which kind of container.

    Returns
    -------
    ndarray of bool, shape (kinds, kinds)
        Symmetric; on the diagonal, whether two pieces of one kind cannot.
    """
    room, lyings = case.spaces[space], case.lyings[space]
    result = np.zeros((len(case.kinds),) * 2, dtype=bool)
    fitting = [i for i, found in enumerate(lyings) if found]
    largest = sorted(fitting, key=lambda i: -case.kinds[i].outline.area)[:_MOST]
    every = np.cumsum([len(lyings[i]) for i in largest])
    looks = _LOOKS
    for i, j in _suspects(room, lyings, largest[: int(np.searchsorted(every, _LYINGS, "right"))]):
        looks -= len(lyings[i]) * len(lyings[j])
        if looks < 0:
            break  # what is not looked at might lie together: a weaker bound, but a bound
        if not (case.nested[i, j] or case.nested[j, i]):
            always = all(_always_overlap(room, a, b) for a in lyings[i] for b in lyings[j])
            result[i, j] = result[j, i] = always
    return result


def by_pairs(case: Case, conflicts: list[NDArray[np.bool_]]) -> list[Weighting]:
    """Return arguments of pieces of which a container holds no more than one.

    Parameters
    ----------
    case : Case
        What has to lie where.
    conflicts : list of ndarray
        `apart` of each kind of container.

    Returns
    -------
    list of Weighting
        One for each clique that was grown.
    """
    every = np.logical_and.reduce(
        [c | ~_both_fit(lyings) for c, lyings in zip(conflicts, case.lyings, strict=True)]
        or [np.zeros((len(case.kinds),) * 2, dtype=bool)]
    )
    order = sorted(range(len(case.kinds)), key=lambda i: -case.kinds[i].outline.area)
    alone = [i for i in order if every[i, i]]
    found = {tuple(sorted(grown(first, alone, every))) for first in alone[:_CLIQUES]}
    return [
        Weighting(
            tuple(int(i in clique) for i in range(len(case.kinds))),
            tuple(int(any(by_kind[i] for i in clique)) for by_kind in case.lyings),
            "parts that cannot share a sheet",
        )
        for clique in sorted(found)
    ]


def grown(first: int, order: list[int], conflicts: NDArray[np.bool_]) -> list[int]:
    """Return a clique of kinds, begun with one and grown by others in their order."""
    clique = [first]
    for i in order:
        if i != first and conflicts[i, clique].all():
            clique.append(i)
    return clique


def _both_fit(lyings: list[list[Lying]]) -> NDArray[np.bool_]:
    fits = np.array([bool(found) for found in lyings])
    return np.asarray(np.logical_and.outer(fits, fits))


def _suspects(
    room: Space, lyings: list[list[Lying]], kinds: list[int]
) -> Iterator[tuple[int, int]]:
    """Pairs of kinds whose boxes cannot lie side by side, nor one above the other."""
    if not kinds:
        return
    sizes = np.array([(o.width, o.height) for i in kinds for o in lyings[i]])
    starts = np.cumsum([0, *(len(lyings[i]) for i in kinds[:-1])])
    limit = np.array([room.width, room.height]) * (1 + SLACK)
    beside = (sizes[:, None] + sizes[None] <= limit).any(axis=2)
    by_kind = np.logical_or.reduceat(np.logical_or.reduceat(beside, starts), starts, axis=1)
    for i, j in zip(*np.nonzero(np.triu(~by_kind)), strict=True):
        yield kinds[i], kinds[j]


def _always_overlap(room: Space, a: Lying, b: Lying) -> bool:
    """Whether two bodies overlap wherever their boxes lie in a room."""
    normals = np.concatenate([_normals(a.body), -_normals(b.body)])
    sums = (normals @ a.body.T).max(axis=1) - (normals @ b.body.T).min(axis=1)
    slack = 4 * SLACK * max(room.width, room.height)
    low = np.array([a.width - room.width, a.height - room.height]) - slack
    high = np.array([room.width - b.width, room.height - b.height]) + slack
    furthest = np.where(normals > 0, normals * high, normals * low).sum(axis=1)
    return bool((furthest + slack < sums).all())


def _normals(body: FloatArray) -> FloatArray:
    """Unit vectors across the edges of a convex polygon, pointing outward."""
    edges = np.roll(body, -1, axis=0) - body
    return np.asarray(np.stack([edges[:, 1], -edges[:, 0]], axis=1) / np.hypot(*edges.T)[:, None])
