"""The table of results, written by a command and never by hand."""

from __future__ import annotations

import os
import platform
from collections.abc import Iterable, Sequence
from importlib.metadata import version

from benchmarks.instances import Instance
from benchmarks.solve import Result

_HEADINGS = {
    "strip": ("Strips", "density %", "best published %", "source"),
    "bins": ("Equal bins", "bins", "fewest known", "source"),
    "sheets": ("Sheets of several sizes", "cost", "least by area", "source"),
}

#: Where the values to compare with come from.
_SOURCES = {
    "elkeran2013_best_density_percent": "Elkeran, EJOR 231 (2013) 757-769, best of long runs",
    "bins": "optimum by construction, from the instance",
    "sheets": "area bound, computed here",
}

Row = tuple[Instance, Result]


def table(rows: Sequence[Row], seconds: float, seed: int, workers: int) -> str:
    """Return a Markdown page with all results.

    Parameters
    ----------
    rows : sequence of (Instance, Result)
        In any order.
    seconds : float
        Time limit of each run.
    seed, workers : int
        As they were solved with.

    Returns
    -------
    str
    """
    lines = [
        "# Results",
        "",
        "Written by `python -m benchmarks table`; not edited by hand.",
        "",
        f"{seconds:g} s for each instance, seed {seed}, {workers} worker(s), one run each. "
        "The first filling is always finished, so a run can take longer.",
        "",
        f"- machine: {platform.machine()}, {os.cpu_count()} cores, {platform.system()}",
        f"- versions: {_versions()}",
        "- strips are packed by the engine for strips, all else by the packer",
        "- every solution is checked by shapely for overlaps and for pieces outside",
        "",
    ]
    for kind in _HEADINGS:
        chosen = sorted((r for r in rows if r[0].kind == kind), key=lambda r: r[0].name)
        lines += _section(kind, chosen) if chosen else []
    return "\n".join(lines)


def _versions() -> str:
    names = ("numpy", "numba", "shapely", "ortools")
    return ", ".join([f"Python {platform.python_version()}", *(f"{n} {version(n)}" for n in names)])


def _section(kind: str, rows: Sequence[Row]) -> Iterable[str]:
    title, value, target, source = _HEADINGS[kind]
    yield from (
        f"## {title}",
        "",
        f"| instance | pieces | {value} | {target} | valid | s | {source} |",
    )
    yield "| --- | --- | --- | --- | --- | --- | --- |"
    for instance, result in rows:
        yield _line(instance, result)
    yield ""
    yield _summary(kind, rows)
    yield ""


def _line(instance: Instance, result: Result) -> str:
    pieces = sum(s.quantity for s in instance.shapes)
    target = "-" if result.target is None else f"{result.target:.2f}".rstrip("0").rstrip(".")
    key = next(iter(instance.data.get("published", {})), instance.kind)
    value = f"{result.value:.2f}" if instance.kind == "strip" else f"{result.value:g}"
    valid = "yes" if result.feasible else "NO"
    source = _SOURCES.get(key, key) if result.target is not None else "-"
    cells = (instance.name, str(pieces), value, target, valid, f"{result.seconds:.1f}", source)
    return f"| {' | '.join(cells)} |"


def _summary(kind: str, rows: Sequence[Row]) -> str:
    known = [r for _, r in rows if r.target]
    if not known:
        return ""
    ratio = sum(r.value / (r.target or 1.0) for r in known) / len(known)
    hit = sum(r.value <= (r.target or 0.0) + 1e-9 for r in known)
    reached = f" Fewest known reached: {hit} of {len(known)}." if kind == "bins" else ""
    return f"Average of value / value to compare with: {ratio:.4f} over {len(known)}.{reached}"
