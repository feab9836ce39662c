"""The page of results, written from the rows of all measurements and never by hand."""

from __future__ import annotations

import json
from collections.abc import Iterator
from itertools import chain
from pathlib import Path
from typing import Any

import click

from benchmarks import (
    pictures,
    report_orders,
    report_sheets,
    report_shop,
    report_speed,
    report_stock,
    report_tours,
)
from benchmarks.markdown import groups, mean_of, number, provenance, several, short, table
from benchmarks.measured import FOLDER, Row, read_all

PAGE = Path(__file__).with_name("RESULTS.md")

#: Where published values come from.
SOURCES = {
    "elkeran2013_best_density_percent": "Elkeran, EJOR 231 (2013) 757-769, best of long runs"
}

#: Aims for the mean over seeds: density in per cent after a minute and after about ten.
AIMS = {
    "swim": (75.5, 77.5),
    "albano": (88.5, 89.8),
    "shapes0": (67.5, 69.0),
    "shapes1": (75.0, 77.0),
    "blaz": (83.5, 85.0),
    "fu": (91.5, 92.4),
    "jakobs1": (88.7, 89.1),
    "jakobs2": (85.0, 87.7),
}

_INTRODUCTION = """# Results

Written by `python -m benchmarks report` from the rows in `measured/`; not edited by hand.

Every solution is checked by shapely alone: all pieces there, at allowed angles, none outside,
no two that overlap. Each section names the machine, the versions, the date and the commit; a +
after the commit says that the sources had changes. Seconds are of wall-clock time, and start
when the kernels are compiled.
""".strip()

Measurements = list[dict[str, Any]]


def page(measurements: Measurements, drawn: dict[str, Any]) -> str:
    """Return the page.

    Parameters
    ----------
    measurements : list of dict
        Contents of all files of rows.
    drawn : dict
        Index of the pictures.
    """
    by_kind: dict[str, Measurements] = {}
    for measurement in measurements:
        by_kind.setdefault(measurement["what"], []).append(measurement)
    parts: list[str] = [_INTRODUCTION, ""]
    parts += _strips(by_kind.get("strips", []))
    sections = (
        ("Any angle against the listed ones", "angles", _angles),
        ("More workers", "scaling", report_speed.scaling),
        ("Kernels against C", "kernels", report_speed.kernels),
        ("Growth", "growth", report_speed.growth),
        ("Cold start", "cold", report_speed.cold),
        ("Equal bins", "sheets", report_sheets.bins),
        ("Sheets of several sizes", "sheets", report_sheets.sheets),
        ("Sheets of several sizes, ordered", "buy", report_sheets.buy),
        ("A shop's own work", "shop", report_shop.shop),
        ("The rack", "stock", report_stock.stock),
        ("Tours", "tours", report_tours.tours),
        ("Travel between cuts", "travel", report_tours.travel),
        ("What each rule costs", "rules", report_tours.rules),
        ("Exports taken in", "intake", report_orders.intake),
        ("Batches of small jobs", "batch", report_orders.batch),
    )
    for title, what, section in sections:
        parts += [f"## {title}", ""]
        parts += section(by_kind[what]) if what in by_kind else ["Not measured.", ""]
    parts += _pictures(drawn)
    return "\n".join(parts).rstrip() + "\n"


def _strips(measurements: Measurements) -> Iterator[str]:
    there = [
        (seconds, which, workers, measurement, rows)
        for measurement in measurements
        for (seconds, which, workers), rows in groups(
            measurement["rows"], "seconds", "angles", "workers"
        )
    ]
    known = {seconds for seconds, *_ in there}
    aims = {60.0} if any(_column(s) == 1 for s in known) else {60.0, 600.0}
    for seconds in sorted(known | aims, key=lambda s: (s < 60, s)):
        yield from (f"## Strips, {seconds:g} s", "")
        if seconds not in known:
            yield from ("Not measured.", "")
        for _, which, workers, measurement, rows in (t for t in there if t[0] == seconds):
            yield from _strip_table(seconds, which, workers, measurement, rows)


