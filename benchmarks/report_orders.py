"""Sections of the page of results that are about exports and batches."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from benchmarks.markdown import number, provenance, table


def intake(measurements: list[dict[str, Any]]) -> Iterator[str]:
    """Return the section about large exports."""
    yield "Exports by a generator: German titles, 9 jobs by metal and thickness, 1200 drawings"
    yield "found by name. Drafting: the mapping is guessed, once for a form of export. Taking in:"
    yield "read, checked, grouped and written. Again: the same export, which changes nothing."
    yield "Aim: 20 s for 10 000 lines."
    yield ""
    for measurement in measurements:
        yield from (provenance(measurement, measurement["rows"]), "")
        yield from table(
            ["export", "lines", "drafting s", "taking in s", "again s", "jobs", "aside", "same"],
            [
                [
                    r["shape"],
                    r["lines"],
                    number(r["drafting"]),
                    number(r["taking"]),
                    number(r["again"]),
                    r["jobs"],
                    r["aside"],
                    "yes" if r["unchanged"] else "NO",
                ]
                for r in measurement["rows"]
            ],
        )


def batch(measurements: list[dict[str, Any]]) -> Iterator[str]:
    """Return the section about many small jobs."""
    yield "Small jobs that are all alike, over processes. Overhead: wall-clock time of the batch"
    yield "times workers, over the time in which the jobs are read, nested, verified and written;"
    yield "starting the processes and loading the libraries counts as overhead, and is paid once,"
    yield "so few jobs show a larger share than many. Resumed: the same batch when all plans are"
    yield "there. Aim: 5 % for 1000 jobs on 2 cores."
    yield ""
    for measurement in measurements:
        yield from (provenance(measurement, measurement["rows"]), "")
        yield from table(
            ["jobs", "workers", "wall s", "s a job", "overhead %", "done", "resumed s", "known"],
            [
                [
                    r["jobs"],
                    r["workers"],
                    number(r["wall"], 1),
                    number(r["each"], 3),
                    number(100 * r["overhead"], 1),
                    r["done"],
                    number(r["resumed"], 1),
                    r["done_before"],
                ]
                for r in measurement["rows"]
            ],
        )
