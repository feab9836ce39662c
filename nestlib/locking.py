"""One at a time: a lock file in a folder that several runs may want to write to."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from nestlib.errors import OutputError, Problem

LOCK_FILE = ".nestlib.lock"


@contextmanager
def only_one(folder: str | Path) -> Iterator[None]:
    """Keep every other run out of a folder, which is made if need be.

    The operating system lets the lock go when its process ends, however it ends; the empty
    file may stay.

    Parameters
    ----------
    folder : str or Path
        The folder whose content is written.

    Raises
    ------
    OutputError
        If another run is at work in it, or it cannot be written.
    """
    from filelock import FileLock, Timeout

    folder = Path(folder)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        lock = FileLock(folder / LOCK_FILE, timeout=0)
        lock.acquire()
    except Timeout:
        problem = "another run of nestlib is at work in this folder"
        raise OutputError(str(Problem(str(folder), "", problem, "Wait until it is done"))) from None
    except OSError as error:
        reason = error.strerror or str(error)
        problem, remedy = f"cannot be written: {reason}", "Choose another folder"
        raise OutputError(str(Problem(str(folder), "", problem, remedy))) from None
    try:
        yield
    finally:
        lock.release()
