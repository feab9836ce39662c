"""On what, with what and when a row was measured."""

from __future__ import annotations

import datetime
import os
import platform
import subprocess
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

#: Says which commit is measured where the folder is not a repository.
COMMIT_VARIABLE = "NESTLIB_COMMIT"

_LIBRARIES = ("numpy", "numba", "scipy", "shapely", "ortools")


def cores() -> list[int]:
    """Return the cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return sorted(os.sched_getaffinity(0))
    return list(range(os.cpu_count() or 1))


def machine() -> dict[str, Any]:
    """Return what the machine is, without its name."""
    return {
        "cores": len(cores()),
        "architecture": platform.machine(),
        "system": platform.system(),
    }


def versions() -> dict[str, str]:
    """Return the versions of Python and of the libraries that are there."""
    found = {"Python": platform.python_version()}
    for name in _LIBRARIES:
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            continue
    return found


def today() -> str:
    """Return the date, UTC."""
    return datetime.datetime.now(datetime.UTC).date().isoformat()


def commit() -> str:
    """Return the commit that is measured, with a + if the sources differ from it."""
    if told := os.environ.get(COMMIT_VARIABLE):
        return told
    root = Path(__file__).parents[1]
    try:
        name = _git(root, "rev-parse", "--short", "HEAD")
        changed = _git(root, "status", "--porcelain", "--", "nestlib")
    except (OSError, subprocess.CalledProcessError):
        return "unknown"
    return f"{name}+" if changed else name


def _git(root: Path, *arguments: str) -> str:
    done = subprocess.run(["git", *arguments], cwd=root, capture_output=True, text=True, check=True)
    return done.stdout.strip()
