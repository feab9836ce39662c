"""The draft of a mapping: what an export seems to say, as TOML with comments to be checked."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from nestlib.errors import JobError, Problem
from nestlib.input_files import seen_from
from nestlib.intake.days import Order, guess_order
from nestlib.intake.export import Export
from nestlib.intake.finding import DrawingIndex, find_drawing
from nestlib.intake.numbers import guess_decimal, looks_like_number
from nestlib.intake.sizes import guess_unit, split_metal
from nestlib.intake.texts import AUTO
from nestlib.intake.titles import Titles, guess_titles, titles_in
from nestlib.intake.words import guess_metal, language_of, plain
from nestlib.jobs.cells import Cell, Row

#: Patterns that are tried, the plainest first.
_PATTERNS = ("{drawing}", "{part}", "{part}_*.dxf", "{part}-*.dxf", "{part}*.dxf")
_NEEDED = ("part", "quantity", "metal")
_OPTIONAL = ("thickness", "drawing", "due", "kit", "priority")
#: So many rows are looked at for a pattern.
_SAMPLE = 500


@dataclass
class Draft:
    """A draft and what its user has to look at.

    Parameters
    ----------
    text : str
        The mapping, as TOML.
    to_check : list of str
        Guesses that nothing in the export proves, in plain words.
    """

    text: str = ""
    to_check: list[str] = field(default_factory=list)


def draft_mapping(export: Export, folders: Sequence[Path], beside: Path) -> Draft:
    """Return the draft of a mapping.

    Parameters
    ----------
    export : Export
        What is to be understood.
    folders : sequence of Path
        Where drawings are.
    beside : Path
        Folder in which the mapping will lie: paths in it are relative to that.

    Raises
    ------
    JobError
        If there are no rows below the titles.
    """
    titles = guess_titles(export.rows)
    rows = [row for row in export.rows if row.number > titles.row]
    if not rows:
        remedy = "Check that the export has rows below its titles"
        raise JobError(Problem(export.file, "", "the export holds no rows", remedy))
    table = _Table(titles, rows)
    draft = Draft()
    sections = (
        _head(export, titles),
        _file(export, table, draft),
        _columns(table, draft),
        _thickness(table, draft),
        _metals(table, draft),
        _drawings(table, folders, beside, draft),
        _job(table, draft),
    )
    draft.text = "\n".join("\n".join(lines) + "\n" for lines in sections)
    return draft


@dataclass(frozen=True)
class _Table:
    """The export below its titles."""

    titles: Titles
    rows: list[Row]

    @property
    def language(self) -> str:
        return language_of(list(self.titles.titles))

    def column(self, field_name: str) -> list[Cell]:
        """Cells of a field; none if no column means it."""
        title = self.titles.fields.get(field_name)
        return [] if title is None else self.titled(title)

    def titled(self, title: str) -> list[Cell]:
        at = self.titles.titles.index(title)
        return [row.cells[at] for row in self.rows if at < len(row.cells)]


def _head(export: Export, titles: Titles) -> Iterator[str]:
    yield f"# Draft of a mapping by nestlib intake, made from {Path(export.file).name}."
    yield f"# Its titles were found in row {titles.row}. Check every line, CHECK first; then say"
    yield "# confirmed = true, or run the same command with --confirm."
    yield "confirmed = false"


def _file(export: Export, table: _Table, draft: Draft) -> Iterator[str]:
    yield "[file]"
    if export.kind != "workbook":
        # A text without any accent does not show how others will be encoded.
        yield _line("encoding", AUTO if export.data.isascii() else export.encoding)
    if export.kind == "text":
        yield _line("delimiter", "tab" if export.delimiter == "\t" else export.delimiter)
    comma = table.language != "english" or export.delimiter == ";"
    decimal, shown = guess_decimal(_numbers(table), "," if comma else ".")
    yield _line("decimal", decimal, draft, "" if shown else "no number shows the decimal sign")
    usual: Order = "month day year" if table.language == "english" else "day month year"
    days = table.column("due")
    order, shown = guess_order(days, usual)
    told = shown or not any(_is_short(cell) for cell in days)
    yield _line("days", order, draft, "" if told else "no date shows which number is the month")


def _columns(table: _Table, draft: Draft) -> Iterator[str]:
    fields = table.titles.fields
    yield "[columns]"
    known = ", ".join(repr(t) for t in table.titles.titles if t)
    yield f"# Titles in the export: {known}"
    line = [fields[name] for name in ("order", "position") if name in fields]
    why = "" if line else "nothing names an order line: rows go by their number"
    yield _line("line", line, draft, why)
    for name in _NEEDED:
        why = "" if name in fields else f"which column is the {name}? It has to be said"
        yield _line(name, fields.get(name, ""), draft, why)
    for name in _OPTIONAL:
        if name in fields:
            yield _line(name, fields[name])
        elif name == "thickness":
            yield _line(name, "", draft, "no column of thicknesses: it has to stand with the metal")
        else:
            yield f'# {name} = ""'


def _thickness(table: _Table, draft: Draft) -> Iterator[str]:
    title = table.titles.fields.get("thickness", "")
    unit, told = guess_unit(title, [str(c).strip() for c in table.column("thickness") if c])
    yield "[thickness]"
    yield _line("unit", unit, draft, "" if told else "the unit of numbers without one")


def _metals(table: _Table, draft: Draft) -> Iterator[str]:
    yield "[metals] # names of `nestlib metals`"
    inside = "thickness" not in table.titles.fields
    seen: dict[str, str] = {}
    for cell in table.column("metal"):
        text = " ".join(str(cell or "").split())
        text = split_metal(text)[0] if inside else text
        if text:
            seen.setdefault(plain(text), text)
    for text in seen.values():
        metal = guess_metal(text)
        why = "" if metal else f'which metal is "{text}"? Without a name its rows are set aside'
        line = _line(_quoted(text), metal, draft, why)
        yield line if metal else f"# {line}"


def _drawings(table: _Table, folders: Sequence[Path], beside: Path, draft: Draft) -> Iterator[str]:
    index = DrawingIndex(folders)
    rows = table.rows[:_SAMPLE]
    hits = {pattern: _hits(pattern, table, rows, index) for pattern in _PATTERNS}
    found = [pattern for pattern in _PATTERNS if hits[pattern]]
    useful = [p for i, p in enumerate(found) if not any(hits[p] <= hits[q] for q in found[:i])]
    missing = len(rows) - len(set().union(*hits.values()))
    yield "[drawings]"
    yield "# folders are searched with all folders in them; the first pattern that fits counts"
    yield _line("folders", [seen_from(beside, folder) for folder in folders])
    why = f"{missing} of {len(rows)} rows have no drawing in the folders" if missing else ""
    yield _line("patterns", useful or ["{part}"], draft, why)


def _job(table: _Table, draft: Draft) -> Iterator[str]:
    inches = any('"' in str(c) or " in" in str(c) for c in table.column("thickness"))
    yield "[job] # keys of a job file, for every job"
    yield _line("machine", "co2-400", draft, "the machine that cuts them")
    yield _line("units", "mm", draft, "the unit of drawings that give none")
    yield '# currency = "EUR"'
    yield ""
    yield "[[sheet]] # as in a job file; for_metal and for_thickness say which jobs it is for"
    yield _line("size", "120x60in" if inches else "3000x1500", draft, "the sheets on the rack")


def _hits(pattern: str, table: _Table, rows: Sequence[Row], index: DrawingIndex) -> set[int]:
    """Numbers of the rows whose drawing a pattern finds."""
    return {row.number for row in rows if _finds(pattern, table, row, index)}


def _finds(pattern: str, table: _Table, row: Row, index: DrawingIndex) -> bool:
    titles = titles_in(Row(0, table.titles.titles))

    def value(name: str) -> str:
        title = table.titles.fields.get(name)
        if title is None or (at := titles.index(title)) >= len(row.cells):
            return ""
        cell = row.cells[at]
        whole = isinstance(cell, float) and cell.is_integer()
        return str(int(cell)) if whole else str(cell or "").strip()  # type: ignore[arg-type]

    try:
        find_drawing(index, (pattern,), value)
    except ValueError:
        return False
    return True


def _numbers(table: _Table) -> list[str]:
    """Texts of columns of numbers; those that name things do not count."""
    names = {"order", "position", "part", "drawing", "due", "metal", "kit"}
    left_out = {title for name, title in table.titles.fields.items() if name in names}
    found: list[str] = []
    for title in table.titles.titles:
        cells = [c for c in table.titled(title) if isinstance(c, str) and c] if title else []
        numbers = [c.split()[0] if c.split()[1:] else c for c in cells]
        numbers = [n for n in numbers if looks_like_number(n)]
        if title not in left_out and len(numbers) * 2 > len(cells):
            found += numbers
    return found


def _is_short(cell: Cell) -> bool:
    """Whether a day is written with its year last."""
    return isinstance(cell, str) and not cell[:4].isdecimal() and bool(cell)


def _line(key: str, value: Any, draft: Draft | None = None, why: str = "") -> str:
    """One line of TOML; with a reason to check it, that stands behind it too."""
    import tomlkit

    text = f"{key} = {tomlkit.item(value).as_string()}"
    if why and draft is not None:
        draft.to_check.append(why)
        return f"{text} # CHECK: {why}"
    return text


def _quoted(text: str) -> str:
    import tomlkit

    return tomlkit.item(text).as_string()


def confirmed(text: str) -> str:
    """Return a mapping as confirmed; comments stay where they are.

    Examples
    --------
    >>> confirmed("confirmed = false # yet")
    'confirmed = true # yet'
    """
    import tomlkit

    document = tomlkit.parse(text)
    document["confirmed"] = True
    return tomlkit.dumps(document)
