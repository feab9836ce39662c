"""How long it takes to read, group and check a large export, and to see that it is known."""

from __future__ import annotations

import csv
import io
import json
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from random import Random

import click

from benchmarks import options
from benchmarks.measured import Measurement, Row, file_of
from nestlib.intake import confirmed, draft_mapping, read_export, take_in

KEYS = ("shape", "lines")

Line = tuple[str | int | float, ...]

_TITLES = ("Auftrag", "Pos", "Artikel", "Menge", "Werkstoff", "Dicke", "Liefertermin")
_METALS = ("S235JR", "1.4301", "DC01", "DX51D+Z275")
_SIZES = (1.5, 2, 3.0)
#: So many drawings lie in folders; one line in so many names one that is not there.
_DRAWINGS, _BAD = 1200, 500


def lines(number: int, seed: int = 1) -> Iterator[Line]:
    """Return the rows of an export by a generator: orders of seven lines each."""
    random = Random(seed)
    for i in range(number):
        part = f"P-{random.randrange(_DRAWINGS):05d}" if i % _BAD else "lost"
        day = f"2030-{random.randrange(1, 13):02d}-{random.randrange(1, 29):02d}"
        yield (
            *(50000 + i // 7, 10 * (i % 7 + 1), part, random.randrange(1, 3000)),
            *(random.choice(_METALS), random.choice(_SIZES), day),
        )


def as_csv(rows: list[Line]) -> bytes:
    """Return an export as German offices write it: semicolons, decimal commas, cp1252."""
    text = io.StringIO()
    writer = csv.writer(text, delimiter=";")
    writer.writerow((*_TITLES[:3], "Stückzahl", *_TITLES[4:]))
    for order, pos, part, quantity, metal, size, day in rows:
        year, month, number = str(day).split("-")
        count = f"{quantity:,}".replace(",", ".")
        thickness = str(size).replace(".", ",")
        writer.writerow((order, pos, part, count, metal, thickness, f"{number}.{month}.{year}"))
    return text.getvalue().encode("cp1252")


def as_lines(rows: list[Line]) -> bytes:
    """Return an export as JSON lines."""
    return "\n".join(json.dumps(dict(zip(_TITLES, row, strict=True))) for row in rows).encode()


def as_workbook(rows: list[Line]) -> bytes:
    """Return an export as a workbook under a heading."""
    import openpyxl

    book = openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet()
    for row in (["Offene Aufträge"], _TITLES, *rows):
        sheet.append(row)
    data = io.BytesIO()
    book.save(data)
    return data.getvalue()


SHAPES: dict[str, tuple[str, Callable[[list[Line]], bytes]]] = {
    "CSV": ("orders.csv", as_csv),
    "JSON lines": ("orders.jsonl", as_lines),
    "XLSX": ("orders.xlsx", as_workbook),
}


def measure(shape: str, number: int, folder: Path) -> Row:
    """Return the seconds of each step for an export of so many lines."""
    name, written = SHAPES[shape]
    export, mapping = folder / name, folder / "intake.toml"
    export.write_bytes(written(list(lines(number))))
    for i in range(_DRAWINGS):
        (folder / f"P-{i:05d}.dxf").touch()
    began = time.perf_counter()
    draft = draft_mapping(read_export(export), [folder], folder)
    mapping.write_text(confirmed(draft.text), encoding="utf-8")
    drafted = time.perf_counter()
    done = take_in(export, mapping, folder / "jobs" / "orders")
    taken = time.perf_counter()
    again = take_in(export, mapping, folder / "jobs" / "orders")
    return {
        "shape": shape,
        "lines": number,
        "drafting": round(drafted - began, 3),
        "taking": round(taken - drafted, 3),
        "again": round(time.perf_counter() - taken, 3),
        "jobs": len(done.jobs),
        "taken": len(done.taken),
        "aside": len(done.aside),
        "unchanged": not again.changed,
    }


@click.command()
@click.option("--lines", "number", default=10_000, show_default=True, help="Lines of the export.")
@options.out
def command(number: int, out: Path | None) -> None:
    """Measure the intake of large exports made by a generator.

    Example: python -m benchmarks intake
    """
    measurement = Measurement(out or file_of("intake"), "intake", KEYS)
    for shape in SHAPES:
        if measurement.has(shape=shape, lines=number):
            continue
        with tempfile.TemporaryDirectory() as folder:
            row = measure(shape, number, Path(folder))
        measurement.add(row)
        click.echo(json.dumps(row))
