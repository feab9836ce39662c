"""What makes a job another one, and what does not."""

import pytest

from nestlib.batch import job_digest
from tests.command import write_job


@pytest.fixture
def digest(tmp_path):
    """The digest of a small job, and what to change about it."""
    write_job(tmp_path)
    return tmp_path, lambda **how: job_digest(tmp_path / "job.toml", {"seed": 1, **how})


def test_the_same_job_has_the_same_digest(digest):
    """Wherever it lies and whenever it was written."""
    folder, take = digest
    before = take()
    (folder / "job.toml").touch()
    (folder / "other.dxf").touch()
    assert take() == before


@pytest.mark.parametrize("name", ["job.toml", "square.dxf"])
def test_every_file_of_a_job_counts(digest, name):
    """One byte more makes it another job."""
    folder, take = digest
    before = take()
    with (folder / name).open("ab") as file:
        file.write(b"\n")
    assert take() != before


def test_how_it_is_nested_counts(digest):
    """Another seed or more time may give another plan; a template is its content."""
    folder, take = digest
    for name in ("a.toml", "b.toml"):
        (folder / name).write_text(name, encoding="utf-8")
    ways = [{}, {"seed": 2}, {"seconds": 5.0}]
    ways += [{"template": str(folder / name)} for name in ("a.toml", "b.toml")]
    assert len({take(**way) for way in ways}) == len(ways)
