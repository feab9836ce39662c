"""What a search tells of itself while it runs: figures that can be worked out by hand."""

from __future__ import annotations

import sys

import pytest
from shapely import MultiPolygon, box

from nestlib.packing import After, Container, First, Iterations, Shape, Stalled, pack
from nestlib.packing.stopping import seconds_left


def told(cost: float | None, stock: int | None = None, rounds: int = 40) -> list:
    """Five squares of side 60 on sheets of side 100, of which each holds one."""
    shapes = [Shape("square", box(0, 0, 60, 60), area=3600.0, quantity=5)]
    room = MultiPolygon([box(0, 0, 100, 100)])
    sheets = [Container("sheet", room, area=1e4, cost=cost, quantity=stock)]
    heard: list = []
    stop = First(Iterations(rounds), After(600.0))
    pack(shapes, sheets, stop=stop, on_progress=heard.append)
    return heard


@pytest.mark.parametrize(("cost", "whole"), [(7.5, 37.5), (None, None)])
def test_cost_use_and_the_gap_are_told(cost, whole, monkeypatch):
    """Five sheets of which 36 % is used; none costs less: two squares do not share a sheet."""
    monkeypatch.setattr(sys.modules[pack.__module__], "_EVERY", -1.0)
    heard = told(cost)
    found = [p for p in heard if p.utilisation is not None]
    assert {(p.cost, p.sheets, p.placed, round(p.utilisation, 9)) for p in found} == {
        (whole, 5, 5, 0.36)
    }
    assert {p.gap for p in found} == {0.0}
    lefts = [p.left for p in heard if p.left is not None]
    assert lefts == sorted(lefts, reverse=True)
    assert 0 < lefts[-1] < 600


def test_no_gap_is_told_while_pieces_are_missing(monkeypatch):
    """Two sheets hold two of the five squares: 15.00 is no plan for all, however little it is."""
    monkeypatch.setattr(sys.modules[pack.__module__], "_EVERY", -1.0)
    found = [p for p in told(7.5, stock=2, rounds=1) if p.utilisation is not None]
    assert {(p.cost, p.placed, p.wanted, p.gap) for p in found} == {(15.0, 2, 5, None)}


def test_only_rules_of_time_tell_how_much_is_left():
    """The least of several; never below nothing."""
    assert seconds_left(First(After(60.0), After(30.0), Stalled(3)), 10.0) == 20.0
    assert seconds_left(After(60.0), 70.0) == 0.0
    assert seconds_left(First(Iterations(3), Stalled(3)), 10.0) is None
    assert seconds_left(Iterations(3), 10.0) is None
