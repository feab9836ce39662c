"""Trade words: which column a title means, and which metal a grade is.

Guesses only: they make the draft of a mapping, which its user checks.
"""

from __future__ import annotations

import re
import tomllib
import unicodedata
from functools import cache
from importlib.resources import files
from typing import Any

#: Columns that a mapping may name, in the order of the draft.
FIELDS = (
    *("order", "position", "part", "drawing", "quantity", "metal", "thickness"),
    *("due", "kit", "priority"),
)

#: How well a title fits: it is the word, or it holds it.
_IS, _HOLDS = 2, 1


def plain(text: str) -> str:
    """Return a text in small letters without accents and signs, for comparing.

    Examples
    --------
    >>> plain("Stückzahl [Stk.]"), plain("Qté"), plain("Größe")
    ('stuckzahl stk', 'qte', 'grosse')
    """
    bare = unicodedata.normalize("NFKD", text.casefold())
    bare = "".join(c for c in bare if not unicodedata.combining(c))
    return " ".join(re.findall(r"[a-z0-9]+", bare))


def field_scores(title: str) -> dict[str, int]:
    """Return how well a title fits each field; those it does not fit are left out.

    Examples
    --------
    >>> field_scores("Blechdicke (mm)")
    {'thickness': 2}
    """
    without_unit = plain(re.sub(r"[(\[{/].*", "", title)) or plain(title)
    found: dict[str, int] = {}
    for field, words in _column_words().items():
        if without_unit in words or plain(title) in words:
            found[field] = _IS
        elif any(_holds(without_unit, word) for word in words if len(word) > 2):
            found[field] = _HOLDS
    return found


def language_of(titles: list[str]) -> str:
    """Return the language that most titles are in; English if there is no telling.

    Examples
    --------
    >>> language_of(["Pos", "Menge", "Werkstoff"])
    'german'
    """
    known = [plain(title) for title in titles]
    counts: dict[str, int] = {"english": 0}
    for by_language in _words()["columns"].values():
        for language, words in by_language.items():
            hits = sum(title in words for title in known)
            counts[language] = counts.get(language, 0) + hits
    return max(counts, key=lambda language: counts[language])


def guess_metal(text: str) -> str:
    """Return the metal that a text names; empty if it names none, or only a family.

    Grades, which have digits, say more than words, and long words more than short ones.

    Examples
    --------
    >>> guess_metal("Blech S235JR+N"), guess_metal("1.4301"), guess_metal("Edelstahl")
    ('mild-steel', 'stainless-304', '')
    """
    there = plain(text)
    found = [
        (any(c.isdecimal() for c in word), len(word), metal)
        for word, metal in _metal_words()
        if _holds(there, word)
    ]
    return max(found, default=(False, 0, ""))[2]


def is_piece_word(text: str) -> bool:
    """Return whether a text stands for pieces, such as ``"Stk."``."""
    return plain(text) in _words()["pieces"]["words"]


def _holds(text: str, word: str) -> bool:
    return f" {word} " in f" {text} "


@cache
def _words() -> dict[str, Any]:
    file = files("nestlib.intake.data").joinpath("words.toml")
    return tomllib.loads(file.read_text(encoding="utf-8"))


@cache
def _column_words() -> dict[str, frozenset[str]]:
    columns = _words()["columns"]
    return {
        field: frozenset(word for words in columns[field].values() for word in words)
        for field in FIELDS
    }


@cache
def _metal_words() -> tuple[tuple[str, str], ...]:
    pairs = [(plain(w), metal) for metal, words in _words()["metals"].items() for w in words]
    return (*pairs, *((plain(word), "") for word in _words()["families"]["words"]))
