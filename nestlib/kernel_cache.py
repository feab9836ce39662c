"""Where compiled kernels are kept, and from which sources they were compiled.

Imported before numba wherever kernels are used. Numba's cache sees that a kernel's own file
has changed, not that a file of a kernel it calls has. So the digest of all sources of
kernels is part of the name of each kernel, and thereby of its files in the cache: kernels
of other sources are never loaded, wherever the cache is and whoever else writes to it.
"""

from __future__ import annotations

import hashlib
import os
import time
from collections.abc import Callable, Iterable
from contextlib import suppress
from pathlib import Path
from typing import Any, TypeVar

import platformdirs

#: What is said while numba compiles, once on each machine.
COMPILING = "compiling kernels (first use)"

_PACKAGE = Path(__file__).parent

_Function = TypeVar("_Function", bound=Callable[..., Any])

#: Files that hold kernels, or what kernels are compiled from.
_SOURCES = ("engine/*.py", "packing/kernels*.py", "cutting/kernels*.py")

#: Kernels of other sources are removed from the cache after so many seconds: a week.
_KEPT = 7 * 24 * 3600.0


def choose_cache_folder() -> Path:
    """Return the folder of the compiled kernels, and tell numba about it.

    Next to the source if that can be written, otherwise in the user's cache folder; a
    folder that the user chose by ``NUMBA_CACHE_DIR`` is left alone.

    Returns
    -------
    pathlib.Path
    """
    if chosen := os.environ.get("NUMBA_CACHE_DIR"):
        return Path(chosen)
    if os.access(_PACKAGE, os.W_OK):
        return _PACKAGE
    folder = Path(platformdirs.user_cache_dir("nestlib")) / "kernels"
    os.environ["NUMBA_CACHE_DIR"] = str(folder)
    return folder


def digest(package: Path, patterns: Iterable[str] = _SOURCES) -> str:
    """Return what changes with every change of the sources of kernels.

    Parameters
    ----------
    package : pathlib.Path
        Folder of the package.
    patterns : iterable of str
        Which of its files count.

    Returns
    -------
    str
        Fit for a name.
    """
    found = hashlib.sha256()
    for path in sorted(p for pattern in patterns for p in package.glob(pattern)):
        source = path.read_bytes()
        found.update(f"{path.name} {len(source)} ".encode() + source)
    return f"nestlib_{found.hexdigest()[:16]}"


def compiled_from(
    sources: str, compiler: Callable[[_Function], Any], function: _Function
) -> _Function:
    """Compile a function under a name that holds the digest of all it is compiled from.

    Parameters
    ----------
    sources : str
        The digest.
    compiler : callable
        What ``numba.njit`` returns for some options, ``cache=True`` among them.
    function : callable
        What to compile.

    Returns
    -------
    callable
    """
    name = function.__qualname__
    function.__qualname__ = f"{sources}.{name}"
    try:
        compiled: _Function = compiler(function)
    finally:
        function.__qualname__ = name
    return compiled


def is_compiled(module: str, folder: Path) -> bool:
    """Return whether compiled kernels of a module (``"kernels"``) lie in or below a folder."""
    return any(folder.rglob(f"{module}.*.nbi"))


def ready(module: str) -> bool:
    """Return whether the kernels of a module are compiled from the sources of today.

    If they are not, those of other sources are removed from the cache when they are old.
    """
    if is_compiled(f"{module}.{SOURCES}", CACHE_FOLDER):
        return True
    remove_old(CACHE_FOLDER, SOURCES, time.time() - _KEPT)
    return False


def remove_old(folder: Path, sources: str, before: float) -> None:
    """Remove kernels of other sources, written before a time, from a folder and those below.

    Parameters
    ----------
    folder : pathlib.Path
        What other programs keep there is left alone.
    sources : str
        Digest of the sources whose kernels stay.
    before : float
        In seconds since the epoch.
    """
    for path in folder.rglob("*.nestlib_*.nb[ic]"):
        with suppress(OSError):  # another process was faster, or uses it
            if f".{sources}." not in path.name and path.stat().st_mtime < before:
                path.unlink()


#: Chosen when this module is imported, that is before numba is.
CACHE_FOLDER = choose_cache_folder()

#: Of the sources that are there when this module is imported.
SOURCES = digest(_PACKAGE)
