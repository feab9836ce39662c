"""How long a rack of a hundred thousand items takes to be listed and filtered."""

from __future__ import annotations

import random
import time
from collections.abc import Iterator
from statistics import median
from typing import Any

from sqlalchemy import Connection

from nestlib.stock import Rack, Wanted
from nestlib.stock.database import Database
from nestlib.stock.tables import bookings, entries, items

_METALS = ("mild-steel", "stainless-304", "aluminium-5052", "copper")
_THICKNESSES = (1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0)
_SIZES = ((2000, 1000), (2500, 1250), (3000, 1500))
_TURNS = 5

QUERIES = {
    "all": Wanted(),
    "metal and thickness": Wanted(metal="mild-steel", thickness=3.0),
    "remnants that fit": Wanted(remnant=True, fits=(700, 400), free=True),
    "place": Wanted(place="a7"),
    "document 3.1 or better": Wanted(document="3.1", metal="stainless-304"),
    "held for one plan": Wanted(hold="plan 11"),
}


def listing(place: str, count: int, seed: int) -> Iterator[dict[str, Any]]:
    """Fill an empty rack and list it.

    Parameters
    ----------
    place : str
        Of the rack.
    count : int
        How many items.
    seed : int
        Of what they are.

    Yields
    ------
    dict
        Name of a query, how many items it found, its seconds by the clock (median and
        least), and the least of the processor in this process.
    """
    Database(place).write(lambda connection: _fill(connection, count, random.Random(seed)))
    rack = Rack(place)
    for name, wanted in QUERIES.items():
        seconds, processor = [], []
        for _ in range(_TURNS):
            began, used = time.perf_counter(), time.process_time()
            found = len(rack.items(wanted))
            seconds.append(time.perf_counter() - began)
            processor.append(time.process_time() - used)
        times = {
            "seconds": round(median(seconds), 3),
            "least": round(min(seconds), 3),
            "processor": round(min(processor), 3),
        }
        yield {"query": name, "found": found, **times}


def _fill(connection: Connection, count: int, chance: random.Random) -> None:
    """One item in three is a remnant; one in ten is held."""
    connection.execute(bookings.insert(), {"key": "all", "at": "2030-01-01", "note": ""})
    connection.execute(items.insert(), [_item(i, chance) for i in range(1, count + 1)])
    lines = [_entry(i, "received", there=chance.randint(1, 5)) for i in range(1, count + 1)]
    lines += [_entry(i, "held", held=1, hold=f"plan {i % 1000}") for i in range(1, count + 1, 10)]
    connection.execute(entries.insert(), lines)


def _entry(item: int, kind: str, there: int = 0, held: int = 0, hold: str = "") -> dict[str, Any]:
    words = {"booking": "all", "item": item, "kind": kind}
    return {**words, "there": there, "held": held, "hold": hold}


def _item(number: int, chance: random.Random) -> dict[str, Any]:
    remnant = number % 3 == 0
    width, height = map(float, chance.choice(_SIZES))
    if remnant:
        width, height = width * chance.uniform(0.1, 0.7), height * chance.uniform(0.3, 1.0)
    corners = [[0, 0], [width, 0], [width, height], [0, height]]
    return {
        "id": number,
        "remnant": remnant,
        "metal": chance.choice(_METALS),
        "thickness": chance.choice(_THICKNESSES),
        "width": width,
        "height": height,
        "area": width * height,
        "usable": (width - 20) * (height - 20),
        "grain": 0.0,
        "place": f"{chance.choice('ABCDEF')}{chance.randint(1, 40)}",
        "price": width * height * 2e-5,
        "currency": "EUR",
        "lot": f"L{number % 500}",
        "heat": f"H{number % 2000}",
        "document": chance.choice(("", "2.2", "3.1", "3.2")),
        "since": "2030-01-01",
        "parent": None,
        "outline": str([[corners, [0, 0, 0, 0]]]),
        "holes": "[]",
    }
