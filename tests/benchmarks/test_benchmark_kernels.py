"""The loops of the engine and those in C do the same."""

import json
import shutil
from pathlib import Path

import pytest

from benchmarks.kernels import carry_out, rates

L_SHAPE = [[0, 0], [3, 0], [3, 1], [1, 1], [1, 4], [0, 4]]
TRIANGLE = [[0, 0], [2, 0], [0, 2]]


@pytest.mark.slow
@pytest.mark.skipif(shutil.which("gcc") is None, reason="needs a C compiler")
def test_both_sides_see_the_same_overlaps(tmp_path: Path) -> None:
    """With fields and without, of places and of pairs. Tolerance: that of float32."""
    parts = [
        {"id": k, "quantity": 4, "rotations": [0, 90, 180], "outline": outline, "holes": []}
        for k, outline in enumerate((L_SHAPE, TRIANGLE))
    ]
    path = tmp_path / "shapes.json"
    data = {"kind": "strip", "name": "shapes", "width": 7.0, "parts": parts}
    path.write_text(json.dumps(data), encoding="utf-8")
    rows = carry_out(path, 0.01)
    assert [(r["path"], r["loop"]) for r in rows] == [
        ("fields", "places"),
        ("fields", "pairs"),
        ("direct", "places"),
        ("direct", "pairs"),
    ]
    assert all(r["same"] for r in rows)
    assert all(r["items"] > 100 for r in rows)


def test_the_slower_of_two_loops_has_the_lower_rate() -> None:
    """Here by a factor of far more than the noise."""
    fast, slow = rates(lambda: None, lambda: sum(range(20_000)) and None, 10, 0.05)
    assert fast > slow
