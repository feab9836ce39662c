"""Where compiled kernels are kept. Imported before numba wherever kernels are used."""

from __future__ import annotations

import os
from pathlib import Path

import platformdirs

_PACKAGE = Path(__file__).parent


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


def is_compiled(module: str, folder: Path) -> bool:
    """Return whether compiled kernels of a module (``"kernels"``) lie in or below a folder."""
    return any(folder.rglob(f"{module}.*.nbi"))


#: Chosen when this module is imported, that is before numba is.
CACHE_FOLDER = choose_cache_folder()
