"""Is not one sheet lost or booked twice? By plain SQL, without anything of `nestlib`.

Every quantity is worked out again from the entries, one after the other, and the bookings
are compared with what the processes wrote down themselves.
"""

from __future__ import annotations

import sqlite3
from collections import defaultdict
from collections.abc import Iterator, Sequence
from typing import Any

Record = dict[str, Any]

_ENTRIES = "SELECT booking, item, kind, there, held, hold FROM entries ORDER BY id"
_KEYS = "SELECT key FROM bookings"


def rows(place: str, query: str) -> list[tuple[Any, ...]]:
    """Return the rows of a query, from a file or from PostgreSQL."""
    if "://" not in place:
        connection = sqlite3.connect(f"file:{place}?mode=ro", uri=True, timeout=30)
        try:
            return list(connection.execute(query))
        finally:
            connection.close()
    import psycopg

    with psycopg.connect(place) as server:
        return list(server.execute(query))


def quantities(place: str) -> dict[int, tuple[int, int]]:
    """Return how many pieces of each item there are and are held, from the entries."""
    found: dict[int, list[int]] = defaultdict(lambda: [0, 0])
    for _, item, _, there, held, _ in rows(place, _ENTRIES):
        found[item][0] += there
        found[item][1] += held
    return {item: (there, held) for item, (there, held) in found.items()}


def faults(place: str, lines: Sequence[Record]) -> list[str]:
    """Return everything that is wrong.

    Parameters
    ----------
    place : str
        Path of a file or URL.
    lines : sequence of dict
        The logs of all processes.

    Returns
    -------
    list of str
        Empty if not one sheet was lost or booked twice.
    """
    wanted = {line["key"]: line for line in lines if "kind" in line}
    outcome = {line["key"]: line["outcome"] for line in lines if "outcome" in line}
    by_key: dict[str, list[tuple[Any, ...]]] = {key: [] for (key,) in rows(place, _KEYS)}
    for key, *entry in rows(place, _ENTRIES):
        by_key.setdefault(key, []).append(tuple(entry))
    return [
        *_compared(set(by_key), wanted, outcome),
        *(
            fault
            for key in by_key
            if key in wanted
            for fault in _as_wanted(wanted[key], by_key[key])
        ),
        *_running(rows(place, _ENTRIES), wanted),
    ]


def _compared(keys: set[str], wanted: Record, outcome: dict[str, str]) -> Iterator[str]:
    """What is booked is what was said to be done; in doubt, it may be either."""
    for key in sorted(keys - set(wanted)):
        yield f"{key}: booked, and nobody wanted it"
    for key, said in outcome.items():
        if said == "done" and key not in keys:
            yield f"{key}: said to be done, and lost"
        if said == "refused" and key in keys:
            yield f"{key}: refused, and booked"


def _as_wanted(wanted: Record, entries: list[tuple[Any, ...]]) -> Iterator[str]:
    """A booking holds what was wanted: all of it and once."""
    kind, items = wanted["kind"], {int(k): v for k, v in wanted.get("items", {}).items()}
    got = sorted((item, what, there, held) for item, what, there, held, _ in entries)
    if kind == "receive":
        right = [e[1:] for e in got] == [("received", wanted["quantity"], 0)]
    elif kind == "hold":
        right = got == sorted((i, "held", 0, n) for i, n in items.items())
    elif kind == "release":
        right = got == sorted((i, "released", 0, -n) for i, n in items.items())
    elif kind == "use":
        used = [e[:3] for e in got if e[1] == "used"]
        made = sorted(e[2] for e in got if e[1] == "remnant made")
        right = used == sorted((i, "used", -n) for i, n in items.items())
        right = right and made == sorted(items.values()) and len(got) == 2 * len(items)
    elif kind == "count":
        right = [e[:2] for e in got] == [(wanted["item"], "counted")] and got[0][3] == 0
    else:
        right = got == [(wanted["item"], "scrapped", -wanted["quantity"], 0)]
    if not right:
        yield f"{wanted['key']}: {kind} was booked as {got}"


def _running(entries: list[tuple[Any, ...]], wanted: Record) -> Iterator[str]:
    """At no time fewer than none, more held than there, or another number than counted.

    What is used was held for that, as far as anything was.
    """
    there: dict[int, int] = defaultdict(int)
    held: dict[int, int] = defaultdict(int)
    of_hold: dict[tuple[int, str], int] = defaultdict(int)
    for key, item, kind, more, more_held, hold in entries:
        if kind == "used" and more_held != -min(-more, of_hold[item, hold]):
            yield f"{key}: used {-more} of item {item}, and {-more_held} of them were held"
        there[item] += more
        held[item] += more_held
        of_hold[item, hold] += more_held
        if not 0 <= held[item] <= there[item] or of_hold[item, hold] < 0:
            yield f"{key}: item {item} has {there[item]} pieces, {held[item]} of them held"
        if kind == "counted" and key in wanted and there[item] != wanted[key]["found"]:
            yield f"{key}: {wanted[key]['found']} of item {item} counted, {there[item]} booked"
