"""How the kernels are compiled.

Numba counts references to every array that is taken out of a named tuple. In the innermost
loops that cost three to eight times what the work itself costs, so kernels that allocate
nothing are compiled without it (`_nrt=False`); one that tries to allocate then fails to
compile. Copying slices allocates too: copy element by element.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import numpy as np

from nestlib import kernel_cache

assert kernel_cache.CACHE_FOLDER  # chosen before numba is imported

from numba import njit  # noqa: E402

Function = TypeVar("Function", bound=Callable[..., Any])


def allocating(function: Function) -> Function:
    """Compile a function that may allocate arrays."""
    compiled: Function = njit(cache=True, error_model="numpy", nogil=True)(function)
    return compiled


def kernel(function: Function) -> Function:
    """Compile a function that allocates nothing."""
    compiled: Function = njit(cache=True, error_model="numpy", nogil=True, _nrt=False)(function)
    return compiled


def inlined(function: Function) -> Function:
    """Compile a small function that allocates nothing into its callers."""
    compiled: Function = njit(
        cache=True, error_model="numpy", nogil=True, _nrt=False, forceinline=True
    )(function)
    return compiled


def summing(function: Function) -> Function:
    """Compile a function whose sums may be taken in any order, so that they are vectorised."""
    compiled: Function = njit(
        cache=True, error_model="numpy", nogil=True, _nrt=False, fastmath=True
    )(function)
    return compiled


@allocating
def grown(values: Any, rows: int, wanted: int) -> Any:
    """Return the first `rows` rows of a matrix in a new one with `wanted` rows.

    Copied in a loop, since slices take seconds to compile.
    """
    out = np.empty((wanted, values.shape[1]), dtype=values.dtype)
    for i in range(rows):
        for j in range(values.shape[1]):
            out[i, j] = values[i, j]
    return out
