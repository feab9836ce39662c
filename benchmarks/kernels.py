"""Candidate places and pairs a second: the kernels of the engine against C.

Both are given the same arrays: a layout as a search meets it, and as many candidate places
for every part, near and anywhere, as a search would try.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click
import numpy as np

from benchmarks import midway, options
from benchmarks.c_loops import Scene, compiled, compiler_version
from benchmarks.instances import instance_files, read_instance
from benchmarks.measured import Measurement, Row, file_of
from benchmarks.pinned import Job, run_all
from nestlib.engine.fields import no_fields
from nestlib.engine.grid import parts_near
from nestlib.engine.kernel import kernel
from nestlib.engine.overlap import Layout, Shapes, pair_overlap, weighted_overlap

KEYS = ("instance", "path", "loop")

#: Candidate places of one part near where it is, and anywhere.
_AROUND, _ANYWHERE = 50, 100

#: How many of the best a search keeps; what is worse is given up early.
_KEPT = 5

#: Pairs that are looked at.
_PAIRS = 100_000

#: Results in float32 may differ by this share.
_SAME = 1e-4

#: Processor seconds of sweeps before the layout is taken.
_SETTLING = 0.5


@kernel
def place_loop(
    shp: Any,
    lay: Any,
    near: Any,
    others: Any,
    met: Any,
    weights: Any,
    part: Any,
    turn: Any,
    x: Any,
    y: Any,
    limit: Any,
    out: Any,
) -> None:
    """Weigh the overlap of every candidate place."""
    box = shp.cat.box
    for c in range(part.shape[0]):
        t = turn[c]
        count = parts_near(
            lay.grid,
            lay.box,
            part[c],
            box[t, 0] + x[c],
            box[t, 1] + y[c],
            box[t, 2] + x[c],
            box[t, 3] + y[c],
            others,
        )
        out[c] = weighted_overlap(
            shp, lay, weights, others, count, t, x[c], y[c], limit[c], near, met
        )


@kernel
def pair_loop(shp: Any, near: Any, a: Any, b: Any, dx: Any, dy: Any, out: Any) -> None:
    """Measure the overlap of every pair."""
    for k in range(a.shape[0]):
        out[k] = pair_overlap(shp, a[k], b[k], dx[k], dy[k], near)


@dataclass(frozen=True)
class Places:
    """Candidate places.

    Parameters
    ----------
    part, turn : ndarray of int64, shape (n,)
        Part, and its orientation.
    x, y : ndarray, shape (n,)
        Its reference point.
    """

    part: Any
    turn: Any
    x: Any
    y: Any


def candidates(shapes: Shapes, layout: Layout, room: Any, seed: int = 1) -> Places:
    """Return places near each part and anywhere in the room.

    Parameters
    ----------
    shapes : Shapes
        The orientations.
    layout : Layout
        Where the parts lie.
    room : ndarray, shape (4,)
        Box in which they must stay.
    seed : int
        Of all chance.
    """
    random, cat = np.random.default_rng(seed), shapes.cat
    part = np.repeat(np.arange(layout.movable), _AROUND + _ANYWHERE)
    near = np.tile(np.arange(_AROUND + _ANYWHERE) < _AROUND, layout.movable)
    first, last = cat.first[layout.kind[part]], cat.first[layout.kind[part] + 1]
    turn = random.integers(first, last)
    at = []
    for axis, now in enumerate((layout.x, layout.y)):
        low = room[axis] - cat.box[turn, axis]
        high = np.maximum(low, room[axis + 2] - cat.box[turn, axis + 2])
        half = (layout.box[axis + 2] - layout.box[axis])[part] / 2
        lowest = np.where(near, np.clip(now[part] - half, low, high), low)
        highest = np.where(near, np.clip(now[part] + half, low, high), high)
        at.append(random.uniform(lowest, highest))
    return Places(part, turn, *at)


def pairs_of(shapes: Shapes, layout: Layout, places: Places) -> tuple[Any, Any, Any, Any]:
    """Return orientations and distances of the pairs whose boxes meet at these places."""
    box = shapes.cat.box
    found = []
    for c in np.random.default_rng(1).permutation(len(places.part)):
        own = box[places.turn[c]] + np.tile([places.x[c], places.y[c]], 2)
        begins, ends = layout.box[:2].T, layout.box[2:].T
        meets = ((begins < own[2:]) & (ends > own[:2])).all(axis=1)
        meets[places.part[c]] = False
        found += [(c, j) for j in np.flatnonzero(meets)]
        if len(found) >= _PAIRS:
            break
    c, j = np.array(found, dtype=np.int64).T
    dx, dy = layout.x[j] - places.x[c], layout.y[j] - places.y[c]
    return places.turn[c], layout.turn[j], dx, dy


def carry_out(path: Path, seconds: float) -> list[Row]:
    """Measure both loops with fields and without."""
    instance = read_instance(path)
    worker = midway.too_short(instance)
    midway.sweeps(worker, _SETTLING)
    library, rows = compiled(), []
    for name, shapes in (
        ("fields", worker.shapes),
        ("direct", Shapes(worker.shapes.cat, no_fields(worker.shapes.cat))),
    ):
        for loop, number, engine, c, same in _loops(library, shapes, worker):
            mine, other = rates(engine, c, number, seconds)
            rows.append(
                {
                    **dict(zip(KEYS, (path.stem, name, loop), strict=True)),
                    "items": number,
                    "engine": round(mine),
                    "c": round(other),
                    "same": same(),
                    "compiler": compiler_version(),
                }
            )
    return rows


Loop = tuple[str, int, Callable[[], None], Callable[[], None], Callable[[], bool]]


def _loops(library: Any, shapes: Shapes, worker: Any) -> list[Loop]:
    """Return the two loops, each as two functions and a comparison of their results."""
    layout, ws = worker.board.layout, worker.scratch
    scene, ones = Scene(library, shapes, layout), np.ones(len(layout.x))
    places = candidates(shapes, layout, worker.board.room)
    given = (places.part, places.turn, places.x, places.y)
    mine, other = np.empty((2, len(places.part)))
    scratch = (ws.near, ws.others, ws.met)
    limit = np.full(len(mine), np.inf)
    place_loop(shapes, layout, *scratch, ones, *given, limit, mine)
    limit = _limits(mine)
    pairs = pairs_of(shapes, layout, places)
    its, others = np.empty((2, len(pairs[0])))
    return [
        (
            "places",
            len(mine),
            lambda: place_loop(shapes, layout, *scratch, ones, *given, limit, mine),
            lambda: scene.call("places", [ones], [*given, limit, other]),
            lambda: _are_same(mine, other),
        ),
        (
            "pairs",
            len(its),
            lambda: pair_loop(shapes, ws.near, *pairs, its),
            lambda: scene.call("pairs", [], [*pairs, others]),
            lambda: _are_same(its, others),
        ),
    ]


def _limits(values: Any) -> Any:
    """Return for every place the overlap above which a search gives it up."""
    of_parts = np.sort(values.reshape(-1, _AROUND + _ANYWHERE), axis=1)
    limit: Any = np.repeat(of_parts[:, _KEPT - 1], _AROUND + _ANYWHERE)
    # Not the very value of one of them, which C may see on the other side of it.
    return np.where(limit > 0.0, 1.001 * limit, np.inf)


def _are_same(mine: Any, other: Any) -> bool:
    finite = np.isfinite(mine)
    return bool(
        (finite == np.isfinite(other)).all()
        and np.allclose(mine[finite], other[finite], rtol=_SAME, atol=1e-9)
    )


def rates(
    first: Callable[[], None], second: Callable[[], None], number: int, seconds: float
) -> tuple[float, float]:
    """Return the items a second of two loops, each the best of several turns.

    Parameters
    ----------
    first, second : callable
        The loops; they take turns, so that what disturbs one disturbs the other.
    number : int
        Items of one turn.
    seconds : float
        Processor time for both.
    """
    best = [np.inf, np.inf]
    first()
    second()
    end = time.process_time() + seconds
    while time.process_time() < end:
        for k, loop in enumerate((first, second)):
            began = time.process_time()
            loop()
            best[k] = min(best[k], time.process_time() - began)
    return number / best[0], number / best[1]


@click.command("kernels")
@options.instances
@click.option("--seconds", default=2.0, show_default=True, help="Processor time of each pair.")
@options.out
def command(folder: Path, only: tuple[str, ...], seconds: float, out: Path | None) -> None:
    """Measure the kernels of the engine and the same loops in C.

    Example: python -m benchmarks kernels --instances instances/ --only swim,jakobs2
    """
    measurement = Measurement(out or file_of("kernels"), "kernels", KEYS)
    paths = [
        path
        for path in instance_files(folder, ["strip"], only)
        if not measurement.has(instance=path.stem, path="direct", loop="pairs")
    ]

    def done(_: Job, rows: list[Row]) -> None:
        for row in rows:
            measurement.add(row)
            click.echo(
                f"{row['instance']} {row['path']} {row['loop']}: {row['engine'] / 1e6:.2f} M/s, "
                f"C {row['c'] / 1e6:.2f}, {'same' if row['same'] else 'NOT the same'}"
            )

    sys.exit(run_all([Job(carry_out, (path, seconds)) for path in paths], 1, done) > 0)
