"""Examples of the documentation, and how they are run.

A page is run from its top to its end in an empty folder, as a reader would do it:

- ``console``: lines that begin with ``$`` are run, and what they print has to stand below.
  ``…`` stands for the rest of a line, or alone for any lines. ``$ cat FILE`` of a file that is
  not there makes it of what is shown. Only before ``$ echo $?`` may a command fail.
- ``python`` is run, and ``pycon`` is a session of Python with what it prints.
- ``toml title="NAME"`` (or ``text``) is written to a file; other ``toml`` is checked as some
  keys of a job file.
- ``sh`` is not run, but the arguments of each nestlib command have to be ones that it takes.
- ``text`` is no example.
"""

from __future__ import annotations

import doctest
import os
import re
import shlex
import subprocess
import sys
import tomllib
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click
from click.testing import CliRunner
from nestlib_cli import main

from nestlib.jobs.entries import PartEntry
from nestlib.jobs.job_file import JobFile

ROOT = Path(__file__).parents[2]
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").rglob("*.md"))]

#: Languages of blocks that are examples.
RUN = ("console", "python", "pycon")

#: What to do about a page that shows something else.
_REFRESH = "python -m tests.docs.refresh PAGE writes what is printed now"

#: A number by itself: not a part of a name.
_NUMBER = re.compile(r"(?<![\w.\-/])\d+(?:\.\d+)?(?![\w\-/]|\.\w)")

#: Numbers that differ by less than this share agree.
_ALIKE = 0.1

_FENCE = re.compile(r"^```(?P<info>[^`\n]*)\n(?P<text>.*?)^```$", re.MULTILINE | re.DOTALL)
_OPERATORS = re.compile(r"[|;&<>`]|\$\(")


@dataclass(frozen=True)
class Block:
    """A fenced block of a page: language, title, text, and where the text stands."""

    language: str
    title: str
    text: str
    span: tuple[int, int]


def blocks(page: Path) -> list[Block]:
    """Every block of a page."""
    found = []
    for match in _FENCE.finditer(page.read_text(encoding="utf-8")):
        language, _, rest = match["info"].partition(" ")
        title = re.search(r'title="([^"]+)"', rest)
        found.append(Block(language, title[1] if title else "", match["text"], match.span("text")))
    return found


def demand_same_pictures(page: Path, folder: Path) -> None:
    """Fail if a picture that the commands of a page write is not the one that it shows."""
    for shown, made in pictures(page, folder):
        assert _words(made) == _words(shown), f"{shown} differs\n{_REFRESH}"


def _words(picture: Path) -> Counter[str]:
    """What a picture is made of but its numbers: elements, classes, colours, texts."""
    return Counter(re.findall(r"[A-Za-z#][\w#-]*", picture.read_text(encoding="utf-8")))


def pictures(page: Path, folder: Path) -> list[tuple[Path, Path]]:
    """Pictures of a page that its commands write into a folder: as shown, and as written."""
    links = re.findall(r"^!\[[^\]]*\]\((\S+)\)", page.read_text(encoding="utf-8"), re.MULTILINE)
    pairs = [(page.parent / link, folder / Path(link).name) for link in links]
    return [(shown, made) for shown, made in pairs if made.exists()]


def steps(text: str) -> list[tuple[str, str]]:
    """Return the commands of a console and what shall be printed by each."""
    found: list[tuple[str, str]] = []
    for begun in re.split(r"^\$ ", text, flags=re.MULTILINE)[1:]:
        lines = begun.splitlines()
        end = next(i for i, line in enumerate(lines) if not line.endswith("\\")) + 1
        found.append(("\n".join(lines[:end]), "\n".join(lines[end:])))
    return found


