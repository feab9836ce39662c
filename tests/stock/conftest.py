"""An empty rack, in a file or on a server, and a sheet for it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from uuid import uuid4

import psycopg
import pytest

from benchmarks.postgres_server import postgres_server, programs
from nestlib.model import Contour
from nestlib.stock import Item, Rack


@pytest.fixture
def rack(tmp_path: Path) -> Rack:
    """A rack in a file."""
    return Rack(str(tmp_path / "rack.sqlite"))


@pytest.fixture
def sheet() -> Item:
    """2 mm of mild steel with all its papers."""
    return Item(
        "mild-steel",
        2.0,
        Contour.rectangle(1000, 500),
        place="A3",
        price=22.0,
        currency="EUR",
        lot="L7",
        heat="H4711",
        document="3.1",
    )


@pytest.fixture
def server(running_server: str) -> str:
    """The URL of an empty database on a PostgreSQL server."""
    name = f"rack_{uuid4().hex}"
    with psycopg.connect(running_server, autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name}")
    return f"{running_server.rsplit('/', 1)[0]}/{name}"


@pytest.fixture(scope="session")
def running_server() -> Iterator[str]:
    """A server that runs as long as the tests."""
    if programs() is None:
        pytest.skip("PostgreSQL is not installed (Debian package postgresql)")
    with postgres_server() as url:
        yield url
