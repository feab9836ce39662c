"""Rows that are kept while they are measured, and the page that shows them."""

import json
from pathlib import Path
from typing import Any

import click
import pytest
from click.testing import CliRunner

from benchmarks.__main__ import COMMANDS, main
from benchmarks.curves import chart, time_to
from benchmarks.growth import exponent
from benchmarks.instances import Instance, read_instance
from benchmarks.machine import cores
from benchmarks.markdown import figures
from benchmarks.measured import Measurement
from benchmarks.pictures import picture
from benchmarks.pinned import Job, run_all
from benchmarks.report import page

TRIANGLE = {
    "id": 7,
    "quantity": 2,
    "outline": [[0, 0], [1, 0], [0, 1]],
    "holes": [],
    "rotations": [0.0, 180.0],
}


def write(folder: Path) -> Path:
    """A strip of two triangles that make a square."""
    data = {"kind": "strip", "name": "pair", "width": 1.0, "parts": [TRIANGLE]}
    path = folder / "pair.json"
    path.write_text(json.dumps({**data, "published": {"somebody": 100.0}}), encoding="utf-8")
    return path


def read(folder: Path) -> Instance:
    """The same, read."""
    return read_instance(write(folder))


def add(a: int, b: int) -> int:
    """What the processes of a test do."""
    return a + b


def fail() -> None:
    """What a process does that goes wrong."""
    raise RuntimeError("as it should")


def used() -> list[int]:
    """The cores of a process."""
    return cores()


def test_a_measurement_goes_on_where_it_was(tmp_path: Path) -> None:
    """Rows come back from the file, sorted by their keys, and are known."""
    path = tmp_path / "rows.json"
    first = Measurement(path, "strips", ("instance", "seed"))
    first.add({"instance": "b", "seed": 10, "density": 1.0})
    first.add({"instance": "b", "seed": 9, "density": 2.0})
    second = Measurement(path, "strips", ("instance", "seed"))
    assert [r["seed"] for r in second.rows] == [9, 10]
    assert second.has(instance="b", seed=9)
    assert not second.has(instance="b", seed=8)


def test_rows_of_another_machine_are_not_mixed_in(tmp_path: Path) -> None:
    """The message says which file and what differs."""
    path = tmp_path / "rows.json"
    Measurement(path, "strips", ("seed",)).add({"seed": 1})
    there = json.loads(path.read_text(encoding="utf-8"))
    there["machine"]["cores"] += 1
    path.write_text(json.dumps(there), encoding="utf-8")
    with pytest.raises(click.ClickException, match=r"rows\.json: machine is"):
        Measurement(path, "strips", ("seed",))


def test_processes_get_cores_of_their_own() -> None:
    """Each answers; one that fails is counted; this process keeps all its cores."""
    before, answers = cores(), dict[Any, Any]()
    jobs = [Job(add, (2, 3)), Job(fail, ()), Job(used, ())]
    failed = run_all(jobs, 2, lambda job, result: answers.update({job.call: result}))
    assert failed == 1
    assert answers[add] == 5
    assert len(answers[used]) == 1
    assert cores() == before


def test_more_cores_than_there_are_is_refused() -> None:
    """Before anything runs."""
    with pytest.raises(ValueError, match="more cores"):
        run_all([Job(add, (1, 1), len(cores()) + 1)], 1, lambda *_: None)


def test_strips_are_measured_drawn_and_reported(tmp_path: Path) -> None:
    """From an instance to rows, a solution, a picture and a page."""
    write(tmp_path)
    rows, solutions = tmp_path / "measured" / "rows.json", tmp_path / "solutions.jsonl"
    given = ["--instances", str(tmp_path)]
    options = ["--seconds", "0.2", "--seeds", "1", "--out", str(rows)]
    done = CliRunner().invoke(
        main, ["strips", *given, *options, "--solutions", str(solutions)], catch_exceptions=False
    )
    assert done.exit_code == 0
    drawn = tmp_path / "pictures"
    arguments = ["pictures", str(solutions), *given, "--into", str(drawn)]
    assert CliRunner().invoke(main, arguments).exit_code == 0
    assert (drawn / "pair.svg").read_text(encoding="utf-8").count("<use ") == 2
    out = tmp_path / "page.md"
    arguments = ["report", "--measured", str(rows.parent), "--out", str(out)]
    assert CliRunner().invoke(main, arguments).exit_code == 0
    text = out.read_text(encoding="utf-8")
    assert "| pair | 2 | 100.00 | 100.00 | 100.00 | 1 | yes |" in text
    assert "## Strips, 60 s\n\nNot measured." in text


def test_a_page_of_nothing_says_so_everywhere() -> None:
    """Every section is there."""
    text = page([], {})
    assert text.count("Not measured.") == text.count("\n## ") - 1
    assert "Not drawn." in text


def test_a_picture_keeps_turns_and_places(tmp_path: Path) -> None:
    """In picture units: 240 for the width of the strip."""
    placements = [{"part": 7, "rotation": 180.0, "x": 1.0, "y": 1.0}]
    text = picture(read(tmp_path), placements, 1.0)
    assert '<use href="#p0" transform="translate(240.00 240.00) rotate(180)"/>' in text


def test_times_are_taken_from_the_mean_of_the_curves() -> None:
    """Two runs that reach 70 after 3 s and 5 s have it on average after 5 s."""
    curves = [[(1.0, 60.0), (3.0, 70.0)], [(1.0, 50.0), (5.0, 70.0)]]
    assert time_to(curves, 70.0) == 5.0
    assert time_to(curves, 60.0) == 3.0
    assert time_to(curves, 71.0) is None


def test_a_chart_has_a_stair_for_every_curve() -> None:
    """It ends at the right-hand side, and the names stand beside it."""
    text = chart("pair", {"1 worker": [(1.0, 60.0), (2.0, 70.0)], "2 workers": [(1.0, 65.0)]}, 4.0)
    assert text.count("<polyline") == 2
    assert "2 workers" in text
    assert "524.0," in text


def test_a_curve_that_begins_at_no_time_is_drawn() -> None:
    """A layout that is there at once has a rounded time of 0, which has no logarithm."""
    text = chart("one", {"1 worker": [(0.0, 60.0), (2.0, 70.0)]}, 4.0)
    assert text.count("<polyline") == 1
    assert "nan" not in text


def test_exponents_are_those_of_the_law() -> None:
    """Powers come back; n log n lies between 1 and 2. Tolerance: rounding."""
    sizes = [10, 20, 40, 80]
    assert exponent(sizes, [n**1.5 for n in sizes]) == pytest.approx(1.5, abs=1e-9)
    assert 1.2 < exponent(sizes, None) < 1.4


@pytest.mark.parametrize(
    ("value", "shown"),
    [(None, "-"), (0, "0"), (1234.5, "1230"), (12.345, "12.3"), (0.0123, "0.0123")],
)
def test_figures_have_three_digits_that_count(value: float | None, shown: str) -> None:
    """More would be more than was measured."""
    assert figures(value) == shown


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help_with_an_example(name: str) -> None:
    """So that the page can be written again by whoever reads it."""
    done = CliRunner().invoke(main, [name, "--help"])
    assert done.exit_code == 0
    assert f"python -m benchmarks {name}" in done.output
