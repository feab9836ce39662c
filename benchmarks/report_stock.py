"""The section of the page of results about the rack."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from benchmarks.markdown import number, provenance, table

_FIRE = (
    *("database", "processes", "operations", "done", "refused", "killed", "in doubt"),
    *("lost or booked twice", "took s"),
)


def stock(measurements: list[dict[str, Any]]) -> Iterator[str]:
    """Return the section about the rack."""
    yield "Processes hold, release, use, count, scrap and add sheets of the same few items of one"
    yield "rack, are ended by SIGKILL at random times and replaced at once. Afterwards every"
    yield "quantity is worked out again from the entries by plain SQL and compared, booking by"
    yield "booking, with what the processes wrote down themselves. Refused: what was wanted was"
    yield "not free. In doubt: killed between what was wanted and what came of it; such an"
    yield "operation has to be in the ledger wholly or not at all."
    yield ""
    for measurement in measurements:
        rows = measurement["rows"]
        yield from (provenance(measurement, rows), "")
        yield from table(
            _FIRE,
            [
                [
                    r["database"],
                    r["processes"],
                    r["wanted"],
                    r["done"],
                    r["refused"],
                    r["killed"],
                    r["doubt"],
                    len(r["faults"]),
                    number(r["seconds"], 0),
                ]
                for r in rows
                if r["test"] == "fire"
            ],
        )
        yield "Seconds of the whole answer on a rack of many different items, median and least of"
        yield "five: other work on the same cores only adds to them. Of a core: in the process that"
        yield "asks, which is all that SQLite needs."
        yield ""
        yield from table(
            ["database", "items", "list", "found", "median s", "least s", "of a core s"],
            [
                [
                    *(r["database"], r["sheets"], r["test"], r["found"]),
                    *(number(r[key], 3) for key in ("seconds", "least", "processor")),
                ]
                for r in rows
                if r["test"] != "fire"
            ],
        )
