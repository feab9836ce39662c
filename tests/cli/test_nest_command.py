"""The main job from the command line."""

import json
import os
import signal
import subprocess
import sys
import time
from contextlib import suppress
from pathlib import Path

import pytest

import nestlib as nl
from nestlib import read_plan
from nestlib.errors import StoppedError
from nestlib.packing import SearchState
from tests.command import NEST, nestlib, write_job

FILES = {
    "plan.json",
    "sheet-001.dxf",
    "report.html",
    "parts.csv",
    "sheets.csv",
    "remnants.csv",
    "path-001.csv",
}


def test_a_job_becomes_a_whole_folder(tmp_path):
    """Every file of a plan is there, and nothing else beside it."""
    write_job(tmp_path)
    assert nestlib(tmp_path, *NEST).exit_code == 0
    assert {p.name for p in (tmp_path / "plan").iterdir()} == FILES
    assert {p.name for p in tmp_path.iterdir()} == {"job.toml", "square.dxf", "plan"}


def test_scripts_get_the_figures_as_json(tmp_path):
    """Standard output is one JSON document with the figures of plan.json."""
    write_job(tmp_path)
    arguments = [a for a in NEST if a != "--quiet"]
    record = json.loads(nestlib(tmp_path, *arguments, "--json").stdout)[0]
    plan = read_plan(tmp_path / "plan")
    assert record["verified"] is True
    assert record["placed"] == 2
    assert record["utilisation"] == pytest.approx(plan.utilisation)
    assert record["unplaced"] == []


def test_quiet_prints_nothing(tmp_path):
    """Neither figures nor progress."""
    write_job(tmp_path)
    result = nestlib(tmp_path, *NEST)
    assert result.output == ""


def test_progress_goes_to_standard_error(tmp_path):
    """So that it never mixes with what a script reads."""
    write_job(tmp_path)
    result = nestlib(tmp_path, *(a for a in NEST if a != "--quiet"), "--json")
    assert "verifying" in result.stderr
    json.loads(result.stdout)


def test_a_piece_without_room_gives_exit_code_1(tmp_path):
    """The plan is written all the same, and says what is missing and why."""
    write_job(tmp_path, ("quantity = 2", "quantity = 40"))
    assert nestlib(tmp_path, *NEST).exit_code == 1
    plan = read_plan(tmp_path / "plan")
    assert [u.part for u in plan.unplaced] == ["square"]
    assert plan.placed["square"] + plan.unplaced[0].quantity == 40
    assert plan.unplaced[0].reason


def test_several_jobs_get_a_folder_each(tmp_path):
    """Named after the job files."""
    write_job(tmp_path)
    (tmp_path / "again.toml").write_bytes((tmp_path / "job.toml").read_bytes())
    result = nestlib(tmp_path, "nest", "again.toml", *NEST[1:])
    assert result.exit_code == 0
    assert {p.name for p in (tmp_path / "plan").iterdir()} == {"again", "job"}


def test_cautions_are_told_once_in_a_run(tmp_path):
    """Each report keeps them all."""
    write_job(tmp_path)
    (tmp_path / "again.toml").write_bytes((tmp_path / "job.toml").read_bytes())
    loud = [word for word in NEST if word != "--quiet"]
    output = nestlib(tmp_path, "nest", "again.toml", *loud[1:]).stdout
    assert output.count("Caution: Handling:") == 1
    assert "500 x 400 mm" in output
    for name in ("again", "job"):
        assert "Handling:" in (tmp_path / "plan" / name / "report.html").read_text("utf-8")


@pytest.mark.parametrize("options", [[], ["--metal", "mild-steel"]])
def test_a_drawing_is_not_nested_without_a_job(tmp_path, options):
    """It says what the file is and what is wanted."""
    write_job(tmp_path)
    result = nestlib(tmp_path, "nest", "square.dxf", *options)
    assert result.exit_code == 2
    assert "square.dxf: this is a drawing, not a job" in result.stderr


def test_several_words_for_part_lists_are_a_plural(tmp_path):
    """Beside a job file they say what it says itself."""
    write_job(tmp_path)
    told = nestlib(tmp_path, *NEST, "--metal", "brass", "--thickness", "1").stderr
    assert "--metal, --thickness are for part lists" in told


def test_r12_is_a_choice(tmp_path):
    """AC1009 is the version mark of R11 and R12 (DXF Reference)."""
    write_job(tmp_path)
    assert nestlib(tmp_path, *NEST, "--dxf", "R12").exit_code == 0
    assert b"AC1009" in (tmp_path / "plan" / "sheet-001.dxf").read_bytes()


def test_the_same_iterations_give_the_same_plan_whatever_the_workers(tmp_path):
    """But for the time that it took."""
    write_job(tmp_path, ("quantity = 2", "quantity = 9"))
    records = []
    for workers in ("1", "2"):
        out = ("--out", f"plan-{workers}", "--iterations", "2", "--workers", workers, "--quiet")
        assert nestlib(tmp_path, "nest", "job.toml", *out).exit_code == 0
        record = json.loads((tmp_path / f"plan-{workers}" / "plan.json").read_text())
        records.append(record | {"seconds": None})
    assert records[0] == records[1]


@pytest.mark.parametrize("command", ["demo", "check", "metals", "nest", "verify", "report"])
def test_every_command_explains_itself_with_an_example(command, tmp_path):
    """Help comes with an example and exit code 0."""
    result = nestlib(tmp_path, command, "--help")
    assert result.exit_code == 0
    assert f"nestlib {command}" in result.output.split("Options:")[0].split("Example")[1]


