"""Reading instances, checking and writing solutions, on small instances made here."""

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from benchmarks.__main__ import main
from benchmarks.checking import is_valid
from benchmarks.instances import Placed, at_any_angle, copies, read_instance, solution
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
GRID = [Placed(0, 0.0, float(x), float(y)) for x in (0, 1) for y in (0, 1)]


def write(folder: Path, kind: str) -> Path:
    """An instance file."""
    path = folder / f"{kind}.json"
    path.write_text(json.dumps({"kind": kind, "name": kind, **INSTANCES[kind]}), encoding="utf-8")
    return path


@pytest.mark.parametrize(("kind", "value"), [("strip", 100.0), ("bins", 2), ("sheets", 2)])
def test_small_instances_are_solved_to_optimality(tmp_path: Path, kind: str, value: float) -> None:
    """Density in per cent, bins, and cost; every piece is in the solution once."""
    instance = read_instance(write(tmp_path, kind))
    result = solve(instance, seconds=1.0, seed=1, workers=1)
    assert result.feasible
    assert result.value == pytest.approx(value, abs=1e-6)
    placed = solution(instance, result.placed, result.containers)
    assert len(placed["placements"]) == instance.pieces
    assert ("containers" in placed) == (kind == "sheets")


def test_a_tour_is_solved_and_written(tmp_path: Path) -> None:
    """Four corners of a square of side 10: the optimum is 40."""
    source, out = tmp_path / "tour.json", tmp_path / "solution.json"
    points = [[0, 0], [10, 10], [10, 0], [0, 10]]
    source.write_text(json.dumps({"kind": "tour", "name": "t", "points": points}), encoding="utf-8")
    done = CliRunner().invoke(main, ["solve", str(source), "--seconds", "0", "--out", str(out)])
    assert done.exit_code == 0
    assert "t: 40 in" in done.output
    assert sorted(json.loads(out.read_text(encoding="utf-8"))["order"]) == [0, 1, 2, 3]


def test_unknown_kinds_and_broken_files_get_a_clear_message(tmp_path: Path) -> None:
    """The kind that is not supported is named with those that are."""
    path = tmp_path / "box.json"
    path.write_text('{"kind": "box", "name": "t"}', encoding="utf-8")
    with pytest.raises(InputError, match=r"'box' is not supported yet.*strip, bins, sheets, tour"):
        read_instance(path)
    path.write_text("{", encoding="utf-8")
    with pytest.raises(InputError, match="not an instance"):
        read_instance(path)


def test_the_command_writes_a_solution(tmp_path: Path) -> None:
    """It ends with 0 and leaves all four squares."""
    source, out = write(tmp_path, "strip"), tmp_path / "solution.json"
    done = CliRunner().invoke(main, ["solve", str(source), "--seconds", "0.2", "--out", str(out)])
    assert done.exit_code == 0
    assert len(json.loads(out.read_text(encoding="utf-8"))["placements"]) == 4


@pytest.mark.parametrize(
    "placed",
    [
        GRID[:3],
        [*GRID[:3], Placed(0, 0.0, 1.0, 0.999)],
        [*GRID[:3], Placed(0, 0.0, 1.0, 1.001)],
        [*GRID[:3], Placed(0, 0.0, -0.001, 1.0)],
        [*GRID[:3], Placed(0, 90.0, 2.0, 1.0)],
    ],
    ids=["one missing", "overlap", "above", "left of it", "angle not allowed"],
)
def test_bad_layouts_are_not_valid(tmp_path: Path, placed: list[Placed]) -> None:
    """A grid of four squares is valid; each change for the worse is not."""
    instance = read_instance(write(tmp_path, "strip"))
    assert is_valid(instance, GRID, (0,))
    assert not is_valid(instance, placed, (0,))


def test_variants_change_only_what_they_say(tmp_path: Path) -> None:
    """Copies have more pieces and area; any angle frees every part."""
    instance = read_instance(write(tmp_path, "strip"))
    assert copies(instance, 3).pieces == 12
    assert copies(instance, 3).area == pytest.approx(12.0, abs=1e-12)
    assert [i.rotations for i in at_any_angle(instance).items] == [None]
