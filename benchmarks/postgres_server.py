"""A PostgreSQL server for a while: in a temporary folder, on a free port, under no root."""

from __future__ import annotations

import os
import pwd
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

#: Where Debian keeps the programs that are not meant for everybody.
_DEBIAN = "/usr/lib/postgresql"

#: Who may run the server where root must not; the first that there is.
_USERS = ("postgres", "nobody")

_PATIENCE = 60.0


def programs() -> Path | None:
    """Return the folder of ``initdb`` and ``postgres``; None if they are not installed."""
    found = shutil.which("initdb")
    if found and shutil.which("postgres"):
        return Path(found).parent
    folders = sorted(Path(_DEBIAN).glob("*/bin/initdb"), key=lambda p: float(p.parts[-3]))
    return folders[-1].parent if folders else None


@contextmanager
def postgres_server() -> Iterator[str]:
    """Run a server of its own, with nothing in it.

    Yields
    ------
    str
        URL of its database.

    Raises
    ------
    FileNotFoundError
        If PostgreSQL is not installed.
    """
    folder = programs()
    if folder is None:
        raise FileNotFoundError("PostgreSQL is not installed (Debian package postgresql)")
    user = _user()
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as home:
        if user is not None:
            os.chown(home, user.pw_uid, user.pw_gid)
        data, port = f"{home}/data", _free_port()
        made = (folder / "initdb", "-D", data, "-A", "trust", "-U", "nestlib", "-E", "UTF8", "-N")
        _run(made, home, user)
        server = subprocess.Popen(
            [folder / "postgres", "-D", data, "-k", home, "-h", "127.0.0.1", "-p", str(port)],
            cwd=home,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            **_as(user),
        )
        try:
            _await(port, server)
            yield f"postgresql://nestlib@127.0.0.1:{port}/postgres"
        finally:
            server.send_signal(signal.SIGINT)  # those still connected are cut off
            server.wait()


def _user() -> pwd.struct_passwd | None:
    """Who runs the server; None for whoever is running this."""
    if os.geteuid() != 0:
        return None
    known = {entry.pw_name: entry for entry in pwd.getpwall()}
    return next(known[name] for name in _USERS if name in known)


def _as(user: pwd.struct_passwd | None) -> dict[str, Any]:
    if user is None:
        return {}
    return {"user": user.pw_uid, "group": user.pw_gid, "extra_groups": []}


def _run(command: tuple[object, ...], home: str, user: pwd.struct_passwd | None) -> None:
    words = [str(word) for word in command]
    subprocess.run(words, cwd=home, check=True, capture_output=True, **_as(user))


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _await(port: int, server: subprocess.Popen[bytes]) -> None:
    """Wait until the server answers."""
    import psycopg

    until = time.monotonic() + _PATIENCE
    while True:
        try:
            psycopg.connect(f"postgresql://nestlib@127.0.0.1:{port}/postgres").close()
            return
        except psycopg.OperationalError:
            if server.poll() is not None or time.monotonic() > until:
                raise
            time.sleep(0.1)
