"""Whoever gets the lock of an item sees what others have done with it."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest
from sqlalchemy import text

from nestlib.errors import StockError
from nestlib.stock import Item, Rack
from nestlib.stock.database import Database


def test_the_usual_level_of_a_server_does_not_matter(server):
    """With a snapshot from before the lock, two would both see the last sheet as free."""
    role = Database(server)
    role.write(lambda c: c.execute(text(_LEVEL.format("'repeatable read'"))))
    try:
        shown = Database(server).write(
            lambda c: c.execute(text("SHOW transaction_isolation")).scalar()
        )
        assert shown == "read committed"
    finally:
        role.write(lambda c: c.execute(text(_LEVEL.format("DEFAULT"))))


_LEVEL = "ALTER ROLE nestlib SET default_transaction_isolation = {}"


@pytest.mark.parametrize("kind", ["SQLite", "PostgreSQL"])
def test_the_last_sheet_goes_to_one_of_many(kind, sheet: Item, tmp_path: Path, request):
    """Eight ask for it at the same moment: one gets it, seven are told that it is gone."""
    place = str(tmp_path / "r.sqlite") if kind == "SQLite" else request.getfixturevalue("server")
    number = Rack(place).receive(sheet, 1).entries[0].item
    start, got = threading.Barrier(8), []

    def ask(name: str) -> None:
        rack = Rack(place)
        start.wait()
        try:
            got.append(rack.hold(name, {number: 1}).fresh)
        except StockError as refusal:
            got.append(str(refusal))

    asking = [threading.Thread(target=ask, args=(f"plan {i}",)) for i in range(8)]
    for thread in asking:
        thread.start()
    for thread in asking:
        thread.join()
    assert got.count(True) == 1
    assert sum("0 free" in str(answer) for answer in got) == 7
