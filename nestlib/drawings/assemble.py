"""From the strokes of a file to its parts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from nestlib.drawings.chains import ROUNDING, Gap, Joined, Run, join
from nestlib.drawings.circles import as_circle
from nestlib.drawings.codes import finding
from nestlib.drawings.copies import copies, merge_overlaps
from nestlib.drawings.gaps import closing_remedy, open_gaps
from nestlib.drawings.nesting import Family, Nesting, flat
from nestlib.drawings.repeats import unrepeated
from nestlib.drawings.sketch import Notes, Place, Sketch, Stroke, middle
from nestlib.geometry.polygons import line
from nestlib.geometry.transform import moved
from nestlib.model import Contour, Drawing, Finding, Part, Source
from nestlib.tolerances import JOIN

#: Beyond this, in mm, coordinates in a file begin to lack digits.
FAR = 1e7

#: No more open contours than this are told one by one.
_TOLD = 50


def assemble(sketch: Sketch, file: str, tolerance: float, notes: Notes) -> Drawing:
    """Join strokes to contours and group these to parts.

    Parameters
    ----------
    sketch : Sketch
        What the file holds.
    file : str
        Path, as the user gave it.
    tolerance : float
        Free ends closer than this are joined, in mm.
    notes : Notes
        What reading showed so far; more is added.

    Returns
    -------
    Drawing
    """
    cuts = [s for s in sketch.strokes if not s.mark]
    marks = [s for s in sketch.strokes if s.mark]
    _note_far(sketch.strokes, notes)
    joined = _contours(cuts, tolerance, notes)
    etched = join(_once(marks, tolerance)[0], tolerance)
    nesting = Nesting(joined.closed)
    families = nesting.families()
    sets, stray = _marks_by_part(
        families, nesting, [*etched.closed, *etched.open, *etched.branching]
    )
    _note_stray(stray, notes)
    source = Source(file, units=sketch.units, join=tolerance)
    parts, shown = _parts(families, nesting, sets, source)
    found = notes.all_findings() + _faults(nesting, families, shown) + _repeats(parts)
    if not parts and not any(f.code in ("no-parts", "branching-contour") for f in found):
        found.append(finding("no-parts", _why_nothing(sketch, notes)))
    loose = [run.contour for run in (*joined.open, *joined.branching, *stray)]
    return Drawing(
        file,
        sketch.units,
        sketch.units_from,
        sketch.version,
        tuple(parts),
        tuple(found),
        notes.left_out,
        tuple(loose),
    )


def _contours(cuts: Sequence[Stroke], tolerance: float, notes: Notes) -> Joined:
    """Join what is cut, and tell what had to be mended for it."""
    strokes, dropped = _once(cuts, tolerance)
    strokes, merged = merge_overlaps(strokes, min(tolerance, JOIN))
    joined = join(strokes, tolerance)
    joined.closed = [Run(as_circle(r.contour), r.style, r.order) for r in joined.closed]
    again = copies([r.contour for r in joined.closed], min(tolerance, JOIN))
    places = dropped + [_start(joined.closed[i].contour) for i in again]
    joined.closed = [r for i, r in enumerate(joined.closed) if i not in again]
    if places:
        word = "line or contour was" if len(places) == 1 else "lines or contours were"
        message = f"{len(places)} {word} drawn again; each is cut once"
        notes.add("duplicate-dropped", message, places[:_TOLD])
    if merged:
        message = f"overlapping lines were merged to {len(merged)}"
        notes.add("overlap-merged", message, [middle(s.contour) for s in merged][:_TOLD])
    _note_gaps(joined.gaps, notes)
    _note_open(joined, notes)
    for stroke in joined.crumbs:
        notes.repeat(
            "zero-length",
            f"{stroke.style.kind} shorter than {2 * ROUNDING:g} mm was left out",
            stroke.ends[0],
            stroke.style,
        )
    _drop_flat(joined, notes)
    return joined


def _once(strokes: Sequence[Stroke], tolerance: float) -> tuple[list[Stroke], list[Place]]:
    """Strokes without copies, and where the copies were."""
    again = copies([s.contour for s in strokes], min(tolerance, JOIN))
    kept = [s for i, s in enumerate(strokes) if i not in again]
    return kept, [middle(strokes[i].contour) for i in again]


def _note_far(strokes: Sequence[Stroke], notes: Notes) -> None:
    for stroke in strokes:
        x0, y0, x1, y1 = stroke.contour.bounds
        if max(abs(v) for v in (x0, y0, x1, y1)) > FAR:
            message = f"it lies at {x0:.0f}, {y0:.0f} mm"
            notes.add("far-from-origin", message, [(x0, y0)], stroke.style)
            return


def _note_gaps(gaps: Sequence[Gap], notes: Notes) -> None:
    if gaps:
        widest = max(gap.size for gap in gaps)
        word = "gap was" if len(gaps) == 1 else "gaps were"
        message = f"{len(gaps)} {word} closed, the widest {widest:.3g} mm"
        notes.add("gap-closed", message, [gap.place for gap in gaps][:_TOLD])


def _note_open(joined: Joined, notes: Notes) -> None:
    gaps = open_gaps(joined.open)
    for run, gap in zip(joined.open[:_TOLD], gaps, strict=False):
        (x0, y0), (x1, y1) = run.contour.points[[0, -1]]
        message = (
            f"a contour is open: it starts at {x0:.3f}, {y0:.3f} and ends at "
            f"{x1:.3f}, {y1:.3f}, {math.dist((x0, y0), (x1, y1)):.3g} mm apart"
        )
        places = [(x0, y0), (x1, y1)]
        notes.add("open-contour", message, places, run.style, closing_remedy(gap))
    if len(joined.open) > _TOLD:
        more = joined.open[_TOLD:]
        places = [_start(run.contour) for run in more][:_TOLD]
        word = "contour is" if len(more) == 1 else "contours are"
        notes.add("open-contour", f"{len(more)} more {word} open", places)
    for places, style in joined.branches[:_TOLD]:
        (x, y), *_ = places
        message = f"more than two lines meet in {len(places)} places, the first at {x:.3f}, {y:.3f}"
        notes.add("branching-contour", message, places[:_TOLD], style)


def _drop_flat(joined: Joined, notes: Notes) -> None:
    """A contour that encloses nothing is no part and no hole."""
    for run in [r for r in joined.closed if flat(r.contour)]:
        notes.add("self-crossing", "a contour encloses no area", [_start(run.contour)], run.style)
        joined.branching.append(run)
    joined.closed = [r for r in joined.closed if not flat(r.contour)]


def _start(contour: Contour) -> Place:
    x, y = contour.points[0]
    return float(x), float(y)


def _marks_by_part(
    families: Sequence[Family], nesting: Nesting, marks: Sequence[Run]
) -> tuple[list[list[Run]], list[Run]]:
    """Give each mark to the part on which it lies; the rest is stray."""
    sets: list[list[Run]] = [[] for _ in families]
    stray: list[Run] = []
    on = nesting.carriers(families, [line(mark.contour) for mark in marks])
    for mark, family in sorted(zip(marks, on, strict=True), key=lambda pair: pair[0].order):
        (stray if family is None else sets[family]).append(mark)
    return sets, stray


def _note_stray(stray: Sequence[Run], notes: Notes) -> None:
    for run in stray:
        message = "a mark does not lie on a part"
        notes.repeat("mark-outside-part", message, _start(run.contour), run.style)


def _parts(
    families: Sequence[Family],
    nesting: Nesting,
    marks: Sequence[Sequence[Run]],
    source: Source,
) -> tuple[list[Part], list[str]]:
    """Parts, each told once, and for each family the name of its part."""
    drawn = [
        _part(family, nesting, etched, source)
        for family, etched in zip(families, marks, strict=True)
    ]
    bad = {run for fault in nesting.faults for run in fault.runs}
    spoiled = {i for i, f in enumerate(families) if not bad.isdisjoint((f.outer, *f.inners))}
    parts, stands = unrepeated(drawn, spoiled)
    stem = Path(source.file).stem
    names = [stem] if len(parts) == 1 else [f"{stem}-{i + 1}" for i in range(len(parts))]
    named = [_named(part, name, i) for i, (part, name) in enumerate(zip(parts, names, strict=True))]
    return named, [names[k] for k in stands]


def _part(family: Family, nesting: Nesting, marks: Sequence[Run], source: Source) -> Part:
    """One part, moved to the origin."""
    outer = nesting.runs[family.outer].contour
    x, y, *_ = outer.bounds

    def home(contour: Contour) -> Contour:
        return moved(contour, -x, -y)

    return Part(
        "",
        home(outer.oriented(ccw=True)),
        tuple(home(nesting.runs[i].contour.oriented(ccw=False)) for i in family.inners),
        tuple(home(run.contour) for run in marks),
        source=replace(source, origin=(x, y)),
    )


def _named(part: Part, name: str, index: int) -> Part:
    assert part.source is not None
    return replace(part, name=name, source=replace(part.source, index=index))


def _faults(nesting: Nesting, families: Sequence[Family], shown: Sequence[str]) -> list[Finding]:
    """Faults of contours, each with the name of the part that it spoils."""
    owner = {
        run: name
        for family, name in zip(families, shown, strict=True)
        for run in (family.outer, *family.inners)
    }
    return [
        finding(
            fault.code,
            fault.message,
            places=fault.places,
            part=owner.get(fault.runs[0], ""),
            layer=nesting.runs[fault.runs[0]].style.layer,
            handle=nesting.runs[fault.runs[0]].style.handle,
        )
        for fault in nesting.faults
    ]


def _repeats(parts: Sequence[Part]) -> list[Finding]:
    return [
        finding("part-repeated", f"drawn {part.quantity} times", part=part.name)
        for part in parts
        if part.quantity > 1
    ]


def _why_nothing(sketch: Sketch, notes: Notes) -> str:
    """Say why there is nothing to cut."""
    cuts = sum(not s.mark for s in sketch.strokes)
    if cuts:
        return "none of the contours is closed"
    left = notes.left_out
    if sketch.strokes or left:
        layers = ", ".join(sorted({f'"{item.layer}"' for item in left})[:5])
        return "everything in it is etched or left out" + (f" (layers {layers})" if layers else "")
    return "it holds nothing that could be cut"
