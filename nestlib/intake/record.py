"""What was taken in, as plain data: ``intake.json``, by which the folder is known.

It holds no time of day, so that the same export makes the same file.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from nestlib.intake.lines import Wanted

RECORD_FILE = "intake.json"
FORMAT, VERSION = "nestlib-intake", 1


def wanted_record(row: Wanted) -> dict[str, Any]:
    """Return what an order line wants, as the record keeps it."""
    return {
        "line": row.line,
        "part": row.part,
        "quantity": row.quantity,
        "metal": row.metal,
        "mm": row.mm,
        "due": row.due.isoformat() if row.due else None,
    }


def read_record(folder: Path) -> dict[str, Any] | None:
    """Return the record of a folder; None if it is no folder of an intake."""
    try:
        record = json.loads((folder / RECORD_FILE).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    right = isinstance(record, dict) and record.get("format") == FORMAT
    return record if right else None


def unfit_before(folder: Path) -> dict[int, str]:
    """Return the rows of a folder whose drawings were found unfit when it was made, and why."""
    record = read_record(folder) or {}
    aside = {row["row"]: row["reason"] for row in record.get("set_aside", ())}
    return {row: aside[row] for row in record.get("unfit", ()) if row in aside}


def taken_before(folder: Path) -> dict[str, tuple[str, dict[str, Any]]]:
    """Return the order lines that were taken in beside a folder.

    Returns
    -------
    dict
        From the line to the export it came from, and what it wanted.
    """
    found: dict[str, tuple[str, dict[str, Any]]] = {}
    others = sorted(folder.parent.glob(f"*/{RECORD_FILE}")) if folder.parent.is_dir() else []
    for path in others:
        record = read_record(path.parent) if path.parent != folder else None
        for wanted in (record or {}).get("lines", ()):
            found.setdefault(wanted["line"], (record["export"], wanted))  # type: ignore[index]
    return found


def aside_before(folder: Path) -> set[str]:
    """Return the reasons for which rows were set aside beside a folder, with what they name."""
    records = (read_record(path.parent) for path in folder.parent.glob(f"*/{RECORD_FILE}"))
    return {aside_key(aside) for record in records for aside in (record or {}).get("set_aside", ())}


def aside_key(aside: Mapping[str, Any]) -> str:
    """Return what tells two rows apart that were set aside, in whichever row they stand."""
    return json.dumps([aside.get(key) for key in ("line", "part", "quantity", "reason")])


def not_taken_before(
    rows: Iterable[Wanted], before: Mapping[str, tuple[str, dict[str, Any]]]
) -> tuple[list[Wanted], list[Wanted], list[tuple[Wanted, str]]]:
    """Return rows that are new, rows that were taken in before, and rows that have changed.

    Returns
    -------
    new, known, changed : list
        The last ones with the reason in plain words.
    """
    new, known, changed = list[Wanted](), list[Wanted](), list[tuple[Wanted, str]]()
    for row in rows:
        if row.line not in before:
            new.append(row)
            continue
        export, wanted = before[row.line]
        now = wanted_record(row)
        differs = ", ".join(key for key in now if now[key] != wanted.get(key))
        if differs:
            reason = f"order line {row.line} was taken in from {export} with another {differs}"
            changed.append((row, reason))
        else:
            known.append(row)
    return new, known, changed
