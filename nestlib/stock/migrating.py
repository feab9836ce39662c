"""From an empty database, or that of an older version, to the tables of this one."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, inspect, text

from nestlib.errors import Problem, StockError

#: Any number, the same in every program: who migrates on PostgreSQL holds this lock.
_LOCK = 4_711_006


def is_up_to_date(connection: Connection) -> bool:
    """Return whether all steps were run: then nobody has to wait for a lock."""
    return _step_of(connection) == newest()


def is_empty(connection: Connection) -> bool:
    """Return whether nothing at all is in the database: then there is no rack yet."""
    return not inspect(connection).get_table_names()


def migrate(connection: Connection) -> None:
    """Run the steps that are missing, within the transaction of the connection.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        To a database that is empty or holds a rack.

    Raises
    ------
    StockError
        If a later version of the program made it, or it holds something else.
    """
    if connection.dialect.name == "postgresql":
        connection.execute(text(f"SELECT pg_advisory_xact_lock({_LOCK})"))
    step = _step_of(connection)  # another may have been first
    _demand_ours(connection, step)
    if step != newest():
        config = _config()
        config.attributes["connection"] = connection
        command.upgrade(config, "head")


def newest() -> str:
    """Return the name of the last step.

    Examples
    --------
    >>> newest()
    '0002'
    """
    return _scripts().get_current_head() or ""


def _config() -> Config:
    config = Config()
    folder = Path(__file__).with_name("migrations")
    config.set_main_option("script_location", str(folder).replace("%", "%%"))
    return config


@cache
def _scripts() -> ScriptDirectory:
    return ScriptDirectory.from_config(_config())


def _step_of(connection: Connection) -> str | None:
    return MigrationContext.configure(connection).get_current_revision()


def _demand_ours(connection: Connection, step: str | None) -> None:
    """Refuse a rack of a later version, and tables of somebody else."""
    if step is not None and step not in {s.revision for s in _scripts().walk_revisions()}:
        problem = f"the rack was made by a later version, or not by nestlib (step {step})"
        raise StockError(Problem("", "", problem, "Use the version that made it"))
    if step is None and inspect(connection).get_table_names():
        problem = "the database holds tables of something else"
        raise StockError(Problem("", "", problem, "Give a database of its own to the rack"))
