"""The sections of the page of results about tours, travel and the rules of the cut path."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from benchmarks.markdown import groups, mean_of, number, provenance, several, table
from benchmarks.measured import Row
from benchmarks.pictures import FOLDER
from benchmarks.rules import AS_GIVEN

_RUN = ("instance", "seconds")


def tours(measurements: list[dict[str, Any]]) -> Iterator[str]:
    """Return the section about closed tours."""
    yield (
        "One core. Distances rounded to whole numbers. Optima: TSPLIB (G. Reinelt, ORSA Journal "
        "on Computing 3 (1991) 376-384); with clusters M. Fischetti, J. J. Salazar Gonzalez, P. "
        "Toth, Operations Research 45 (1997) 378-394. Took: with the loading of kernels."
    )
    yield ""
    for measurement in measurements:
        rows = measurement["rows"]
        seeds = several(r["seed"] for r in rows)
        yield from (f"Seeds {seeds}. {provenance(measurement, rows)}", "")
        names = ["instance", "stops", "limit s", "optimum", "mean", "worst", "worst above %"]
        yield from table(
            [*names, "optimal", "valid", "took s"],
            [
                _cells(name, limit, some)
                for (name, limit), some in groups(rows, "instance", "seconds")
            ],
        )


def _cells(name: str, seconds: float, rows: list[Row]) -> list[str]:
    optimum = rows[0]["optimum"]
    worst = max(r["length"] for r in rows)
    hit = sum(r["length"] == optimum for r in rows)
    return [
        name,
        str(rows[0]["stops"]),
        f"{seconds:g}",
        str(optimum),
        number(mean_of(rows, "length"), 1),
        str(worst),
        number(100 * worst / optimum - 100),
        f"{hit} of {len(rows)}",
        "yes" if all(r["valid"] for r in rows) else "NO",
        number(mean_of(rows, "took"), 1),
    ]


def travel(measurements: list[dict[str, Any]]) -> Iterator[str]:
    """Return the section about travel between cuts."""
    yield (
        "Travel between the cuts of all layouts of a job, detours around loose pieces included. "
        "Plain: always on to the nearest contour that may come, under the same rules, each "
        "entered at its first corner, as a plain program does. Nearest: the same with a choice of "
        "corners. Searched: by default, from corner to corner. Anywhere: searched, with "
        '`start_at = "anywhere"`. Took: with leads, for all layouts together.'
    )
    yield ""
    for measurement in measurements:
        rows = measurement["rows"]
        yield from (provenance(measurement, rows), "")
        yield from table(
            [
                *("job", "order", "layouts", "contours", "plain m", "nearest m", "searched m"),
                *("less than plain %", "less than nearest %", "took s", "anywhere m"),
                *("less than plain %", "less than nearest %", "took s"),
            ],
            [_travel_cells(row) for row in rows],
        )
    if (FOLDER / "travel-searched.svg").exists():
        yield "The first layout of the first job, part by part, nearest first and then searched:"
        for name in ("nearest", "searched"):
            yield from ("", f"![travel, {name}](pictures/travel-{name}.svg)")
        yield ""


def _travel_cells(row: Row) -> list[str]:
    cells = [row["job"], row["order"], str(row["sheets"]), str(row["contours"])]
    cells += [number(row[what] / 1000, 1) for what in ("plain", "nearest")]
    for what, took in (("searched", "took"), ("anywhere", "took_anywhere")):
        cells.append(number(row[what] / 1000, 1))
        cells += [number(100 - 100 * row[what] / row[other], 1) for other in ("plain", "nearest")]
        cells.append(number(row[took], 1))
    return cells


def rules(measurements: list[dict[str, Any]]) -> Iterator[str]:
    """Return the section about what each rule for the cut path costs."""
    yield (
        "The demo's jobs, as first filled, with one rule at a time changed; all sheets together. "
        "Differences are from the first row of a job. With common lines the job is packed anew, "
        "and parts that joints would hold share no cut. Times are by the starting values of the "
        "demo's machine, which have no source."
    )
    yield ""
    for measurement in measurements:
        rows = measurement["rows"]
        yield from (provenance(measurement, rows), "")
        for (job,), some in groups(rows, "job"):
            given = next(row for row in some if row["rule"] == AS_GIVEN)
            changed = [row for row in some if row is not given]
            yield from table(
                [job, "sheets", "cut m", "pierces", "rapids m", "lifts", "joints", "minutes"],
                [
                    _rule_cells(given),
                    *([row["rule"], *_differences(row, given)] for row in changed),
                ],
            )


def _rule_cells(row: Row) -> list[str]:
    cells = [row["rule"], str(row["sheets"]), number(row["cut"] / 1000), str(row["pierces"])]
    cells += [number(row["rapid"] / 1000), str(row["lifts"]), str(row["joints"])]
    return [*cells, number(row["seconds"] / 60)]


def _differences(row: Row, given: Row) -> list[str]:
    def less(what: str, unit: float, digits: int) -> str:
        difference = (row[what] - given[what]) / unit
        return f"{difference:+.{digits}f}" if difference else "0"

    return [
        less("sheets", 1, 0),
        less("cut", 1000, 2),
        less("pierces", 1, 0),
        less("rapid", 1000, 2),
        less("lifts", 1, 0),
        less("joints", 1, 0),
        less("seconds", 60, 2),
    ]
