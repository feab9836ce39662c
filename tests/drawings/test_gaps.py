"""What is proposed for an open contour is what closes it."""

from __future__ import annotations

import re

import pytest

from fixtures.plain_dxf import dxf, polyline
from nestlib.drawings import read_drawing


def opened(folder, *chains, join=0.05):
    """The findings about open contours of lines, and how many parts there are."""
    (folder / "x.dxf").write_text(dxf(*(polyline(c, closed=False) for c in chains)))
    drawing = read_drawing(folder / "x.dxf", join=join)
    return [f for f in drawing.findings if f.code == "open-contour"], len(drawing.parts)


def plate(gap):
    """A plate whose last corner is missed by so much."""
    return [(0, 0), (80, 0), (80, 50), (0, 50), (0, gap)]


@pytest.mark.parametrize("gap", [0.06, 0.12, 0.5, 0.94, 0.995])
def test_a_joining_distance_that_is_proposed_closes_the_gap(gap, tmp_path):
    """And it is the next number of one digit."""
    (found,), parts = opened(tmp_path, plate(gap))
    assert parts == 0
    join = float(re.search(r"--join ([\d.]+)", found.remedy)[1])
    assert gap < join <= gap + 10 ** int(f"{gap:e}".split("e")[1]) + 1e-9
    assert opened(tmp_path, plate(gap), join=join) == ([], 1)


def test_two_halves_are_joined_at_both_ends(tmp_path):
    """Ends of each half are far from one another, and near those of the other half."""
    halves = [(0, 0), (80, 0), (80, 49.8)], [(79.9, 50), (0, 50), (0, 0.3)]
    found, _ = opened(tmp_path, *halves)
    assert ["--join 0.4" in f.remedy for f in found] == [True, True]
    assert opened(tmp_path, *halves, join=0.4) == ([], 1)


@pytest.mark.parametrize("gap", [1.0, 49.0])
def test_what_is_far_apart_is_a_line_that_is_missing(gap, tmp_path):
    """No joining distance is proposed: it would close what is open on purpose, too."""
    (found,), _ = opened(tmp_path, plate(gap))
    assert found.remedy.startswith("Draw the missing line")
    assert "join" not in found.remedy
