"""Which row holds the titles of the columns, and what each column means."""

from __future__ import annotations

from dataclasses import dataclass

from nestlib.intake.words import FIELDS, field_scores
from nestlib.jobs.cells import Cell, Row

#: Titles stand in one of the first rows; above them there may be headings.
_SEARCHED = 50
#: A row of titles names at least so many things that are known.
_FEWEST = 2


@dataclass(frozen=True)
class Titles:
    """Titles of the columns and what they mean.

    Parameters
    ----------
    row : int
        Number of the row they stand in.
    titles : tuple of str
        From left to right; a title that comes twice has a number behind it.
    fields : dict of str to str
        From the fields that were recognised to their titles.
    """

    row: int
    titles: tuple[str, ...]
    fields: dict[str, str]


def guess_titles(rows: tuple[Row, ...]) -> Titles:
    """Return the row among the first ones in which most fields are recognised.

    If there is none, the longest row counts, and no field is recognised.
    """
    first = rows[:_SEARCHED]
    best = max(first, key=lambda row: (len(_fields(titles_in(row))), -row.number))
    fields = _fields(titles_in(best))
    if len(fields) >= _FEWEST:
        return Titles(best.number, titles_in(best), fields)
    longest = max(first, key=lambda row: (len([c for c in row.cells if c]), -row.number))
    return Titles(longest.number, titles_in(longest), {})


def titles_in(row: Row) -> tuple[str, ...]:
    """Return the texts of a row as titles: on one line, each only once.

    Examples
    --------
    >>> titles_in(Row(1, ("Pos", "Menge\\nStk", "Pos", None)))
    ('Pos', 'Menge Stk', 'Pos (2)', '')
    """
    made: list[str] = []
    for cell in row.cells:
        text = " ".join(_text(cell).split())
        before = sum(t == text or t.startswith(f"{text} (") for t in made)
        made.append(f"{text} ({before + 1})" if text and text in made else text)
    return tuple(made)


def row_of_titles(rows: tuple[Row, ...], wanted: set[str]) -> Row | None:
    """Return the first row in which all wanted titles stand; None if there is none."""
    near = (row for row in rows if wanted <= set(titles_in(row)))
    return next(near, None)


def _fields(titles: tuple[str, ...]) -> dict[str, str]:
    """The best title for each field; each title is given away once, the surest first."""
    scored = [
        (-score, number, FIELDS.index(field), field, title)
        for number, title in enumerate(titles)
        if 0 < len(title) < 60
        for field, score in field_scores(title).items()
    ]
    found: dict[str, str] = {}
    for *_, field, title in sorted(scored):
        if field not in found and title not in found.values():
            found[field] = title
    return {field: found[field] for field in FIELDS if field in found}


def _text(cell: Cell) -> str:
    return cell if isinstance(cell, str) else "" if cell is None else str(cell)
