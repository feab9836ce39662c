"""Fills can be told apart by people who see colours otherwise, and without colours."""

from __future__ import annotations

from itertools import combinations, pairwise

import numpy as np
import pytest
from colorspacious import cspace_convert, deltaE

from nestlib.reporting.palette import HATCHES, PALETTE, fill

RGB = np.array([[int(c[i : i + 2], 16) / 255 for i in (1, 3, 5)] for c in PALETTE])


@pytest.mark.parametrize("kind", ["all", "deuteranomaly", "protanomaly", "tritanomaly"])
def test_colours_differ_for_all_kinds_of_sight(kind):
    """Each kind in full, simulated as in Machado, Oliveira and Fernandes (IEEE TVCG 15, 2009),
    by the library colorspacious: any two colours of the same hatch differ by 10 in CAM02-UCS
    (Luo, Cui and Li, 2006), and any two at all by 5, where 1 can just be seen."""
    seen = RGB
    if kind != "all":
        sight = {"name": "sRGB1+CVD", "cvd_type": kind, "severity": 100}
        seen = np.clip(cspace_convert(RGB, sight, "sRGB1"), 0, 1)
    for i, j in combinations(range(len(PALETTE)), 2):
        least = 10 if fill(i)[1] == fill(j)[1] else 5
        assert deltaE(seen[i], seen[j], input_space="sRGB1") > least, (i, j)


def test_neighbours_differ_in_lightness():
    """Fills that follow each other, the first after the last too, differ by 8 % or more in
    luminance (ITU-R BT.709 weights, recalled from memory), so they differ in grey."""
    grey = RGB @ (0.2126, 0.7152, 0.0722)
    assert all(abs(a - b) >= 0.08 for a, b in pairwise([*grey, grey[0]]))


def test_as_many_parts_look_different_as_there_are_pairs_of_colour_and_hatch():
    """And neighbours never have the same hatch."""
    fills = [fill(i) for i in range(len(PALETTE) * len(HATCHES))]
    assert len(set(fills)) == len(PALETTE) * len(HATCHES)
    assert all(a[1] != b[1] for a, b in pairwise(fills))
