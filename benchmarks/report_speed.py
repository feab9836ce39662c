"""Sections of the page of results that are about time and memory."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from statistics import mean, median
from typing import Any

from benchmarks.curves import chart, density_at, mean_curve, time_to
from benchmarks.growth import exponent
from benchmarks.markdown import figures, groups, number, provenance, several, table
from benchmarks.measured import Row

_GROWTH = (
    *("instance", "copies", "pieces", "first layout s", "ms a sweep", "moved a sweep"),
    *("us a moved part", "memory MiB", "of that before"),
)

#: Seconds at which the densities of runs with more workers are shown.
_MOMENTS = (2, 5, 10, 20, 30, 60, 120, 300, 600)


def scaling(measurements: list[dict[str, Any]]) -> Iterator[str]:
    """Return the section about more workers."""
    yield "Here the number of the try says what is done when, so that any number of workers finds"
    yield "the same layouts one after the other. Such a search begins fewer times than one that is"
    yield "told its seconds, as in the sections above, so its densities are others."
    yield ""
    for measurement in measurements:
        for (seconds,), rows in groups(measurement["rows"], "seconds"):
            beside = " Several runs at a time, on other cores." if rows[0]["at_once"] else ""
            yield (
                f"{seconds:g} s, seeds {several(r['seed'] for r in rows)}.{beside} "
                f"{provenance(measurement, rows)}"
            )
            yield ""
            yield from _scaling_table(seconds, rows)
            yield from _sooner(seconds, rows)
            for (name,), _ in groups(rows, "instance"):
                file = _chart_file(measurement, name, seconds)
                yield from (f"![{name}](pictures/{file})", "")


def scaling_charts(measurements: list[dict[str, Any]]) -> Iterator[tuple[str, str]]:
    """Return file name and SVG text of every chart of more workers."""
    for measurement in measurements:
        for (seconds, name), rows in groups(measurement["rows"], "seconds", "instance"):
            curves = {
                f"{n} worker(s)": mean_curve([r["curve"] for r in some])
                for (n,), some in groups(rows, "workers")
            }
            title = f"{name}, density by seconds"
            yield _chart_file(measurement, name, seconds), chart(title, curves, seconds)


def _chart_file(measurement: dict[str, Any], name: str, seconds: float) -> str:
    return f"scaling-{name}-{seconds:g}s-{measurement['machine']['cores']}-cores.svg"


def _scaling_table(seconds: float, rows: list[Row]) -> Iterator[str]:
    moments = [t for t in _MOMENTS if t < seconds] + [seconds]
    yield "Density in per cent after so many seconds, mean over the seeds:"
    yield ""
    lines = []
    for (name, workers), some in groups(rows, "instance", "workers"):
        curves = [r["curve"] for r in some]
        means = [mean(density_at(c, t) for c in curves) for t in moments[:-1]]
        means.append(mean(r["density"] for r in some))
        lines.append([name, workers, len(some), *(number(m) for m in means)])
    headings = ["instance", "workers", "runs", *(f"{t:g} s" for t in moments)]
    yield from table(headings, lines)


def _sooner(seconds: float, rows: list[Row]) -> Iterator[str]:
    counts = sorted({r["workers"] for r in rows} - {1})
    if not counts or not any(r["workers"] == 1 for r in rows):
        return
    yield f"Seconds until the mean over the seeds is what 1 worker has after {seconds:g} s:"
    yield ""
    times: dict[int, list[float | None]] = {n: [] for n in counts}
    lines = []
    for (name,), some in groups(rows, "instance"):
        alone = [r["density"] for r in some if r["workers"] == 1]
        if not alone:
            continue
        cells = [name]
        for n in counts:
            curves = [r["curve"] for r in some if r["workers"] == n]
            reached = time_to(curves, mean(alone)) if curves else None
            times[n].append(reached)
            cells.append(number(reached, 1) if reached or not curves else "not reached")
        lines.append(cells)
    lines.append(["median", *(number(_median(times[n]), 1) for n in counts)])
    lines.append(["median / 1 worker", *(number(_ratio(times[n], seconds)) for n in counts)])
    yield from table(["instance", *(f"{n} workers" for n in counts)], lines)


def _median(times: Sequence[float | None]) -> float | None:
    """Return the median, where what was not reached counts as longer than all else."""
    found = median(float("inf") if t is None else t for t in times) if times else float("inf")
    return None if found == float("inf") else found


def _ratio(times: Sequence[float | None], seconds: float) -> float | None:
    found = _median(times)
    return None if found is None else found / seconds


def kernels(measurements: list[dict[str, Any]]) -> Iterator[str]:
    """Return the section about loops of the engine and the same loops in C."""
    yield "Candidate places and pairs looked at, in millions a second on one core. The same arrays"
    yield "and places, the same results; C is compiled by `gcc -O3 -march=native`. Ratio: time of"
    yield "the engine's kernel / time of C. Path: with fields (overlaps worked out beforehand), or"
    yield "direct (edges and inscribed circles)."
    yield ""
    for measurement in measurements:
        rows = measurement["rows"]
        yield f"{provenance(measurement, rows)} Compiler: {several(r['compiler'] for r in rows)}."
        yield ""
        yield from table(
            ["instance", "path", "loop", "engine M/s", "C M/s", "ratio", "same results"],
            [
                [
                    r["instance"],
                    r["path"],
                    r["loop"],
                    figures(r["engine"] / 1e6),
                    figures(r["c"] / 1e6),
                    number(r["c"] / r["engine"]),
                    "yes" if r["same"] else "NO",
                ]
                for r in rows
            ],
        )
        for (path, loop), some in groups(rows, "path", "loop"):
            ratios = [r["c"] / r["engine"] for r in some]
            yield f"- {path}, {loop}: median ratio {median(ratios):.2f}, worst {max(ratios):.2f}"
        yield ""


def growth(measurements: list[dict[str, Any]]) -> Iterator[str]:
    """Return the section about copies of an instance."""
    yield "Copies of an instance in a strip of the same width. A sweep moves every part that"
    yield "overlaps once; processor seconds of one core. Memory: the greatest of the process, and"
    yield "what it was before the copies came."
    yield ""
    for measurement in measurements:
        yield from (provenance(measurement, measurement["rows"]), "")
        for (name,), rows in groups(measurement["rows"], "instance"):
            yield from table(
                _GROWTH,
                [
                    [
                        name,
                        r["copies"],
                        r["pieces"],
                        number(r["first"]),
                        number(1000 * r["sweep"]),
                        number(r["moved"], 1),
                        number(1e6 * r["sweep"] / r["moved"], 1) if r["moved"] else "-",
                        number(r["memory"], 0),
                        number(r["memory_before"], 0),
                    ]
                    for r in rows
                ],
            )
            yield from _exponents(rows)


def _exponents(rows: list[Row]) -> Iterator[str]:
    if len(rows) < 3:
        return
    sizes = [r["pieces"] for r in rows]
    linear, times = exponent(sizes, None), {k: [r[k] for r in rows] for k in ("sweep", "first")}
    yield (
        f"Time grows as the number of pieces to the power {exponent(sizes, times['sweep']):.2f} "
        f"for a sweep and {exponent(sizes, times['first']):.2f} for the first layout; "
        f"n log n over the same sizes: {linear:.2f}."
    )
    yield ""


def cold(measurements: list[dict[str, Any]]) -> Iterator[str]:
    """Return the section about the first run and the processes after it."""
    yield "Seconds of a new process until it has a first layout. First: nothing is compiled yet."
    yield "Second: another process afterwards."
    yield ""
    for measurement in measurements:
        rows = measurement["rows"]
        yield from (provenance(measurement, rows), "")
        yield from table(
            ["instance", "process", "imports", "kernels and tables", "first layout", "together"],
            [
                [
                    r["instance"],
                    r["process"],
                    number(r["imports"]),
                    number(r["preparing"]),
                    number(r["first"]),
                    number(r["imports"] + r["preparing"] + r["first"]),
                ]
                for r in rows
            ],
        )
