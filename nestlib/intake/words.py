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

    Letters of other alphabets stay: texts that differ only in them are not alike.

    Examples
    --------
    >>> plain("Stückzahl [Stk.]"), plain("Qté"), plain("Größe")
    ('stuckzahl stk', 'qte', 'grosse')
    """
    bare = unicodedata.normalize("NFKD", text.casefold())
    bare = "".join(c for c in bare if not unicodedata.combining(c))
    return " ".join(re.findall(r"[^\W_]+", bare))


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

    Every word of the text has to be known for that metal: "Stahl" alone is mild steel, and
    with one word that is not known it may be any steel.

    Examples
    --------
    >>> guess_metal("Blech S235JR+N"), guess_metal("1.4301"), guess_metal("Stahl rostfrei")
    ('mild-steel', 'stainless-304', '')
    """
    words = plain(text).split()
    fit = [
        metal
        for metal, (own, family) in _metal_words().items()
        if _known(words, own) and len(_known(words, own | family)) == len(words)
    ]
    return fit[0] if len(fit) == 1 else ""


def _known(words: list[str], phrases: frozenset[str]) -> set[int]:
    """Places of the words that belong to one of the phrases."""
    n = len(words)
    runs = ((i, j) for i in range(n) for j in range(i + 1, n + 1))
    return {at for i, j in runs if " ".join(words[i:j]) in phrases for at in range(i, j)}


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
def _metal_words() -> dict[str, tuple[frozenset[str], frozenset[str]]]:
    """For each metal the words that name it, and those that may stand with them."""
    metals, families = _words()["metals"], _words()["families"]
    return {
        metal: (
            frozenset(map(plain, words)),
            frozenset(
                plain(word)
                for family in families
                if any(metal.startswith(start) for start in family["metals"])
                for word in family["words"]
            ),
        )
        for metal, words in metals.items()
    }