class Reader:
    """Somebody who tries all of a page in a folder.

    Parameters
    ----------
    folder : Path
        An empty one, which is the current one.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._names: dict[str, Any] = {"__name__": "__main__"}
        self._code = 0

    def read(self, block: Block) -> None:
        """Do what a block shows."""
        if block.title:
            Path(block.title).write_text(block.text, encoding="utf-8")
        elif block.language == "console":
            for command, shown in steps(block.text):
                told = self._code == 0 or command == "echo $?"
                assert told, "the command before failed, and the page does not say so"
                demand_same(command, shown, self.printed(command, shown))
        elif block.language == "python":
            exec(compile(block.text, "example", "exec"), self._names)
        elif block.language == "pycon":
            self._converse(block.text)
        elif block.language == "toml":
            _demand_keys(block.text)
        elif block.language == "sh":
            for words in commands(block.text):
                demand_understood(words)

    def printed(self, command: str, shown: str) -> str:
        """Run a command and return what it prints."""
        if command == "echo $?":
            code, self._code = self._code, 0
            return str(code)
        wanted = re.fullmatch(r"cat (\S+)", command)
        if wanted and not Path(wanted[1]).exists():
            Path(wanted[1]).write_text(shown + "\n", encoding="utf-8")
        if command.startswith("nestlib ") and not _OPERATORS.search(command):
            return self._in_process(_expanded(command)[1:])
        path = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"
        done = subprocess.run(
            ["bash", "-c", command],
            env={**os.environ, "PATH": path},
            capture_output=True,
            text=True,
        )
        self._code = done.returncode
        return done.stdout + (done.stderr if done.returncode else "")

    def _in_process(self, words: list[str]) -> str:
        """Run nestlib here, where its kernels are loaded once for all pages."""
        few = {"workers": 1}
        done = CliRunner().invoke(
            main, words, prog_name="nestlib", default_map={"nest": few, "buy": few}
        )
        self._code = done.exit_code
        return done.stdout + (done.stderr if done.exit_code else "")

    def _converse(self, text: str) -> None:
        runner = doctest.DocTestRunner(verbose=False, optionflags=doctest.ELLIPSIS)
        example = doctest.DocTestParser().get_doctest(text, self._names, "page", None, 0)
        told: list[str] = []
        runner.run(example, out=told.append, clear_globs=False)
        self._names.update(example.globs)
        assert runner.summarize(verbose=False).failed == 0, "".join(told)


def _expanded(command: str) -> list[str]:
    """Return the words of a command as a shell sees them, file names found."""
    asked = f"printf '%s\\0' {command}"
    done = subprocess.run(["bash", "-c", asked], capture_output=True, text=True, check=True)
    return done.stdout.split("\0")[:-1]


def demand_same(command: str, shown: str, printed: str) -> None:
    """Fail if a command prints something else than a page shows."""
    assert same(shown, printed), f"$ {command}\n{printed}\n--- is shown as ---\n{shown}\n{_REFRESH}"


def same(shown: str, printed: str) -> bool:
    """Whether two texts agree.

    Empty lines, the width of columns and a tenth of a number do not count: another processor
    rounds sums otherwise, and a layout may then be a little longer or shorter. Counts below
    ten have to be the same.
    """
    wanted, got = _lines(shown), _lines(printed)
    pattern = "".join(r"(?:.*\n)*?" if line == "…" else _pattern(line) + "\n" for line in wanted)
    found = re.fullmatch(pattern, "".join(f"{line}\n" for line in got))
    if found is None:
        return False
    numbers = [n for line in wanted if line != "…" for n in _NUMBER.findall(line)]
    return all(
        abs(float(a) - float(b)) <= _ALIKE * float(a)
        for a, b in zip(numbers, found.groups(), strict=True)
    )


def _pattern(line: str) -> str:
    """A line with a group for each of its numbers."""
    known = iter(re.split(r"(…)|" + _NUMBER.pattern, line))
    texts = ["" if text is None else ".*?" if text == "…" else re.escape(text) for text in known]
    # Between two texts lies an ellipsis or a number.
    return "".join(
        text if k % 2 == 0 else text or f"({_NUMBER.pattern})" for k, text in enumerate(texts)
    )


def _lines(text: str) -> list[str]:
    """Lines that are not empty, with single spaces and short rules."""
    lines = [re.sub(r"─+", "─", " ".join(line.split())) for line in text.splitlines()]
    return [line for line in lines if line]


def commands(text: str) -> Iterator[list[str]]:
    """Yield the words after `nestlib` of each call in lines of shell."""
    plain = re.sub(r"\$\([^)]*\)", "X", text.replace("\\\n", " "))
    plain = re.sub(r">+ *\S+", "", plain)  # where it is written to
    for line in plain.splitlines():
        words: list[str] = []
        lexer = shlex.shlex(line, posix=True, punctuation_chars=";&|<>")
        lexer.whitespace_split = True
        for word in [*lexer, ";"]:
            if not set(word) <= set(";&|<>"):
                words.append(word)
                continue
            if words and Path(words[0]).name == "nestlib":
                yield words[1:]
            words = []


def demand_understood(words: list[str]) -> None:
    """Fail if nestlib does not take these arguments; nothing is run."""
    command: click.Command = main
    context = click.Context(main, info_name="nestlib")
    while isinstance(command, click.Group):
        name, *words = words
        found = command.get_command(context, name)
        assert found is not None, f"there is no command {name}"
        command = found
    command.make_context(command.name, words)


def _demand_keys(text: str) -> None:
    """Fail if some keys of a job file are not understood."""
    keys = tomllib.loads(text)
    parts = keys.pop("part", [])
    least = {"metal": "mild-steel", "thickness": "3 mm", "sheet": [{"size": "3000x1500"}]}
    JobFile.model_validate({**least, "parts": "parts.csv", **keys})
    for part in parts:
        drawing = {"drawing": __file__}  # any file that is there
        PartEntry.model_validate({**part, **drawing})
