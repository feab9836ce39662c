"""Sections of the page of results about equal bins, sheets of several sizes, and ordering them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from statistics import mean
from typing import Any

from benchmarks.markdown import groups, mean_of, number, provenance, several, short, table
from benchmarks.measured import Row

Measurements = list[dict[str, Any]]

_FINISHED = "The first filling is always finished, so a run can take longer."

_BOUNDS = """Proved bound: what no layout can cost less than. By area: the area of all pieces at
the lowest price of a square unit of any sheet, which no bound of ours may fall below and which is
far too low where large pieces do not fit into the cheap sheets. Gap: how much the mean is above
the bound.""".replace("\n", " ")

_ORDERED = """The same instances, asked as a purchaser does: the sheets are offers with a price
each and no least order. One format: the cheapest order of sheets that are all alike.""".replace(
    "\n", " "
)


def bins(measurements: Measurements) -> Iterator[str]:
    """Return the section about equal bins."""
    head = ["instance", "pieces", "seeds", "bins, mean", "most", "fewest known", "valid", "took s"]
    for measurement, rows in _of_kind(measurements, "bins"):
        yield from _tables(measurement, rows, head, _bin_cells)
        known = [r for r in rows if r["target"]]
        ratio = mean([r["value"] / r["target"] for r in known] or [0.0])
        hit = sum(r["value"] <= r["target"] for r in known)
        yield (
            "Fewest known: the optimum by construction. Average of bins / fewest known: "
            f"{ratio:.4f} over {len(known)} runs. Fewest known reached: {hit} of {len(known)}."
        )
        yield ""


def sheets(measurements: Measurements) -> Iterator[str]:
    """Return the section about sheets of several sizes."""
    names = ["instance", "pieces", "seeds", "cost, mean", "least", "proved bound", "gap %"]
    for measurement, rows in _of_kind(measurements, "sheets"):
        yield from _tables(measurement, rows, [*names, "by area", "valid", "took s"], _sheet_cells)
        yield from (f"{_BOUNDS} {_summary(rows, 'value', 'target')}", "")


def buy(measurements: Measurements) -> Iterator[str]:
    """Return the section about ordering sheets of several sizes."""
    yield from (_ORDERED, "")
    names = ["instance", "pieces", "seeds", "cost, mean", "proved bound", "gap %", "by area"]
    for measurement in measurements:
        head = [*names, "one format", "formats", "took s"]
        yield from _tables(measurement, measurement["rows"], head, _order_cells)
        yield from (_summary(measurement["rows"], "cost", "bound"), "")


def _of_kind(measurements: Measurements, kind: str) -> Iterator[tuple[dict[str, Any], list[Row]]]:
    for measurement in measurements:
        rows = [r for r in measurement["rows"] if r["kind"] == kind]
        if rows:
            yield measurement, rows


def _tables(
    measurement: dict[str, Any],
    rows: Sequence[Row],
    head: Sequence[str],
    cells: Callable[[str, list[Row]], list[str]],
) -> Iterator[str]:
    """A table for each time and number of workers, a row for each instance."""
    for (seconds, workers), some in groups(rows, "seconds", "workers"):
        seeds = several(r["seed"] for r in some)
        yield f"{seconds:g} s, {workers} worker(s), seeds {seeds}. {_FINISHED} " + (
            provenance(measurement, some)
        )
        yield ""
        yield from table(head, [cells(name, r) for (name,), r in groups(some, "instance")])


def _bin_cells(name: str, rows: list[Row]) -> list[str]:
    return [
        *_first_cells(name, rows),
        short(mean_of(rows, "value")),
        short(max(r["value"] for r in rows)),
        short(rows[0]["target"]),
        *_last_cells(rows),
    ]


def _sheet_cells(name: str, rows: list[Row]) -> list[str]:
    # Every bound is proved, so the highest is as good for all seeds.
    bound = max(r["target"] for r in rows)
    return [
        *_first_cells(name, rows),
        short(mean_of(rows, "value")),
        short(min(r["value"] for r in rows)),
        short(bound),
        _gap(mean_of(rows, "value"), bound),
        short(rows[0]["by_area"]),
        *_last_cells(rows),
    ]


def _order_cells(name: str, rows: list[Row]) -> list[str]:
    bound = max(r["bound"] for r in rows)
    return [
        *_first_cells(name, rows),
        short(mean_of(rows, "cost")),
        short(bound),
        _gap(mean_of(rows, "cost"), bound),
        short(rows[0]["by_area"]),
        short(mean_of(rows, "best_single")),
        short(mean_of(rows, "formats")),
        number(mean_of(rows, "took"), 1),
    ]


def _first_cells(name: str, rows: list[Row]) -> list[str]:
    return [name, str(rows[0]["pieces"]), str(len(rows))]


def _last_cells(rows: list[Row]) -> list[str]:
    return ["yes" if all(r["valid"] for r in rows) else "NO", number(mean_of(rows, "took"), 1)]


def _gap(value: float, bound: float) -> str:
    return number(100 * (value / bound - 1))


def _summary(rows: Sequence[Row], value: str, bound: str) -> str:
    ratio = mean(r[value] / r[bound] for r in rows)
    proved = sum(r[value] <= r[bound] * (1 + 1e-9) for r in rows)
    over_area = mean(r[value] / r["by_area"] for r in rows)
    least = mean(r[bound] / r["by_area"] for r in rows)
    return (
        f"Average of cost / proved bound: {ratio:.4f} over {len(rows)} runs. Proved optimal: "
        f"{proved} of {len(rows)}. Average of cost / cost by area: {over_area:.4f}; by the proved "
        f"bounds none is below {least:.4f}."
    )
