"""What one process does to the rack while others do the same and it may be killed any time.

Its log is the oracle: before each operation a line with its key and what is wanted, and a
line with the outcome after it. Whoever is killed between the two leaves an operation in
doubt; the process that takes its place repeats some of them under the same key.
"""

from __future__ import annotations

import json
import random
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

from nestlib.errors import StockError
from nestlib.model import Contour
from nestlib.stock import Booked, Item, Made, Rack, Wanted

Record = dict[str, Any]

#: Kinds and how often they come.
_MIX = {"receive": 2, "hold": 6, "release": 2, "use": 3, "count": 2, "scrap": 1}

#: All fight for the newest items, so that they meet.
_NEWEST = 12


def work(place: str, log: Path, seed: int, operations: int, note: Callable[[int], None]) -> None:
    """Do operations until the log holds so many.

    Parameters
    ----------
    place : str
        Of the rack.
    log : Path
        Of this process and those before it; it may exist.
    seed : int
        Of this process: another one for each that takes its place.
    operations : int
        How many there are in all.
    note : callable
        Told how many are done.
    """
    chance = random.Random(seed)
    rack = Rack(place)
    there = read_log(log)
    holds = _holds(there)
    done = len({line["key"] for line in there})
    doubt = in_doubt(there)
    if doubt and chance.random() < 0.7:
        _do(rack, log, doubt[-1], holds)
    while done < operations:
        wanted = _wanted(rack, chance, f"{log.stem}-{done}", holds)
        _append(log, wanted)
        done += 1
        _do(rack, log, wanted, holds)
        note(done)


def read_log(log: Path) -> list[Record]:
    """Return the whole lines of a log; the last may be torn."""
    found = []
    for line in log.read_text().splitlines() if log.exists() else ():
        with suppress(ValueError):
            found.append(json.loads(line))
    return found


def in_doubt(lines: list[Record]) -> list[Record]:
    """Return what was wanted and has no outcome."""
    outcomes = {line["key"] for line in lines if "outcome" in line}
    return [line for line in lines if "kind" in line and line["key"] not in outcomes]


def _append(log: Path, record: Record) -> None:
    """Add a line by one write, beginning a new one if the last was torn."""
    torn = log.exists() and not log.read_bytes().endswith(b"\n")
    with log.open("ab", buffering=0) as file:
        file.write(b"\n" * torn + json.dumps(record).encode() + b"\n")


def _holds(lines: list[Record]) -> dict[str, dict[int, int]]:
    """What is held for names of this process, as far as it knows."""
    outcome = {line["key"]: line["outcome"] for line in lines if "outcome" in line}
    holds: dict[str, dict[int, int]] = {}
    for line in lines:
        if outcome.get(line["key"]) == "done" and "kind" in line:
            _follow(line, holds)
    return holds


def _follow(wanted: Record, holds: dict[str, dict[int, int]]) -> None:
    if wanted["kind"] == "hold":
        holds[wanted["hold"]] = {int(k): v for k, v in wanted["items"].items()}
    elif wanted["kind"] in ("release", "use"):
        holds.pop(wanted["hold"], None)


def _wanted(
    rack: Rack, chance: random.Random, key: str, holds: dict[str, dict[int, int]]
) -> Record:
    """Choose what to do next."""
    kind = chance.choices(list(_MIX), list(_MIX.values()))[0]
    newest = rack.items(Wanted())[-_NEWEST:]
    if kind in ("release", "use") and holds:
        hold = chance.choice(sorted(holds))
        items = {str(k): v for k, v in holds[hold].items()}
        return {"key": key, "kind": kind, "hold": hold, "items": items}
    if kind == "receive" or len(newest) < 3:
        return {"key": key, "kind": "receive", "quantity": chance.randint(1, 6)}
    if kind in ("count", "scrap"):
        item = chance.choice(newest)
        found = max(0, item.there + chance.choice((-1, 0, 0, 1)))
        return {"key": key, "kind": kind, "item": item.id, "found": found, "quantity": 1}
    some = chance.sample(newest, chance.randint(1, 3))
    items = {str(item.id): chance.randint(1, 2) for item in some}
    return {"key": key, "kind": "hold", "hold": key, "items": items}


def _do(rack: Rack, log: Path, wanted: Record, holds: dict[str, dict[int, int]]) -> None:
    try:
        booked = _book(rack, wanted)
    except StockError as error:
        _append(log, {"key": wanted["key"], "outcome": "refused", "why": str(error)})
        return
    _append(log, {"key": wanted["key"], "outcome": "done", "fresh": booked.fresh})
    _follow(wanted, holds)


def _book(rack: Rack, wanted: Record) -> Booked:
    key, kind = wanted["key"], wanted["kind"]
    items = {int(k): v for k, v in wanted.get("items", {}).items()}
    if kind == "receive":
        return rack.receive(_sheet(), wanted["quantity"], key=key)
    if kind == "hold":
        return rack.hold(wanted["hold"], items, key=key)
    if kind == "release":
        return rack.release(wanted["hold"], key=key)
    if kind == "use":
        return rack.use(
            wanted["hold"], items, [Made(_rest(n), c) for n, c in items.items()], key=key
        )
    if kind == "count":
        return rack.count(wanted["item"], wanted["found"], key=key)
    return rack.scrap(wanted["item"], wanted["quantity"], key=key)


def _sheet() -> Item:
    return Item("mild-steel", 2.0, Contour.rectangle(1000, 500), price=22.0)


def _rest(parent: int) -> Item:
    return Item("mild-steel", 2.0, Contour.rectangle(300, 500), remnant=True, parent=parent)
