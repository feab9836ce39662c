"""The queue of what a descent still has to look at: a stack that holds everything once."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from nestlib.cutting.kernels_compiling import njit


@njit
def push(queue: NDArray[Any], queued: NDArray[np.bool_], count: int, c: Any) -> int:
    """Put `c` on top of the `count` in the queue, unless it is there; return the new count."""
    if not queued[c]:
        queued[c] = True
        queue[count] = c
        return count + 1
    return count
