"""Reading instances and writing solutions, on small instances made here."""

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from benchmarks.__main__ import main
from benchmarks.instances import read_instance, solution
from benchmarks.solve import solve
from nestlib.errors import InputError

SQUARE = {"id": "a", "quantity": 4, "outline": [[0, 0], [1, 0], [1, 1], [0, 1]], "holes": []}
PART = {**SQUARE, "rotations": [0.0]}
INSTANCES: dict[str, dict[str, Any]] = {
    "strip": {"width": 2.0, "area": 4.0, "parts": [PART], "published": {"somebody": 100.0}},
    "bins": {"bin": [1.0, 2.0], "optimum": 2, "parts": [PART]},
    "sheets": {
        "sheets": [{"width": 2, "height": 2, "cost": 5}, {"width": 1, "height": 1, "cost": 1}],
        "rectangles": [[1, 1], [1, 1]],
    },
}


def write(folder: Path, kind: str) -> Path:
    """An instance file."""
    path = folder / f"{kind}.json"
    path.write_text(json.dumps({"kind": kind, "name": kind, **INSTANCES[kind]}), encoding="utf-8")
    return path


@pytest.mark.parametrize(("kind", "value"), [("strip", 100.0), ("bins", 2), ("sheets", 2)])
def test_small_instances_are_solved_to_optimality(tmp_path: Path, kind: str, value: float) -> None:
    """Density in per cent, bins, and cost; every piece is in the solution once."""
    instance = read_instance(write(tmp_path, kind))
    result = solve(instance, seconds=0.3, seed=1, workers=1)
    assert result.feasible
    assert result.value == pytest.approx(value, abs=1e-6)
    placed = solution(instance, result.packing)
    assert len(placed["placements"]) == sum(s.quantity for s in instance.shapes)
    assert ("containers" in placed) == (kind == "sheets")


def test_tours_and_broken_files_get_a_clear_message(tmp_path: Path) -> None:
    """The kind that is not supported is named with those that are."""
    path = tmp_path / "tour.json"
    path.write_text('{"kind": "tour", "name": "t"}', encoding="utf-8")
    with pytest.raises(InputError, match=r"'tour' is not supported yet.*strip, bins, sheets"):
        read_instance(path)
    path.write_text("{", encoding="utf-8")
    with pytest.raises(InputError, match="not an instance"):
        read_instance(path)


def test_the_command_writes_a_solution_and_a_table(tmp_path: Path) -> None:
    """Both commands end with 0 and leave their file."""
    source = write(tmp_path, "strip")
    out = tmp_path / "out" / "solution.json"
    out.parent.mkdir()
    done = CliRunner().invoke(main, ["solve", str(source), "--seconds", "0.2", "--out", str(out)])
    assert done.exit_code == 0
    assert len(json.loads(out.read_text(encoding="utf-8"))["placements"]) == 4
    page = tmp_path / "RESULTS.md"
    options = ["--instances", str(tmp_path), "--seconds", "0.2", "--out", str(page)]
    assert CliRunner().invoke(main, ["table", *options]).exit_code == 0
    assert "| strip | 4 | 100.00 | 100 | yes |" in page.read_text(encoding="utf-8")
