"""Order lines that were taken in and lie on no plan: their job failed, or they were set aside."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

from nestlib.model import Plan

#: What ``intake.json`` says.
Record = Mapping[str, Any]
#: What tells a line from others; those of exports that name none are named by rows.
_Key = tuple[str, str]


def unplanned(intakes: Mapping[str, Record], plans: Iterable[Plan]) -> Iterator[dict[str, Any]]:
    """Return what is wanted and on no plan.

    Parameters
    ----------
    intakes : mapping
        Records of intakes by the names of their folders.
    plans : iterable of Plan
        They belong to an intake by the name of their job file.

    Yields
    ------
    dict
        ``line``, ``part``, ``quantity``, ``due``, ``metal`` and ``mm``, None where it is not
        known, and the ``reason`` in plain words. Each line is told once; one that was set
        aside is not told if it was taken in all the same, with another row or export. Rows
        that name neither line nor part are left out: sums, most often.
    """
    known = _planned(intakes, plans)
    for folder, record in intakes.items():
        for wanted in record.get("lines", ()):
            key = _key(folder, wanted["line"])
            if key not in known:
                known.add(key)
                yield {**wanted, "reason": "no plan holds it: its job was not nested, or failed"}
    for folder, record in intakes.items():
        for row in record.get("set_aside", ()):
            line = row.get("line") or f"row {row['row']}"
            key = _key(folder, line)
            if key not in known and (row.get("line") or row.get("part")):
                known.add(key)
                yield {**_NOT_READ, **row, "line": line, "reason": f"set aside: {row['reason']}"}


_NOT_READ = {"part": None, "quantity": None, "due": None, "metal": None, "mm": None}


def _planned(intakes: Mapping[str, Record], plans: Iterable[Plan]) -> set[_Key]:
    folder_of = {
        job["file"]: folder for folder, record in intakes.items() for job in record.get("jobs", ())
    }
    return {
        _key(folder_of.get(Path(plan.job.source).name, ""), order.line)
        for plan in plans
        for part in plan.job.parts
        for order in part.orders
    }


def _key(folder: str, line: str) -> _Key:
    return (folder if re.fullmatch(r"row \d+", line) else "", line)
