"""Topics of ``nestlib help``: what job files and other files hold, said where they are read.

The texts are docstrings of the modules that read and write these files, and nothing else.
"""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module

import click


@dataclass(frozen=True)
class Topic:
    """Something that can be read about.

    Parameters
    ----------
    title : str
        What it is about, in a few words.
    home : str
        Module whose docstring tells it.
    more : callable, optional
        Makes what follows the docstring.
    """

    title: str
    home: str
    more: Callable[[], str] | None = None


def _plain_template() -> str:
    from nestlib.writing import plain_template_text

    return plain_template_text()


def _layers() -> str:
    from nestlib.writing.layers import LAYERS

    return "\n".join(f"  {layer.name:18}{layer.what}" for layer in LAYERS.values())


def _exit_codes() -> str:
    """The exit codes of ``nestlib``, then those of each command that says it in its own words."""
    from . import COMMANDS, main

    context = click.Context(main, info_name="nestlib")
    told = [_codes_of("nestlib", main)]
    for name in COMMANDS:
        command = main.get_command(context, name)
        if command is not None:
            told.append(_codes_of(f"nestlib {name}", command))
    return "\n\n".join(filter(None, told))


def _codes_of(name: str, command: click.Command) -> str:
    """What the help of a command says of its exit codes, if anything."""
    said = inspect.cleandoc(command.help or "")
    found = re.search(r"^Exit codes(.*:)\n((?: +\d.*\n?)+)", said, re.MULTILINE)
    return f"{name}{found[1]}\n\n{found[2].rstrip()}" if found else ""


TOPICS = {
    "job": Topic("keys of a job file", "nestlib.jobs.job_file"),
    "part-list": Topic("columns of a part list", "nestlib.jobs.part_list"),
    "machine-file": Topic("keys of a machine file of your own", "nestlib.metals.machine_file"),
    "price-list": Topic("keys and columns of a price list", "nestlib.jobs.price_list"),
    "forecast": Topic("columns of a forecast and of past weeks", "nestlib.jobs.forecast"),
    "mapping": Topic("keys of a mapping, for nestlib intake", "nestlib.intake.mapping"),
    "template": Topic(
        "keys of a program template", "nestlib.writing.program_template", _plain_template
    ),
    "layers": Topic("layers of the written drawings", "nestlib.writing.layers", _layers),
    "exit-codes": Topic("what a command's exit code means", "nestlib_cli.failures", _exit_codes),
}


def text(name: str) -> str:
    """Return a topic for a terminal."""
    topic = TOPICS[name]
    told = [plain(inspect.getdoc(import_module(topic.home)) or "")]
    if topic.more is not None:
        told.append(topic.more().strip("\n"))
    return "\n\n".join(told)


def plain(docstring: str) -> str:
    """Return a docstring without its marks for literal text, double colons and backticks."""
    lines = [line for line in docstring.splitlines() if line.strip() != "::"]
    told = "\n".join(line[:-1] if line.endswith("::") else line for line in lines)
    return re.sub(r"\n{3,}", "\n\n", told.replace("``", ""))
