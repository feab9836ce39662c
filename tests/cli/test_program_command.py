"""Machine programs from the command line: only when asked for, and checked."""

import json
from pathlib import Path

from tests.command import NEST, nestlib, refused, write_job


def test_programs_are_written_only_if_asked_for(tmp_path: Path) -> None:
    """A plan has none; `program` adds them and verifies; `nest --overwrite` removes them."""
    write_job(tmp_path)
    assert nestlib(tmp_path, *NEST).exit_code == 0
    assert not list((tmp_path / "plan").glob("*.nc"))
    done = nestlib(tmp_path, "program", "plan")
    assert done.exit_code == 0, done.output
    assert "machine programs run 4 cuts" in done.stdout
    assert "nobody has checked the template" in done.stdout
    program = (tmp_path / "plan" / "sheet-001.nc").read_text(encoding="ascii")
    assert "NOT A READY PROGRAM" in program
    record = json.loads((tmp_path / "plan" / "plan.json").read_text(encoding="utf-8"))
    assert record["program"]["files"] == ["sheet-001.nc"]
    assert nestlib(tmp_path, "verify", "plan").exit_code == 0
    assert nestlib(tmp_path, *NEST, "--overwrite").exit_code == 0
    assert not list((tmp_path / "plan").glob("*.nc"))


def test_a_shops_own_template(tmp_path: Path) -> None:
    """Printed, edited and used at once with the nest."""
    write_job(tmp_path)
    printed = nestlib(tmp_path, "program", "--print-template")
    text = printed.stdout.replace('checked_by = ""', 'checked_by = "the foreman"')
    for n, word in enumerate(("BEAM_ON", "MARK_ON", "BEAM_OFF")):
        text = text.replace(f'"PLACEHOLDER_{word}"', f'"M{210 + n}"')
    (tmp_path / "shop.toml").write_text(text, encoding="utf-8")
    assert nestlib(tmp_path, *NEST, "--program", "shop.toml").exit_code == 0
    program = (tmp_path / "plan" / "sheet-001.nc").read_text(encoding="ascii")
    assert "checked by the foreman" in program
    assert program.count("M210") == 4
    assert nestlib(tmp_path, "verify", "plan").exit_code == 0


def test_a_broken_template_is_told_before_the_search(tmp_path: Path) -> None:
    """Exit code 2, and no plan."""
    write_job(tmp_path)
    (tmp_path / "shop.toml").write_text('units = "cm"\n', encoding="utf-8")
    message = refused(tmp_path, *NEST, "--program", "shop.toml")
    assert "shop.toml" in message
    assert "units" in message
    assert not (tmp_path / "plan").exists()


def test_a_program_that_cannot_be_understood_fails_the_check(tmp_path: Path) -> None:
    """Exit code 1 with file and line: the plan is not verified."""
    write_job(tmp_path)
    assert nestlib(tmp_path, *NEST, "--program", "plain").exit_code == 0
    path = tmp_path / "plan" / "sheet-001.nc"
    lines = path.read_text(encoding="ascii").splitlines()
    (at,) = [i for i, line in enumerate(lines) if line.startswith("G17")]
    lines[at] = "G18"
    path.write_text("\n".join(lines), encoding="ascii")
    checked = nestlib(tmp_path, "verify", "plan")
    assert checked.exit_code == 1
    message = " ".join(checked.stdout.split())
    assert "sheet-001.nc" in message
    assert f"line {at + 1}" in message
    assert "G18" in message


def test_paths_times_and_costs_stand_in_the_lists(tmp_path: Path) -> None:
    """A line for each cut, and the reasons for what is missing on the screen."""
    write_job(tmp_path)
    told = nestlib(tmp_path, *(word for word in NEST if word != "--quiet"))
    assert "Machine time about" in told.stdout
    assert "Not stated: hourly rate of the machine" in told.stdout
    assert "starting values" in told.stdout
    lines = (tmp_path / "plan" / "path-001.csv").read_text(encoding="utf-8").splitlines()
    assert lines[0].startswith("order,part,piece,contour,kind")
    assert len(lines) == 1 + 4
