"""The steps of Alembic make the tables that the program expects, on both databases."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from sqlalchemy import create_engine, inspect, text

from nestlib.errors import StockError
from nestlib.stock import Rack, migrating
from nestlib.stock.migrating import newest
from nestlib.stock.tables import metadata


@pytest.mark.parametrize("kind", ["SQLite", "PostgreSQL"])
def test_steps_from_empty_make_the_tables(kind, tmp_path, request):
    """Alembic's own comparison of the database with the tables finds no difference."""
    place = str(tmp_path / "r.sqlite") if kind == "SQLite" else request.getfixturevalue("server")
    Rack(place)
    url = f"sqlite:///{place}" if kind == "SQLite" else place.replace(":", "+psycopg:", 1)
    engine = create_engine(url)
    with engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert context.get_current_revision() == newest()
        assert compare_metadata(context, metadata) == []
        names = {c["name"] for c in inspect(connection).get_check_constraints("entries")}
        assert names == {"ck_entries_kind"}
    engine.dispose()


def test_the_databases_refuse_what_the_program_never_writes(tmp_path):
    """A kind of entry that there is not, and an entry of an item that there is not."""
    Rack(str(tmp_path / "r.sqlite"))
    connection = sqlite3.connect(tmp_path / "r.sqlite")
    connection.execute("PRAGMA foreign_keys = ON")
    insert = "INSERT INTO entries (booking, item, kind, there, held, hold) VALUES (?,?,?,1,0,'')"
    with pytest.raises(sqlite3.IntegrityError, match="CHECK"):
        connection.execute(insert, ("k", 1, "lost"))
    with pytest.raises(sqlite3.IntegrityError, match="FOREIGN KEY"):
        connection.execute(insert, ("k", 1, "received"))
    connection.close()


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        ("UPDATE alembic_version SET version_num = '9999'", ["later version", "9999"]),
        ("DROP TABLE alembic_version", ["something else"]),
    ],
)
def test_tables_of_others_are_left_alone(spoil, words, tmp_path):
    """Neither a rack of a later version nor another program's tables are touched."""
    file = tmp_path / "r.sqlite"
    Rack(str(file))
    engine = create_engine(f"sqlite:///{file}")
    with engine.begin() as connection:
        connection.execute(text(spoil))
    engine.dispose()
    before = file.read_bytes()
    with pytest.raises(StockError) as refusal:
        Rack(str(file))
    assert all(word in str(refusal.value) for word in words), refusal.value
    assert file.read_bytes() == before


def test_an_older_rack_is_brought_up_to_date(tmp_path):
    """Items and entries of the first step stay as they are, numbers too, and can be moved."""
    file = tmp_path / "r.sqlite"
    engine = create_engine(f"sqlite:///{file}")
    config = Config()
    config.set_main_option("script_location", str(Path(migrating.__file__).parent / "migrations"))
    with engine.begin() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, "0001")
        connection.execute(text("INSERT INTO bookings VALUES ('k', '2030-01-01', '')"))
        item = "VALUES (5, 0, 'mild-steel', 2, 9, 9, 81, 1, 0, 'A3', NULL, '', '', '', '',"
        corners = '{"points": [[0, 0], [9, 0], [9, 9], [0, 9]], "bulges": [0, 0, 0, 0]}'
        insert = f"INSERT INTO items {item} '2030-01-01', NULL, :outline, '[]')"
        connection.execute(text(insert), {"outline": f"[{corners}]"})
        connection.execute(text("INSERT INTO entries VALUES (7, 'k', 5, 'received', 4, 0, '')"))
    engine.dispose()
    rack = Rack(str(file))
    assert [(i.code, i.there, i.place) for i in rack.items()] == [("S5", 4, "A3")]
    rack.move([5], "B2")
    assert [(e.id, e.kind, e.place) for e in rack.history()] == [
        (7, "received", None), (8, "moved", "B2"),
    ]  # fmt: skip
    assert rack.item(5).place == "B2"