def test_the_report_is_made_again_from_the_record_alone(tmp_path):
    """Same report, byte by byte."""
    write_job(tmp_path)
    nestlib(tmp_path, *NEST)
    report = tmp_path / "plan" / "report.html"
    before = report.read_bytes()
    report.unlink()
    assert nestlib(tmp_path, "report", "plan").exit_code == 0
    assert report.read_bytes() == before


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="sends a POSIX signal")
def test_ctrl_c_keeps_the_best_so_far(tmp_path):
    """The plan is whole and verified, and the exit code is 3."""
    write_job(tmp_path, ("quantity = 2", "quantity = 30"), ("quantity = 1", "quantity = 5"))
    command = ["nest", "job.toml", "--out", "plan", "--seconds", "600", "--workers", "2"]
    start = "import signal; signal.signal(signal.SIGINT, signal.default_int_handler);"
    code = f"{start} from nestlib_cli import main; main({command!r})"
    process = subprocess.Popen(
        [sys.executable, "-c", code],
        cwd=tmp_path,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    for line in process.stderr:
        if "improving" in line:
            break
    time.sleep(0.5)
    # As a terminal does: to the workers, too.
    os.killpg(process.pid, signal.SIGINT)
    _, errors = process.communicate(timeout=120)
    assert process.returncode == 3, errors
    assert "Traceback" not in errors
    plan = read_plan(tmp_path / "plan")
    assert plan.stopped
    assert plan.verification.passed
    assert plan.placed["square"] == 30
    assert {p.name for p in tmp_path.iterdir()} == {"job.toml", "square.dxf", "plan"}


def test_metals_shows_what_a_machine_can_cut(tmp_path):
    """A 250 W CO2 laser: stainless to 0.080 in, brass to 0.5 mm (common practice, no source)."""
    result = nestlib(tmp_path, "metals", "--machine", "co2-250", "--json")
    rows = {row["family"]: row for row in json.loads(result.stdout)["can_cut"]}
    assert rows["stainless"]["thickness"] == pytest.approx(0.080 * 25.4)
    assert rows["brass"]["thickness"] == pytest.approx(0.5)


def test_the_demo_is_ready_to_be_nested(tmp_path):
    """Three jobs in three metals, each readable."""
    from nestlib import read_job

    assert nestlib(tmp_path, "demo", "stands").exit_code == 0
    jobs = [read_job(path) for path in sorted(Path(tmp_path, "stands").glob("*.toml"))]
    assert len({job.metal.material.family for job in jobs}) == 3
    assert len({job.metal.thickness for job in jobs}) == 3


@pytest.mark.parametrize("command", [NEST, ("buy", "job.toml", "--prices", "prices.toml")])
def test_time_and_rounds_together_are_what_comes_first(command, tmp_path, monkeypatch):
    """As the help says: neither is left aside without a word."""
    write_job(tmp_path)
    (tmp_path / "prices.toml").write_text(
        '[[offer]]\nmetal = "mild-steel"\nthickness = "2 mm"\nsize = "500x400"\n'
        "price_per_sheet = 1\n",
        encoding="utf-8",
    )
    rules = []

    def stopped(*_, stop, **__):
        rules.append(stop)
        raise StoppedError("that is enough")

    monkeypatch.setattr(nl, command[0], stopped)
    nestlib(tmp_path, *command, "--seconds", "60", "--iterations", "5")
    told = [SearchState(61.0, 1), SearchState(1.0, 5), SearchState(59.0, 4)]
    assert [rules[0](state) for state in told] == [True, True, False]
    text = " ".join(nestlib(tmp_path, command[0], "--help").output.split())
    assert "with --iterations, what comes first" in text


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such terminals")
def test_on_a_terminal_the_run_is_a_table_and_the_plans_follow(tmp_path):
    """Two jobs, of which the second cannot be written: the first is told all the same."""
    import pty

    write_job(tmp_path)
    (tmp_path / "again.toml").write_bytes((tmp_path / "job.toml").read_bytes())
    here, there = pty.openpty()
    loud = [word for word in NEST if word != "--quiet"]
    code = (
        "import shutil, nestlib_cli, nestlib as nl; write = nl.write\n"
        "def once(plan, folder, **more):\n"
        "    if folder.name == 'again': raise nl.OutputError(nl.Problem('x', '', 'full', 'Go'))\n"
        "    return write(plan, folder, **more)\n"
        f"nl.write = once; nestlib_cli.main({[*loud[:2], 'again.toml', *loud[2:]]!r})\n"
    )
    environment = {**os.environ, "TERM": "xterm", "COLUMNS": "80"}
    with subprocess.Popen(
        [sys.executable, "-c", code], cwd=tmp_path, env=environment, text=True,
        stdout=subprocess.PIPE, stderr=there,
    ) as process:  # fmt: skip
        os.close(there)
        read = b""
        with suppress(OSError):  # the end of a terminal
            while part := os.read(here, 1 << 16):
                read += part
        told = process.communicate()[0]
    os.close(here)
    assert process.returncode == 2
    assert "Written to" in told
    drawn = read.decode()
    assert "Trend" in drawn
    assert "1 to come" in drawn
    assert drawn.count("Error: ") == 1
    assert drawn.index("\x1b[?25h") < drawn.index("Error: ")
