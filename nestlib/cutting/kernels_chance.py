"""Chance for kernels: a state that is kept between calls, so that it never depends on the clock.

References
----------
G. Marsaglia, "Xorshift RNGs", Journal of Statistical Software 8 (2003), issue 14.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from nestlib.cutting.kernels_compiling import njit


def seeded(seed: int) -> np.ndarray:
    """Return the state for a seed: one number that is never zero."""
    mixed = np.random.SeedSequence(seed).generate_state(1, np.uint64)
    return np.maximum(mixed, np.uint64(1))


@njit
def below(state: NDArray[np.uint64], most: int) -> Any:
    """Return a whole number from 0 to below `most`, and move the state on."""
    x = state[0]
    x ^= x << np.uint64(13)
    x ^= x >> np.uint64(7)
    x ^= x << np.uint64(17)
    state[0] = x
    return np.int64((x >> np.uint64(11)) % np.uint64(most))
