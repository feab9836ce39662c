"""The catalogue of findings."""

import dataclasses
import re

import pytest

from nestlib.drawings.codes import CODES, LEVELS, finding


@pytest.mark.parametrize("code", CODES)
def test_every_code_is_a_plain_name_with_level_title_and_remedy(code):
    """A code is lower-case words joined by hyphens, and the catalogue explains it."""
    known = CODES[code]
    assert re.fullmatch(r"[a-z]+(-[a-z]+)+", code)
    assert known.level in LEVELS
    assert known.title
    assert known.remedy
    # Messages are joined as sentences, so neither may bring its own full stop.
    assert not known.title.endswith(".")
    assert not known.remedy.endswith(".")


def test_titles_differ():
    """No two codes look the same in a legend."""
    titles = [known.title for known in CODES.values()]
    assert len(set(titles)) == len(titles)


def test_the_catalogue_cannot_be_changed():
    """What a code means is the same for everybody."""
    with pytest.raises(TypeError):
        CODES["open-contour"] = None
    with pytest.raises(dataclasses.FrozenInstanceError):
        CODES["open-contour"].level = "note"


def test_a_finding_takes_level_and_remedy_from_the_catalogue():
    """Only the message and the place have to be said."""
    found = finding("open-contour", "two ends", places=[(1, 2)], layer="CUT", handle="2F")
    assert (found.level, found.remedy) == ("error", CODES["open-contour"].remedy)
    assert (found.places, found.layer, found.handle) == (((1.0, 2.0),), "CUT", "2F")


def test_a_finding_may_know_a_better_remedy():
    """The usual remedy gives way to the one that was given."""
    assert finding("no-parts", "nothing", remedy="Draw something").remedy == "Draw something"


def test_an_unknown_code_is_refused():
    """A code that is not in the catalogue is a mistake of ours."""
    with pytest.raises(KeyError):
        finding("never-heard-of", "nothing")
