"""Which pieces cannot lie in the same container.

Some may not, by the conditions. Others cannot for want of room:
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

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from nestlib.packing.bounds.bodies import SLACK, Lying
from nestlib.packing.bounds.case import Case, Space
from nestlib.packing.bounds.weighting import WHOLE, Weighting
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
        Symmetric; on the diagonal, whether two pieces of one kind cannot. By the
        conditions or for want of room.
    """
    room, lyings = case.spaces[space], case.lyings[space]
    result = case.apart.copy()
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


def cliques(case: Case, conflicts: list[NDArray[np.bool_]], often: list[int]) -> list[list[int]]:
    """Return sets of kinds of which a container of any kind holds only one.

    Parameters
    ----------
    case : Case
        What has to lie where.
    conflicts : list of ndarray
        `apart` of each kind of container.
    often : list of int
        In how many containers each kind has to lie at least; where that is much is begun.
    """
    every = np.logical_and.reduce(
        [c | ~_both_fit(lyings) for c, lyings in zip(conflicts, case.lyings, strict=True)]
        or [np.zeros((len(case.kinds),) * 2, dtype=bool)]
    )
    by_area = sorted(range(len(case.kinds)), key=lambda i: -case.kinds[i].outline.area)
    by_need = sorted(by_area, key=lambda i: -often[i])
    alone = [i for i in by_area if every[i, i]]
    firsts = [(i, by_need) for i in by_need[:_CLIQUES]]
    firsts += [(i, order) for i in alone[:_CLIQUES] for order in (alone + by_need, by_need)]
    found = {tuple(sorted(grown(first, order, every))) for first, order in firsts}
    return [list(clique) for clique in sorted(found)]


def by_pairs(
    case: Case, found: Sequence[Sequence[int]], often: Sequence[int], most: Sequence[int]
) -> list[Weighting]:
    """Return arguments of kinds of which a container holds only one.

    Where a kind lies in a container no other of its clique does, so the containers are as
    many as those in which each kind has to lie, all kinds of the clique together.

    Parameters
    ----------
    case : Case
        What has to lie where.
    found : sequence of sequence of int
        `cliques`.
    often : sequence of int
        In how many containers each kind has to lie at least.
    most : sequence of int
        Most pieces of each kind in one container.

    Returns
    -------
    list of Weighting
        One for each clique.
    """
    kinds = range(len(case.kinds))
    return [
        Weighting(
            tuple(WHOLE // most[i] if i in clique else 0 for i in kinds),
            tuple(WHOLE * int(any(by_kind[i] for i in clique)) for by_kind in case.lyings),
            "parts that cannot share a sheet",
            needed=WHOLE * sum(often[i] for i in clique),
        )
        for clique in found
    ]


def grown(first: int, order: list[int], conflicts: NDArray[np.bool_]) -> list[int]:
    """Return a clique of kinds, begun with one and grown by others in their order."""
    clique = [first]
    for i in order:
        if i not in clique and conflicts[i, clique].all():
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
