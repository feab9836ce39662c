"""Many jobs side by side: one bad one stops no other, and what is done is kept."""

import json
from pathlib import Path

import jsonschema
import pytest

from nestlib import plan_schema
from nestlib.batch import cluster, run_batch, seen_from_anywhere
from nestlib.batch.one_job import Task, nest_one
from tests.command import has_all, nestlib, write_job

EACH = ("nest", "--each", "--out", "plans", "--iterations", "1", "--workers", "1", "--json")


def jobs(folder: Path, *names: str) -> None:
    """Jobs of different quantities, and one that cannot be read."""
    write_job(folder)
    text = (folder / "job.toml").read_text(encoding="utf-8")
    for number, name in enumerate(names, start=1):
        job = text.replace("quantity = 2", f"quantity = {number}")
        job = job.replace("square.dxf", "none.dxf") if name == "bad" else job
        (folder / f"{name}.toml").write_text(job, encoding="utf-8")


@pytest.mark.slow
def test_a_bad_job_stops_no_other_and_done_ones_are_not_done_again(tmp_path):
    """Two runs: the second one recognises the plan by job and content."""
    jobs(tmp_path, "a", "bad")
    first = nestlib(tmp_path, *EACH, "bad.toml", "a.toml")
    assert first.exit_code == 1
    assert has_all(first.stderr, "bad.toml", "none.dxf")
    states = [job["state"] for job in json.loads(first.stdout)["jobs"]]
    assert states == ["failed", "done"]
    record = json.loads((tmp_path / "plans" / "a" / "plan.json").read_text(encoding="utf-8"))
    jsonschema.validate(record, plan_schema())
    assert len(record["job"]["digest"]) == 64
    before = (tmp_path / "plans" / "a" / "plan.json").stat().st_mtime_ns
    (tmp_path / "plans" / ".a.0123abcd.part").mkdir()
    jobs(tmp_path, "a", "b")
    second = nestlib(tmp_path, *EACH, "a.toml", "b.toml")
    assert second.exit_code == 0
    states = [job["state"] for job in json.loads(second.stdout)["jobs"]]
    assert states == ["done before", "done"]
    assert (tmp_path / "plans" / "a" / "plan.json").stat().st_mtime_ns == before


def test_a_changed_job_does_not_pass_for_done(tmp_path):
    """Its old plan stays until it may be replaced; what a killed run left goes."""
    jobs(tmp_path, "a")
    task = Task(str(tmp_path / "a.toml"), str(tmp_path / "plans" / "a"), {"iterations": 1})
    assert nest_one(task).state == "done"
    with (tmp_path / "a.toml").open("a", encoding="utf-8") as file:
        file.write("priority = 2\n")
    assert has_all(nest_one(task).message, "already holds a plan", "--overwrite")
    left = tmp_path / "plans" / ".a.0123abcd.part"
    left.mkdir()
    again = Task(task.job, task.folder, task.how, overwrite=True)
    assert nest_one(again).state == "done"
    assert not left.exists()


def test_what_is_wrong_with_a_job_file_names_it_once(tmp_path):
    """Its message begins with the path already."""
    (tmp_path / "a.toml").write_text("metal = ", encoding="utf-8")
    result = nestlib(tmp_path, *EACH, "a.toml")
    assert result.exit_code == 1
    (line,) = (line for line in result.stderr.splitlines() if "a.toml" in line)
    assert line.count("a.toml") == 1


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("a.toml", "--cluster", "tcp://127.0.0.1:1"), "--cluster is for --each"),
        (("--each", "a.csv"), "a part list also needs"),
    ],
)
def test_wrong_usage_is_said_before_anything_runs(tmp_path, arguments, words):
    """As by every command."""
    result = nestlib(tmp_path, "nest", *arguments)
    assert result.exit_code == 2
    assert has_all(result.stderr, words)


@pytest.mark.slow
def test_a_dask_cluster_gives_the_same_plans(tmp_path):
    """Two worker processes of a scheduler, and this process: equal but for the time it took."""
    distributed = pytest.importorskip("distributed")
    jobs(tmp_path, "a", "b", "c")
    tasks = {
        where: [
            Task(str(tmp_path / f"{n}.toml"), str(tmp_path / where / n), {"iterations": 2})
            for n in "abc"
        ]
        for where in ("here", "there")
    }
    for task in tasks["here"]:
        assert nest_one(task).state == "done"
    with (
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, dashboard_address=None
        ) as scheduler,
        cluster(scheduler.scheduler_address) as (executors, number),
    ):
        assert number == 2
        there = [seen_from_anywhere(task) for task in tasks["there"]]
        batch = run_batch(there, workers=number, executors=executors)
    assert [outcome.state for outcome in batch.in_order()] == ["done"] * 3
    for name in "abc":
        here, there = (
            json.loads((tmp_path / where / name / "plan.json").read_text(encoding="utf-8"))
            for where in ("here", "there")
        )
        assert {**here, "seconds": 0} == {**there, "seconds": 0}


def test_a_batch_tells_where_an_entry_overrules_the_file(tmp_path):
    """Done, and yet told: 100 mm by the file, 2540 mm by its entry (the inch is 25.4 mm)."""
    entry = ("quantity = 2", 'quantity = 1\nunits = "in"')
    write_job(tmp_path, entry, ("500x400", "3000x3000"))
    how = {"iterations": 1, "force": True}
    done = nest_one(Task(str(tmp_path / "job.toml"), str(tmp_path / "plan"), how))
    assert done.state == "done"
    assert has_all(done.message, "square.dxf", "file says mm", "entry says in", "25.4 times larger")
