"""What is installed is what is written down."""

import tomllib
from importlib.metadata import version
from pathlib import Path

import nestlib

ROOT = Path(__file__).parents[1]
SETTINGS = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))


def test_every_package_is_listed():
    """A folder with an __init__.py that is not listed would be missing from the wheel."""
    listed = set(SETTINGS["tool"]["setuptools"]["packages"])
    folders = {p.parent for p in (ROOT / "nestlib").rglob("__init__.py")}
    found = {".".join(f.relative_to(ROOT).parts) for f in folders}
    assert listed == found | {"nestlib_cli", "nestlib_demo"}


def test_there_is_one_version():
    """The package says what its metadata says."""
    assert nestlib.__version__ == SETTINGS["project"]["version"] == version("nestlib")


def test_the_readme_has_exactly_two_commands_to_set_up():
    """One runs the main job, one the tests; each makes its own environment."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8").splitlines()
    commands = [line for line in readme if line.startswith("python3 -m venv")]
    assert len(commands) == 2
    assert "nestlib nest" in commands[0]
    assert "pytest" in commands[1]


def test_nothing_installed_is_a_top_level_cli():
    """A module called cli would collide with those of others."""
    names = {name.split(".")[0] for name in SETTINGS["tool"]["setuptools"]["packages"]}
    assert names == {"nestlib", "nestlib_cli", "nestlib_demo"}
