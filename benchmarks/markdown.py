"""Tables in Markdown, and figures taken over rows."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from statistics import mean
from typing import Any

from benchmarks.measured import Row


def table(headings: Sequence[str], rows: Iterable[Sequence[Any]]) -> Iterator[str]:
    """Return the lines of a table and an empty one."""
    yield f"| {' | '.join(headings)} |"
    yield f"|{' --- |' * len(headings)}"
    for row in rows:
        yield f"| {' | '.join(str(cell) for cell in row)} |"
    yield ""


def groups(rows: Iterable[Row], *keys: str) -> list[tuple[tuple[Any, ...], list[Row]]]:
    """Return the rows that share the values of some keys, in the order of these values."""
    found: dict[tuple[Any, ...], list[Row]] = {}
    for row in rows:
        found.setdefault(tuple(row[k] for k in keys), []).append(row)
    return sorted(found.items(), key=lambda pair: pair[0])


def number(value: float | None, digits: int = 2) -> str:
    """Return a figure, or a dash where there is none."""
    return "-" if value is None else f"{value:.{digits}f}"


def short(value: float | None) -> str:
    """Return a figure without zeros at its end, or a dash."""
    return "-" if value is None else f"{value:.2f}".rstrip("0").rstrip(".")


def figures(value: float | None, digits: int = 3) -> str:
    """Return a figure with so many digits that count."""
    if value is None or value == 0:
        return "-" if value is None else "0"
    size = f"{value:.{digits - 1}e}"
    exponent = int(size.split("e")[1])
    return f"{float(size):.{max(0, digits - 1 - exponent)}f}"


def mean_of(rows: Iterable[Row], key: str) -> float:
    """Return the mean of one figure of the rows."""
    return float(mean(row[key] for row in rows))


def several(values: Iterable[Hashable], shown: Callable[[Any], str] = str) -> str:
    """Return different values, in order, with commas between."""
    return ", ".join(shown(v) for v in sorted(set(values)))  # type: ignore[type-var]


def provenance(measurement: dict[str, Any], rows: Sequence[Row]) -> str:
    """Return on what, with what, when and from which commit rows were measured."""
    it = measurement["machine"]
    used = ", ".join(f"{name} {v}" for name, v in measurement["versions"].items())
    machine = f"{it['cores']} cores, {it['architecture']}, {it['system']}"
    days, commits = several(r["date"] for r in rows), several(r["commit"] for r in rows)
    return f"Machine: {machine}. Versions: {used}. Measured {days}, commit {commits}."
