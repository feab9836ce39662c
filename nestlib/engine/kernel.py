"""How the kernels are compiled.

Numba counts references to every array that is taken out of a named tuple. In the innermost
loops that cost three to eight times what the work itself costs, so kernels that allocate
nothing are compiled without it (`_nrt=False`); one that tries to allocate then fails to
compile. Copying slices allocates too: copy element by element. That option is not part of
numba's documented interface: a numba without it compiles the same kernels with counting.

A change of any file of this package makes all kernels be compiled anew, since constants and
small kernels are compiled into others (`nestlib.kernel_cache`).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import numpy as np

from nestlib import kernel_cache

assert kernel_cache.CACHE_FOLDER  # chosen before numba is imported

from numba import njit  # noqa: E402
from numba.core.registry import cpu_target  # noqa: E402

Function = TypeVar("Function", bound=Callable[..., Any])


def _known(**options: Any) -> dict[str, Any]:
    """Return the options that this numba has; those it lacks only make kernels slower."""
    known = cpu_target.options
    return {name: value for name, value in options.items() if hasattr(known, name)}


_COMMON: dict[str, Any] = {"cache": True, "error_model": "numpy", "nogil": True}
_COMMON |= _known(no_cfunc_wrapper=True)  # nobody passes kernels as callbacks
_UNCOUNTED = {**_COMMON, **_known(_nrt=False)}
_INLINED = {**_UNCOUNTED, **_known(forceinline=True)}


def _compiled(function: Function, **options: Any) -> Function:
    return kernel_cache.compiled_from(kernel_cache.SOURCES, njit(**options), function)


def allocating(function: Function) -> Function:
    """Compile a function that may allocate arrays."""
    return _compiled(function, **_COMMON)


def kernel(function: Function) -> Function:
    """Compile a function that allocates nothing."""
    return _compiled(function, **_UNCOUNTED)


def inlined(function: Function) -> Function:
    """Compile a small function that allocates nothing into its callers."""
    return _compiled(function, **_INLINED)


def summing(function: Function) -> Function:
    """Compile a function whose sums may be taken in any order, so that they are vectorised."""
    return _compiled(function, **_UNCOUNTED, fastmath=True)


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
