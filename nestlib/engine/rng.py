"""Random numbers whose whole state is one number the caller holds.

SplitMix64: G. L. Steele, D. Lea, C. H. Flood, "Fast splittable pseudorandom number
generators", OOPSLA 2014.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from nestlib.engine.kernel import inlined

Stream = NDArray[np.uint64]


def stream(*seeds: int) -> Stream:
    """Return the state of a stream of its own, shape (1,).

    Zeros at the end of a seed are ignored, as numpy does: streams that must differ need
    seeds of the same length.

    Examples
    --------
    >>> bool(stream(7) == stream(7, 0)), bool(stream(7) == stream(0, 7))
    (True, False)
    """
    return np.array(np.random.SeedSequence(seeds).generate_state(1, np.uint64), dtype=np.uint64)


@inlined
def uniform(rng: Stream) -> float:
    """Return the next number of a stream, 0 <= u < 1."""
    rng[0] += np.uint64(0x9E3779B97F4A7C15)
    z = rng[0]
    z = (z ^ (z >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    z = (z ^ (z >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    z = z ^ (z >> np.uint64(31))
    return float(z >> np.uint64(11)) * (1.0 / 9007199254740992.0)
