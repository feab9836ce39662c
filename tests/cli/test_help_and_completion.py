"""`nestlib help` tells all keys, and shells complete names."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import click
import pytest
from click.shell_completion import ShellComplete
from nestlib_cli import COMMANDS, main
from nestlib_cli.topics import TOPICS

from nestlib.intake.mapping import (
    ColumnsTable,
    DrawingsTable,
    FileTable,
    MappingFile,
    ThicknessTable,
)
from nestlib.jobs.entries import PartEntry, SheetEntry
from nestlib.jobs.forecast import ForecastEntry
from nestlib.jobs.job_file import JobFile, RuleTable, SpacingTable
from nestlib.jobs.part_list import ListedPart
from nestlib.jobs.price_list import OfferEntry, PriceListFile
from nestlib.metals.machine_file import MachineFile, Row, SupportTable
from nestlib.validation import Table
from nestlib.writing.layers import LAYERS
from nestlib.writing.program_template import Lines, ProgramTemplate, Words
from tests.command import has_all, nestlib, refused


def told(*words: str) -> str:
    """What help prints."""
    result = nestlib(Path(), "help", *words)
    assert result.exit_code == 0, result.output
    return result.stdout


def completed(*words: str) -> list[str]:
    """What a shell offers for the last of these words, by click's own interface."""
    *before, begun = words
    shell = ShellComplete(main, {}, "nestlib", "_NESTLIB_COMPLETE")
    return [item.value for item in shell.get_completions(list(before), begun)]


@pytest.mark.parametrize(
    ("topic", "tables"),
    [
        ("job", (JobFile, SpacingTable, SheetEntry, PartEntry, RuleTable)),
        ("part-list", (ListedPart,)),
        ("machine-file", (MachineFile, Row, SupportTable)),
        ("price-list", (PriceListFile, OfferEntry)),
        ("forecast", (ForecastEntry,)),
        ("mapping", (MappingFile, FileTable, ColumnsTable, ThicknessTable, DrawingsTable)),
        ("template", (ProgramTemplate, Words, Lines)),
    ],
)
def test_every_key_is_told(topic: str, tables: tuple[type[Table], ...]) -> None:
    """No key that the reader of a file understands is missing from what is said about it."""
    text = told(topic)
    keys = {field.alias or name for table in tables for name, field in table.model_fields.items()}
    assert {key for key in keys if not re.search(rf"\b{key}\b", text)} == set()


def test_help_lists_its_topics() -> None:
    """All of them, with a few words each."""
    text = told()
    assert has_all(text, *TOPICS, *(topic.title for topic in TOPICS.values()))


def test_marks_of_docstrings_are_not_shown() -> None:
    """Neither double colons nor double backticks."""
    texts = "\n".join(told(topic) for topic in TOPICS)
    assert "``" not in texts
    assert "::" not in texts


def test_layers_and_exit_codes() -> None:
    """Each layer with what lies on it; the codes of all commands, and those that differ."""
    assert has_all(told("layers"), *(layer.name for layer in LAYERS.values()))
    assert has_all(told("exit", "codes"), "4 an internal error", "nestlib stock:", "done before")


def test_two_words_and_commands() -> None:
    """`part list` is `part-list`; a command's name tells what its --help does."""
    assert told("part", "list") == told("part-list")
    for words in (("nest",), ("stock", "add")):
        helped = nestlib(Path(), *words, "--help").stdout
        assert told(*words).splitlines()[1:] == helped.splitlines()[1:]


def test_a_slip_is_told(tmp_path: Path) -> None:
    """With the nearest topic, or where they are listed."""
    assert "Did you mean job?" in refused(tmp_path, "help", "jub")
    assert "nestlib help lists" in refused(tmp_path, "help", "stock", "nothing")


def test_commands_topics_and_names_are_completed() -> None:
    """Where a name is wanted, the built-in ones; what is no name may be a file."""
    assert completed("") == list(COMMANDS)
    assert completed("stock", "h") == ["history", "hold"]
    assert completed("help", "ma") == ["machine-file", "mapping"]
    assert completed("nest", "parts.csv", "--metal", "stainless-3") == [
        "stainless-304",
        "stainless-316",
    ]
    assert completed("stock", "add", "--metal", "mild") == ["mild-steel"]
    assert completed("metals", "--machine", "co2-2") == ["co2-250"]
    assert completed("nest", "--program", "pl") == ["plain"]
    assert completed("nest", "--dxf", "R") == ["R2010", "R12"]


def test_where_no_name_fits_files_are_completed() -> None:
    """A machine file of one's own."""
    shell = ShellComplete(main, {}, "nestlib", "_NESTLIB_COMPLETE")
    (item,) = shell.get_completions(["metals", "--machine"], "our-")
    assert (item.type, item.value) == ("file", "our-")


@pytest.mark.parametrize("shell", ["zsh", "fish"])
def test_each_shell_has_a_script(shell: str) -> None:
    """It names the command and the variable by which the command knows that it is asked."""
    result = nestlib(Path(), "completion", shell)
    assert result.exit_code == 0
    assert has_all(result.stdout, "nestlib", f"_NESTLIB_COMPLETE={shell}_complete")


@pytest.mark.skipif(shutil.which("bash") is None, reason="needs bash")
def test_bash_completes() -> None:
    """The shell itself, with the script of `nestlib completion bash`, asks the command."""
    ask = """
        eval "$(nestlib completion bash)"
        COMP_WORDS=(nestlib stock add --metal mild) COMP_CWORD=4
        _nestlib_completion nestlib
        echo "${COMPREPLY[@]}"
    """
    path = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"
    done = subprocess.run(
        ["bash", "-c", ask], env={**os.environ, "PATH": path}, capture_output=True, text=True
    )
    assert done.stdout.strip() == "mild-steel", done.stderr


def test_every_command_is_a_module_of_its_name() -> None:
    """The table of commands holds what can be run, in the words of their own help."""
    context = click.Context(main)
    for name in COMMANDS:
        command = main.get_command(context, name)
        assert command is not None
        assert command.name == name


@pytest.mark.parametrize(
    ("words", "meant"),
    [(("nst", "job.toml"), "nest"), (("verfiy",), "verify"), (("stock", "realese"), "release")],
)
def test_a_mistyped_command_is_answered_with_the_one_that_is_meant(words, meant, tmp_path):
    """One letter left out, or two exchanged."""
    assert f'Did you mean "{meant}"?' in refused(tmp_path, *words)


def test_a_command_like_no_other_is_only_refused(tmp_path):
    """A guess would lead nowhere."""
    assert "Did you mean" not in refused(tmp_path, "xyzzy")