def _strip_table(
    seconds: float, which: str, workers: int, measurement: dict[str, Any], rows: list[Row]
) -> Iterator[str]:
    seeds = several(r["seed"] for r in rows)
    kind = "" if which == "listed" else " Any angle is allowed."
    yield f"{workers} worker(s), seeds {seeds}.{kind} {provenance(measurement, rows)}"
    yield ""
    at = _column(seconds) if which == "listed" else None
    aim = ["aim, mean"] if at is not None else []
    names = ["instance", "pieces", "mean %", "best", "worst", "seeds", "valid", "took s", *aim]
    yield from table(
        [*names, "best published"],
        [
            [*_strip_cells(name, some), *([_aim(name, at)] if at is not None else []), _known(some)]
            for (name,), some in groups(rows, "instance")
        ],
    )
    yield from _footnotes(rows, at is not None)


def _column(seconds: float) -> int | None:
    """Return which of the two aims a run is held against; a little less than 600 s counts."""
    if seconds == 60.0:
        return 0
    return 1 if 500.0 <= seconds <= 600.0 else None


def _strip_cells(name: str, rows: list[Row]) -> list[str]:
    densities = [r["density"] for r in rows]
    return [
        name,
        str(rows[0]["pieces"]),
        number(mean_of(rows, "density")),
        number(max(densities)),
        number(min(densities)),
        str(len(rows)),
        "yes" if all(r["valid"] for r in rows) else "NO",
        number(mean_of(rows, "took"), 1),
    ]


def _aim(name: str, at: int) -> str:
    return number(AIMS[name][at], 1) if name in AIMS else "-"


def _known(rows: list[Row]) -> str:
    return short(rows[0]["published"])


def _footnotes(rows: list[Row], aimed: bool) -> Iterator[str]:
    sources = {r["source"] for r in rows if r["source"]}
    known = [(r["density"], r["published"]) for r in rows if r["published"]]
    if sources:
        yield f"Best published: {several(SOURCES.get(s, s) for s in sources)}."
    if known:
        share = sum(d / p for d, p in known) / len(known)
        yield f"Average of density / best published: {share:.4f} over {len(known)} runs."
    if aimed:
        yield "Aim: a figure of our own for the mean over five seeds with two workers."
    yield ""


def _angles(measurements: Measurements) -> Iterator[str]:
    for measurement in measurements:
        for (seconds, workers), rows in groups(measurement["rows"], "seconds", "workers"):
            yield (
                f"{seconds:g} s, {workers} worker(s), seeds {several(r['seed'] for r in rows)}. "
                f"{provenance(measurement, rows)}"
            )
            yield ""
            yield from table(
                ["instance", "listed: mean %", "best", "any: mean %", "best", "any - listed"],
                [_angle_cells(name, some) for (name,), some in groups(rows, "instance")],
            )
            if not all(r["valid"] for r in rows):
                yield from ("NOT all solutions are valid.", "")


def _angle_cells(name: str, rows: list[Row]) -> list[str]:
    cells, means = [name], []
    for which in ("listed", "any"):
        some = [r for r in rows if r["angles"] == which]
        means.append(mean_of(some, "density") if some else None)
        cells += [number(means[-1]), number(max((r["density"] for r in some), default=None))]
    difference = None if None in means else means[1] - means[0]  # type: ignore[operator]
    return [*cells, "-" if difference is None else f"{difference:+.2f}"]


def _pictures(drawn: dict[str, Any]) -> Iterator[str]:
    yield from ("## Pictures of the best layouts", "")
    if not drawn:
        yield from ("Not drawn.", "")
    for name, of in sorted(drawn.items()):
        how = f"{of['seconds']:g} s, {of['workers']} worker(s), seed {of['seed']}"
        yield f"{name}, {of['density']:.2f} %: {how}"
        yield from ("", f"![{name}](pictures/{name}.svg)", "")


@click.command("report")
@click.option("--measured", type=click.Path(path_type=Path), default=FOLDER, help="Files of rows.")
@click.option("--out", type=click.Path(path_type=Path), default=PAGE, help="Page to write.")
def command(measured: Path, out: Path) -> None:
    """Write the page of results from all files of rows.

    Example: python -m benchmarks report
    """
    index = pictures.FOLDER / "pictures.json"
    drawn = json.loads(index.read_text(encoding="utf-8")) if index.exists() else {}
    measurements = read_all(measured)
    out.write_text(page(measurements, drawn), encoding="utf-8")
    scaled = [m for m in measurements if m["what"] == "scaling"]
    shops = [m for m in measurements if m["what"] == "shop"]
    drawings = (report_speed.scaling_charts(scaled), report_shop.shop_pictures(shops))
    for name, text in chain(*drawings):
        charts = out.parent / pictures.FOLDER.name
        charts.mkdir(exist_ok=True)
        (charts / name).write_text(text, encoding="utf-8")
