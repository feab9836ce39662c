"""An empty rack, in a file or on a server, and a sheet for it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

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


@pytest.fixture(scope="session")
def server() -> Iterator[str]:
    """The URL of a PostgreSQL server that runs as long as the tests."""
    if programs() is None:
        pytest.skip("PostgreSQL is not installed (Debian package postgresql)")
    with postgres_server() as url:
        yield url
