"""The section of the page of results about a shop's own work."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from benchmarks.markdown import groups, number, provenance, several, table
from benchmarks.measured import Row
from benchmarks.pictures import sheets_picture
from benchmarks.shop_checking import polygon
from benchmarks.shop_work import shop_job

_WAYS = {
    "shelves": "boxes on shelves",
    "solver": "boxes by CP-SAT",
    "bottom_left": "bottom-left filling",
}

#: Pieces of the job that is shown.
_SHOWN = 200

#: Greatest distance in mm between an arc and its lines in a picture.
_CHORD = 0.3

_EXPLAINED = """Jobs are made by chance, the same for the same seed: 12 kinds of parts of 20 to
1500 mm with arcs, slots and holes, three kinds in ten wanted in tens to hundreds. Kerf 0.2 mm,
spacing 3 mm, margin 10 mm; sheets of 3000 x 1500 and 2500 x 1250 mm at the price of their weight,
and two leftovers with a fixed value, one L-shaped and one with a hole. Bound: proved, see
`nestlib.packing.lower_bound`. First plan: when it was first told of. 99 %: when utilisation
reached that share of its final value for good. Packed: the search alone; took: with the order
of all cuts and the bound. Memory: the most that the process had, and with several workers the
largest of these in addition. Valid: distances between outlines measured by shapely.""".replace(
    "\n", " "
)

_OTHERWISE = """What else a shop could do with the same distances on the same sheets. Shelves:
first fit by decreasing height (Coffman, Garey, Johnson, Tarjan, SIAM J. Comput. 9 (1980)
808-826). CP-SAT: one sheet after the other, beginning with the shelves, in as many seconds as the
search has; it is left out above 200 pieces. Bottom-left: the first filling of nestlib, large
outlines first, without any search. Saved: what nestlib needs less.""".replace("\n", " ")


def shop(measurements: list[dict[str, Any]]) -> Iterator[str]:
    """Return the section."""
    yield from (_EXPLAINED, "")
    for measurement in measurements:
        for (seconds, workers), rows in groups(measurement["rows"], "seconds", "workers"):
            seeds = several(r["seed"] for r in rows)
            yield (
                f"{seconds:g} s, {workers} worker(s), seeds {seeds}. "
                f"{provenance(measurement, rows)}"
            )
            yield ""
            yield from _plans(rows)
            yield from (_OTHERWISE, "")
            yield from _otherwise(rows)
            shown = _shown(rows)
            if shown is not None:
                yield f"The plan of {shown['pieces']} pieces, seed {shown['seed']}:"
                yield from ("", f"![A shop's work](pictures/{_file(measurement, shown)})", "")


def shop_pictures(measurements: list[dict[str, Any]]) -> Iterator[tuple[str, str]]:
    """Return file name and SVG text of the plans that are shown."""
    for measurement in measurements:
        for _, rows in groups(measurement["rows"], "seconds", "workers"):
            shown = _shown(rows)
            if shown is not None:
                yield _file(measurement, shown), _picture(shown)


def _plans(rows: list[Row]) -> Iterator[str]:
    names = ("pieces", "seed", "kinds", "used %", "sheets", "bound", "cost", "bound", "layouts")
    times = ("first plan s", "99 % s", "packed s", "took s")
    rest = ("largest remnant m2", "memory MiB", "unplaced", "valid")
    yield from table([*names, *times, *rest], [_plan_cells(r) for r in rows])


def _plan_cells(row: Row) -> list[str]:
    return [
        *(str(row[k]) for k in ("pieces", "seed", "kinds")),
        number(100 * row["utilisation"]),
        *(str(row[k]) for k in ("sheets", "bound_sheets")),
        *(number(row[k]) for k in ("cost", "bound_cost")),
        str(row["layouts"]),
        *(number(row[k], 1) for k in ("first", "nearly", "packed", "took")),
        number(row["remnant"]),
        number(row["memory"], 0),
        str(row["unplaced"]),
        _yes(row),
    ]


def _otherwise(rows: list[Row]) -> Iterator[str]:
    names = ("pieces", "seed", "way", "sheets", "area m2", "cost", "unplaced", "valid", "took s")
    saved = ("saved: sheets", "area %", "cost %")
    yield from table(
        [*names, *saved],
        [
            [str(row["pieces"]), str(row["seed"]), name, *_other_cells(row, row["others"][way])]
            for row in rows
            for way, name in _WAYS.items()
        ],
    )


def _other_cells(row: Row, other: Row | None) -> list[str]:
    if other is None:
        return ["not tried", *["-"] * 8]
    figures = [number(other["area"]), number(other["cost"]), str(other["unplaced"]), _yes(other)]
    saved = [100 * (1 - row[k] / other[k]) for k in ("area", "cost")]
    return [
        str(other["sheets"]),
        *figures,
        number(other["took"], 1),
        str(other["sheets"] - row["sheets"]),
        *(number(share, 1) for share in saved),
    ]


def _yes(row: Row) -> str:
    return "yes" if row["valid"] else "NO"


def _shown(rows: list[Row]) -> Row | None:
    return next((r for r in rows if r["pieces"] == _SHOWN and r["kept"]), None)


def _file(measurement: dict[str, Any], row: Row) -> str:
    cores = measurement["machine"]["cores"]
    return f"shop-{row['seconds']:g}s-{row['workers']}-workers-{cores}-cores.svg"


def _picture(row: Row) -> str:
    """Draw the job of a row, made once more, as it was laid out."""
    job = shop_job(row["pieces"], row["seed"])
    shapes = [polygon(part.outer, part.inners, _CHORD) for part in job.parts]
    drawn = []
    for layout in row["kept"]:
        sheet = job.sheet(layout["sheet"])
        drawn.append((polygon(sheet.outline, sheet.holes, _CHORD), layout["placements"]))
    return sheets_picture(job.title, shapes, drawn)
