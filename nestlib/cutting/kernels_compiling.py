"""How the kernels of this package are compiled; `nestlib.kernel_cache` says why so."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

from nestlib import kernel_cache

assert kernel_cache.CACHE_FOLDER  # chosen before numba is imported

import numba  # noqa: E402

_Function = TypeVar("_Function", bound=Callable[..., Any])


def njit(function: _Function) -> _Function:
    """Compile a function; its result is kept in a file and used by later processes."""
    compiler = numba.njit(cache=True, error_model="numpy")
    return kernel_cache.compiled_from(kernel_cache.SOURCES, compiler, function)
