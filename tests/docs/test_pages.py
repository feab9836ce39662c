"""Every example of the documentation does what it shows."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from tests.docs.links import TEXTS, leads, links
from tests.docs.pages import (
    PAGES,
    ROOT,
    RUN,
    Block,
    Reader,
    blocks,
    demand_same_pictures,
    same,
    steps,
)

#: Blocks that may stand on a page; those in braces are for whoever builds the pages.
_KNOWN = (*RUN, "toml", "sh", "text", "{toctree}", "{eval-rst}", "{image}")


def _page(page: Path) -> object:
    name = page.relative_to(ROOT).as_posix()
    runs = any(block.language in RUN for block in blocks(page))
    needs = pytest.mark.skipif(sys.platform != "linux", reason="shows commands of a Linux shell")
    return pytest.param(page, id=name, marks=[pytest.mark.slow, needs] if runs else [])


@pytest.mark.parametrize("page", [_page(page) for page in PAGES])
def test_a_page_can_be_followed(
    page: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """From its top to its end, in an empty folder; what is shown is what is printed."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("NESTLIB_STOCK", str(tmp_path / "rack.sqlite"))
    monkeypatch.setenv("COLUMNS", "110")
    (tmp_path / "drawings").mkdir()
    reader = Reader(tmp_path)
    for block in blocks(page):
        reader.read(block)
    demand_same_pictures(page, tmp_path)


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.stem)
def test_no_block_is_forgotten(page: Path) -> None:
    """Each has a language, so that it is run, or said not to be an example."""
    assert {block.language for block in blocks(page)} <= set(_KNOWN)


@pytest.mark.parametrize("page", TEXTS, ids=lambda page: page.stem)
def test_links_lead_somewhere(page: Path) -> None:
    """To a file of the project, and a heading in it; those to elsewhere are well-formed."""
    assert [link for link in links(page) if not leads(page, link)] == []


def test_a_dead_link_is_found() -> None:
    """A file or a heading that is not there, or half an address."""
    page = ROOT / "README.md"
    for link in ("docs/nothing.md", "#nothing", "docs/index.md#nothing", "https://", "http:x"):
        assert not leads(page, link)
    for link in ("docs/index.md", "#safety", "docs/limits.md#what-it-does-not-do-yet"):
        assert leads(page, link)
    assert leads(page, "https://example.org/a")


def test_steps_of_a_console() -> None:
    """Commands over several lines, and what each prints."""
    text = "$ nestlib a \\\n    b\none\ntwo\n$ echo $?\n0\n"
    assert steps(text) == [("nestlib a \\\n    b", "one\ntwo"), ("echo $?", "0")]


@pytest.mark.parametrize(
    ("shown", "printed", "agree"),
    [
        ("a\n\nb ", "a\nb\n", True),
        ("a\n…\nb", "a\nx\ny\nb", True),
        ("a\n…\nb", "a\nb", True),
        ("a … c", "a b c", True),
        ("a", "a\nb", False),
        ("a.c", "abc", False),
        ("a\n…\nb", "a\nx", False),
        ("31.3 % used, 8 pieces", "31.9 % used, 8 pieces", True),
        ("a  9.5\n────", "a 10.1\n─────", True),
        ("… 8 pieces in 2.0 s", "Placed 9 pieces in 2.0 s", False),
        ("100 s", "120 s", False),
        ("plan-1a2b 3", "plan-1a2c 3", False),
    ],
)
def test_what_agrees(shown: str, printed: str, agree: bool) -> None:
    """Only what an ellipsis stands for may differ, and numbers by a tenth."""
    assert same(shown, printed) is agree


@pytest.mark.parametrize(
    ("language", "text"),
    [
        ("console", "$ echo one\ntwo\n"),
        ("console", "$ false\n$ echo two\ntwo\n"),
        ("python", "assert 1 == 2\n"),
        ("pycon", ">>> 1 + 1\n3\n"),
        ("toml", 'joints = "glue"\n'),
        ("toml", 'jonits = "all"\n'),
        ("sh", "cd x && nestlib nest job.toml --spacing\n"),
        ("sh", "nestlib nets job.toml\n"),
    ],
)
def test_a_wrong_example_is_found(language: str, text: str, tmp_path: Path) -> None:
    """The reader notices what does not work."""
    with pytest.raises(Exception):  # noqa: B017, PT011 - each kind fails in its own way
        Reader(tmp_path).read(Block(language, "", text, (0, 0)))
