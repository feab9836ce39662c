"""What the terminal shows: within 80 columns, plain when piped, names without effect."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from rich.console import Console

from nestlib.metals import capabilities, catalogue, machines
from nestlib.model import Contour, Drawing, Finding, LeftOut, Part, Progress
from nestlib.reporting import (
    ProgressLine,
    print_capabilities,
    print_catalogue,
    print_check,
    print_plan,
    print_verification,
)


@pytest.fixture
def console():
    """A console of 80 columns that is no terminal."""
    return Console(file=io.StringIO(), width=80, markup=False, emoji=False, highlight=False)


def _tables(console):
    """Lines of the tables: running text may be longer when piped."""
    return [line for line in console.file.getvalue().splitlines() if "  " in line.strip()]


def test_a_plan_fits_and_is_plain(plan, console):
    """No escape code, no line of a table beyond 80 columns, the verdict and the folder."""
    print_plan(plan, "out/frame", console=console)
    text = console.file.getvalue()
    assert "\x1b" not in text
    assert max(len(line) for line in _tables(console)) <= 80
    for words in ("Verified: 3 pieces", "out/frame", "Not placed: 1 piece", "Caution:", "[red]"):
        assert words in text


def test_cautions_that_were_told_are_not_told_again(plan, console):
    """Where several jobs are nested at once."""
    print_plan(plan, "out/frame", known=set(plan.cautions), console=console)
    assert "Caution:" not in console.file.getvalue()


@pytest.mark.parametrize(
    ("pieces", "words"),
    [(1, "Verified: 1 piece keeps every rule."), (2, "Verified: 2 pieces keep every rule.")],
)
def test_one_piece_is_no_plural(plan, console, pieces, words):
    """Nor are several pieces one."""
    print_verification(replace(plan.verification, pieces=pieces), console=console)
    assert words in console.file.getvalue()
    assert "1 sheet, " in str(Progress(1.0, "placing", 0.5, 1, 3, 5))


def test_a_broken_plan_is_said_to_be_broken(broken, console):
    """The first violations are listed, the rest counted."""
    print_verification(broken.verification, console=console)
    text = console.file.getvalue()
    assert "NOT VERIFIED: 60 rules are broken" in text
    assert "and 40 more" in text
    assert "to an edge none" in text


def test_a_drawing_is_shown_with_its_findings(console):
    """Part figures, findings with place and remedy, and what is left out."""
    drawing = Drawing(
        "arm.dxf", "in", "file", "R2010", (Part("arm", Contour.rectangle(60, 40), quantity=2),),
        left_out=(LeftOut("TEXT", "NOTES", 3, "never cut"), LeftOut("text", "", 1, "never cut")),
    )  # fmt: skip
    found = Finding(
        "gap-closed", "note", "a gap of 0.02 mm was closed", "Close it in the drawing",
        ((1.0, 2.0), (3.0, 4.0)), "arm", "CUT", "2F",
    )  # fmt: skip
    print_check(drawing, [found], console=console)
    text = console.file.getvalue()
    for words in (
        "60 × 40 mm", "2400.0 mm²", "note gap-closed: arm:", "(1.000, 2.000) and 1 more",
        "handle 2F", "Close it", "3 TEXT on layer NOTES: never", "1 text: never",
        "in, as the file says",
    ):  # fmt: skip
        assert words in text


def test_machines_and_the_catalogue_fit(console):
    """All built-in data fits into 80 columns."""
    for machine in machines():
        print_capabilities(machine, capabilities(machine), console=console)
    print_catalogue(catalogue(), console=console)
    assert max(len(line) for line in _tables(console) if "Source" not in line) <= 80
    assert "mild-steel" in console.file.getvalue()


class Terminal(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self):
        """Say so."""
        return True


def test_progress_is_one_line_on_a_terminal_and_a_log_elsewhere():
    """A terminal's line is overwritten and closed; a pipe gets a line at each new phase."""
    live, piped = Terminal(), io.StringIO()
    for stream in (live, piped):
        with ProgressLine("arm\x1b[2J", stream=stream) as line:
            for i in range(50):
                line(Progress(float(i), "placing", 0.5, 1, i, 50))
            line.phase("verifying")
    assert live.getvalue().count("\n") == 1
    assert "\r" in live.getvalue()
    assert piped.getvalue().count("\n") == 2
    assert "\x1b" not in piped.getvalue()
    assert "verifying" in piped.getvalue()


def test_progress_can_be_quiet():
    """Nothing is written."""
    stream = io.StringIO()
    with ProgressLine("arm", quiet=True, stream=stream) as line:
        line(Progress(0.0, "placing"))
        line.phase("writing")
    assert stream.getvalue() == ""
