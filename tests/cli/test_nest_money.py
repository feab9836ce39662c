"""Remnants that are worth something, set-ups and few layouts, from the job file to the check."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.command import NEST, has_all, nestlib, refused, write_job

#: What is said about money, and words that the message must have.
SPOILT = {
    "worth too much": ("remnant_worth = 1.5", ["line 1", "remnant_worth", "1.5"]),
    "a set-up that pays": ("set_up_cost = -1", ["line 1", "set_up_cost", "-1"]),
    "no layout at all": ("max_layouts = 0", ["line 1", "max_layouts", "0"]),
}


def job(folder: Path, said: str) -> None:
    """Write the usual job with more lines in front, and a price for its sheet."""
    write_job(folder, ('size = "500x400"\n', 'size = "500x400"\ncost = 30.0\n'))
    file = folder / "job.toml"
    file.write_text(f"{said}\n{file.read_text(encoding='utf-8')}", encoding="utf-8")


@pytest.mark.parametrize("case", SPOILT)
def test_a_spoilt_figure_is_refused(case: str, tmp_path: Path) -> None:
    """The message names line, key and value."""
    said, words = SPOILT[case]
    job(tmp_path, said)
    message = refused(tmp_path, *NEST)
    assert has_all(message, *words), message


def test_net_cost_is_told_and_checked(tmp_path: Path) -> None:
    """30 for the sheet and 4 for the set-up less half of 30 for the remnant's share of the area."""
    job(tmp_path, "remnant_worth = 0.5\nset_up_cost = 4\nremnant_size = 50")
    told = nestlib(tmp_path, *(word for word in NEST if word != "--quiet"))
    assert told.exit_code == 0, told.output
    path = tmp_path / "plan" / "plan.json"
    record = json.loads(path.read_text(encoding="utf-8"))
    (remnant,) = record["remnants"]
    value = 0.5 * 30 * remnant["area"] / (500 * 400)
    assert record["remnant_value"] == pytest.approx(value)
    assert record["net_cost"] == pytest.approx(34 - value)
    assert f"{34 - value:.2f}" in told.stdout
    for key in ("set_up_cost", "remnant_value", "net_cost"):
        path.write_text(json.dumps({**record, key: record[key] + 0.1}), encoding="utf-8")
        check = nestlib(tmp_path, "verify", "plan")
        assert check.exit_code == 1
        assert key in check.stdout
    least = record["bound"]["net_cost"]
    assert f"(at least {least:.2f})" in told.stdout
    for bound, code in ((record["net_cost"] + 0.1, 1), (least, 0)):
        proved = {**record["bound"], "net_cost": bound}
        path.write_text(json.dumps({**record, "bound": proved}), encoding="utf-8")
        assert nestlib(tmp_path, "verify", "plan").exit_code == code


def test_the_command_says_how_many_layouts(tmp_path: Path) -> None:
    """The option stands in the plan in place of what the job says."""
    job(tmp_path, "max_layouts = 3")
    assert nestlib(tmp_path, *NEST, "--max-layouts", "2").exit_code == 0
    record = json.loads((tmp_path / "plan" / "plan.json").read_text(encoding="utf-8"))
    assert record["job"]["money"]["max_layouts"] == 2
