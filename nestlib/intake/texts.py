"""The text of an export: its encoding and its delimiter.

Encodings are told by byte order marks, by being valid UTF-8, and else, among those that
offices save in, by trade words, odd signs and charset-normalizer. Among the delimiters wins
the one with which a row holds most trade words, then the one that splits most rows into the
same number of cells.
"""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections import Counter

from nestlib.errors import JobError, Problem
from nestlib.intake.words import field_scores

DELIMITERS = (";", "\t", ",", "|")

_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
#: What exports are saved in besides UTF-8, the usual one first.
_LIKELY = ["cp1252", "cp1250", "cp1251", "cp1253", "cp1254", "cp850", "cp852", "mac_roman"]
#: The encoding of a mapping that leaves it to each export.
AUTO = "auto"
#: Signs that offices write besides letters.
_USUAL_SIGNS = "€£§°µ²³±×–—„“”‚‘’«»…·\u00a0"
#: Titles stand in one of so many lines, in no more than so many cells.
_HEADS, _WIDEST = 30, 60
#: So many rows tell the delimiter.
_LOOKED_AT = 200


def guess_encoding(data: bytes) -> str:
    """Return the encoding of a text.

    Examples
    --------
    >>> guess_encoding("Größe;Stärke".encode("utf-16")), guess_encoding("é".encode())
    ('utf-16', 'utf-8')
    """
    mark = next((name for sign, name in _MARKS if data.startswith(sign)), None)
    if mark:
        return mark
    if b"\0" in data[:200]:
        return "utf-16-le" if data[1:2] == b"\0" else "utf-16-be"
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return _unmarked(data)
    return "utf-8"


def decoded(file: str, data: bytes, encoding: str) -> str:
    """Return the text of an export; a byte order mark beats the encoding that is named.

    With `AUTO` the encoding is told from the text.

    Raises
    ------
    JobError
        If it is not in that encoding.
    """
    mark = next((name for sign, name in _MARKS if data.startswith(sign)), None)
    encoding = guess_encoding(data) if encoding == AUTO else encoding
    try:
        text = data.decode(mark or encoding)
    except (UnicodeDecodeError, LookupError):
        problem = f'the text is not in the encoding "{mark or encoding}"'
        remedy = "Correct encoding under [file] in the mapping, or save the export as UTF-8"
        raise JobError(Problem(file, "", problem, remedy)) from None
    if "\0" in text:
        problem, remedy = "this is neither a text nor a workbook", "Export it as CSV or XLSX"
        raise JobError(Problem(file, "", problem, remedy))
    return text


def guess_delimiter(text: str) -> str:
    """Return what stands between the cells of a text.

    Examples
    --------
    >>> guess_delimiter("Orders\\n\\nPart;Qty\\nA, left;1,5\\n")
    ';'
    """
    return max(DELIMITERS, key=lambda delimiter: _fitness(text, delimiter))


def split_rows(file: str, text: str, delimiter: str) -> list[tuple[int, tuple[str, ...]]]:
    """Return line numbers, counted from 1, and cells of all rows.

    Raises
    ------
    JobError
        If a row cannot be split.
    """
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=False)
    rows: list[tuple[int, tuple[str, ...]]] = []
    number = 1
    try:
        for cells in reader:
            rows.append((number, tuple(cell.strip() for cell in cells)))
            number = reader.line_num + 1
    except csv.Error as error:
        problem = f"the row cannot be split into cells ({error})"
        remedy = 'A cell that holds the delimiter or a line break stands in "quotes"'
        raise JobError(Problem(file, f"row {number}", problem, remedy)) from None
    return rows


def _unmarked(data: bytes) -> str:
    """Tell one encoding of a byte a letter from another; Windows-1252 if nothing fits.

    In short texts the languages that charset-normalizer looks for hardly show, so titles
    that are trade words come first, and then how few signs there are that are no letters.
    """
    from charset_normalizer import from_bytes

    ranks = {m.encoding: rank for rank, m in enumerate(from_bytes(data, cp_isolation=_LIKELY))}

    def fitness(encoding: str) -> tuple[int, int, int, int]:
        text = data.decode(encoding)
        odd = sum(not c.isascii() and not c.isalpha() and c not in _USUAL_SIGNS for c in text)
        words = max((_words_in(line) for line in text.splitlines()[:_HEADS]), default=0)
        return words, -odd, encoding == "cp1252", -ranks.get(encoding, len(ranks))

    return max((e for e in _LIKELY if _decodes(data, e)), key=fitness, default="cp1252")


def _decodes(data: bytes, encoding: str) -> bool:
    try:
        data.decode(encoding)
    except UnicodeDecodeError:
        return False
    return True


def _words_in(line: str) -> int:
    """How many cells of a line are trade words, whatever stands between them."""
    return sum(bool(field_scores(cell)) for cell in re.split(r"[;,|\t]", line)[:_WIDEST])


def _fitness(text: str, delimiter: str) -> tuple[int, float]:
    """How many trade words head a row, and how many rows are as long as most."""
    head = "\n".join(text.splitlines()[:_LOOKED_AT])
    rows = [cells for _, cells in split_rows("", head, delimiter) if any(cells)]
    words = max((_known(cells) for cells in rows[:_HEADS]), default=0)
    lengths = Counter(len(cells) for cells in rows if len(cells) > 1)
    return words, max(lengths.values(), default=0) / max(len(rows), 1)


def _known(cells: tuple[str, ...]) -> int:
    return sum(bool(field_scores(cell)) for cell in cells if len(cell) < 60)
