"""Program templates: how a shop's control wants a program to be spelt.

A template is a TOML file; ``nestlib program --print-template`` prints the plain one, whose
comments say what each key means.
"""

from __future__ import annotations

import re
from importlib.resources import as_file, files
from pathlib import Path
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, model_validator

from nestlib.validation import Table, fault, read_toml

#: The template that comes with the package, and its name on the command line.
PLAIN = "plain"
_PLAIN_FILE = "plain-program.toml"

#: What may stand in braces in a line of a template.
NAMES = (
    "number", "part", "kind", "metal", "thickness", "gas", "power", "feed", "pierce", "kerf",
    "title", "file", "sheet", "layout", "beam_on", "mark_on", "beam_off", "units_word", "wait",
)  # fmt: skip

_LEAST_DECIMALS = {"mm": 3, "inch": 5}


def _line(text: str) -> str:
    for name in re.findall(r"\{([^{}]*)\}", text):
        if name not in NAMES:
            raise fault(f"{{{name}}} cannot be filled in", f"Use one of: {', '.join(NAMES)}")
    if re.sub(r"\{[^{}]*\}", "", text).strip("{}") != re.sub(r"\{[^{}]*\}", "", text):
        raise fault(f'the braces of "{text}" do not match', "Close each brace that you open")
    return _plain(text)


def _plain(text: str) -> str:
    if not text.isascii() or not text.isprintable():
        raise fault(f'"{text}" holds what controls cannot read', "Use plain ASCII characters")
    return text


#: How the words begin that somebody still has to put in.
PLACEHOLDER = "PLACEHOLDER_"


def _switch(text: str) -> str:
    if re.fullmatch(rf"{PLACEHOLDER}[A-Z_]+", text):
        return text
    return _word(text)


def _word(text: str) -> str:
    if not re.fullmatch(r"[A-Z]\d+(\.\d+)?", text):
        raise fault(f'"{text}" is no word of a program', 'Give a letter and a number, as in "M123"')
    return text


Line = Annotated[str, AfterValidator(_line)]
Word = Annotated[str, AfterValidator(_word)]
Switch = Annotated[str, AfterValidator(_switch)]


class Words(Table):
    """What switches the beam."""

    beam_on: Switch = Field(description="the word that switches the beam on to cut")
    mark_on: Switch = Field(description="the word that switches the beam on to etch")
    beam_off: Switch = Field(description="the word that switches the beam off")


class Lines(Table):
    """What is written around the moves."""

    first: list[Line] = Field(default=[], description="the lines before everything else")
    start: list[Line] = Field(default=[], description="the lines before the first cut")
    before_rapid: list[Line] = Field(default=[], description="the lines before a rapid")
    after_rapid: list[Line] = Field(default=[], description="the lines after a rapid")
    before_lifted: list[Line] = Field(
        default=[], description="the lines before a rapid with the head raised"
    )
    after_lifted: list[Line] = Field(default=[], description="the lines after such a rapid")
    wait: list[Line] = Field(
        default=["G4 P{wait}"], description="the lines that let the head wait before a cut"
    )
    cut: list[Line] = Field(description="the lines that begin a cut")
    mark: list[Line] = Field(description="the lines that begin a mark")
    after: list[Line] = Field(description="the lines after a cut or mark")
    end: list[Line] = Field(default=[], description="the last lines")


class ProgramTemplate(Table):
    """A whole template."""

    name: Annotated[str, AfterValidator(_plain)] = Field(
        min_length=1, description="a short name of the template"
    )
    checked_by: Annotated[str, AfterValidator(_plain)] = Field(
        default="", description="who has checked it on the machine it is for"
    )
    units: Literal["mm", "inch"] = Field(description='"mm" or "inch"')
    units_word: Word = Field(description="the word for these units on your control")
    decimals: int = Field(ge=3, le=9, description="the decimals of coordinates")
    centres: Literal["from start", "absolute"] = Field(description="what I and J are measured from")
    kerf: Literal["in path", "by control"] = Field(description="who keeps half a slot away")
    dwell: Literal["seconds", "milliseconds"] = Field(
        default="seconds", description="what P counts in a line that waits"
    )
    comment: list[Annotated[str, AfterValidator(_plain)]] = Field(
        min_length=2, max_length=2, description="what stands before and after a comment"
    )
    line_numbers: int = Field(default=0, ge=0, description="the step of the N words; 0 for none")
    line_end: Literal["LF", "CRLF"] = Field(default="LF", description='"LF" or "CRLF"')
    words: Words = Field(description="the [words] that switch the beam")
    lines: Lines = Field(description="the [lines] around the moves")

    @model_validator(mode="after")
    def _fits_together(self) -> ProgramTemplate:
        least = _LEAST_DECIMALS[self.units]
        if self.decimals < least:
            problem = f"{self.decimals} decimals are too few in {self.units}"
            raise fault(problem, f"Give {least} or more: arcs have to close")
        for lines, word in (("cut", "beam_on"), ("mark", "mark_on"), ("after", "beam_off")):
            given = " ".join(getattr(self.lines, lines))
            if f"{{{word}}}" not in given:
                problem = f"the lines under {lines} do not hold {{{word}}}"
                raise fault(problem, "Without it nobody can check where the beam burns")
        if not any("G4" in line and "P{wait}" in line for line in self.lines.wait):
            problem = "the lines under wait do not hold G4 P{wait}"
            raise fault(problem, "Without it nobody can check how long the head waits")
        left = [word for word in self.words.model_dump().values() if word.startswith(PLACEHOLDER)]
        if self.checked_by and left:
            problem = f"{self.checked_by} is said to have checked it, and it still holds {left[0]}"
            raise fault(problem, "Put in the words of your control, or leave checked_by empty")
        return self


def read_template(name_or_path: str | Path = PLAIN) -> ProgramTemplate:
    """Return a template.

    Parameters
    ----------
    name_or_path : str or Path
        ``"plain"`` for the one that comes with the package, or a TOML file.

    Raises
    ------
    JobError
        With every problem of the file.

    Examples
    --------
    >>> read_template().units
    'mm'
    """
    if str(name_or_path) != PLAIN:
        return read_toml(name_or_path, ProgramTemplate)[0]
    with as_file(files("nestlib.writing").joinpath(_PLAIN_FILE)) as path:
        return read_toml(path, ProgramTemplate)[0]


def plain_template_text() -> str:
    """Return the text of the template that comes with the package."""
    return files("nestlib.writing").joinpath(_PLAIN_FILE).read_text(encoding="utf-8")
