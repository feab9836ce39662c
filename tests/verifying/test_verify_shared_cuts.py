"""Plans whose pieces share cuts, right and spoilt: what the independent check finds.

Each plan is spoilt before it is written, so that plan.json and drawing agree.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
import shapely

from nestlib import verify, write_programs
from nestlib.bundling import Pattern, patterns, plain_things, reaching, with_others
from nestlib.model import Contour, Cut, Layout, Part, Placement, Plan, Sheet
from tests.layouts import job_of
from tests.sharing import RIGHT_TRIANGLE, layout_of, sharing_plan

KERF = 0.2
SHEET = Sheet("plate", Contour.rectangle(600, 400), cost=40.0)
TILE = Part(
    "tile",
    Contour.rectangle(80, 60),
    (Contour.circle((20, 20), 8).reversed(),),
    quantity=4,
    common_lines=True,
)
GUSSET = Part("gusset", RIGHT_TRIANGLE, quantity=2, common_lines=True)
JOB = job_of((TILE, GUSSET), (SHEET,), KERF)

Spoil = Callable[[Plan], Plan]


def tiles_and_gussets() -> Plan:
    """Four tiles in two rows and two gussets, right in every way."""
    grid = next(p for p in patterns(TILE, JOB.spacing, 4) if len(p.lines) == 2 and
                len(p.members) == 4)  # fmt: skip
    pair = next(p for p in patterns(GUSSET, JOB.spacing, 2) if p.lines[0].length > 65)
    return sharing_plan(JOB, layout_of(grid, pair, kerf=KERF, sheet=SHEET))


def found_in(plan: Plan, folder: Path) -> set[str]:
    """Codes of what is wrong with a plan, once it is written."""
    check = plan.write(folder / "plan").verification
    assert check is not None
    return {v.code for v in check.violations}


def with_cuts(plan: Plan, change: Callable[[list[Cut]], list[Cut]]) -> Plan:
    """The plan with other cuts."""
    (layout,) = plan.layouts
    path = replace(layout.path, cuts=tuple(change(list(layout.path.cuts))))
    return replace(plan, layouts=(replace(layout, path=path),), work=None)


def shared_moved(by: tuple[float, float], ends: tuple[int, ...]) -> Spoil:
    """The shared line of the gussets moved, at some of its ends, and without its lead."""

    def change(cuts: list[Cut]) -> list[Cut]:
        i = max(k for k, c in enumerate(cuts) if c.role == "shared" and len(c.pieces) == 2)
        points = cuts[i].contour.points.copy()
        points[list(ends)] += by
        cuts[i] = replace(cuts[i], contour=Contour(points, closed=False), lead_in=None)
        return cuts

    return lambda plan: with_cuts(plan, change)


def shared_longer(by: float, role: int = 2) -> Spoil:
    """The first line that so many pieces share, longer by as many mm at both ends, no lead."""

    def change(cuts: list[Cut]) -> list[Cut]:
        i = next(k for k, c in enumerate(cuts) if c.role == "shared" and len(c.pieces) == role)
        a, b = cuts[i].contour.points
        way = by / math.dist(a, b) * (b - a)
        line = Contour([a - way, b + way], closed=False)
        cuts[i] = replace(cuts[i], contour=line, lead_in=None)
        return cuts

    return lambda plan: with_cuts(plan, change)


def around_first(cuts: list[Cut]) -> list[Cut]:
    """The way around before the lines."""
    return [c for c in cuts if c.role != "shared"] + [c for c in cuts if c.role == "shared"]


def holes_last(cuts: list[Cut]) -> list[Cut]:
    """The lines, then the holes, then the ways around."""
    order = ("shared", "inner", "around")
    return sorted(cuts, key=lambda c: order.index(c.role))


def without_line(cuts: list[Cut]) -> list[Cut]:
    """One shared line of the tiles never cut."""
    k = next(k for k, c in enumerate(cuts) if c.role == "shared" and len(c.pieces) == 4)
    return cuts[:k] + cuts[k + 1 :]


def singly(plan: Plan) -> Plan:
    """The same places, and nobody says that cuts are shared."""
    (layout,) = plan.layouts
    apart = replace(layout, bundles=())
    return replace(sharing_plan(JOB, apart), layouts=(replace(
        sharing_plan(JOB, apart).layouts[0], singly=None),))  # fmt: skip


def nudged(plan: Plan) -> Plan:
    """One tile 0.05 mm nearer to its neighbour."""
    (layout,) = plan.layouts
    first, *others = layout.placements
    placements = (replace(first, x=first.x + 0.05), *others)
    return replace(plan, layouts=(replace(layout, placements=placements),))


def not_allowed(plan: Plan) -> Plan:
    """The job does not allow it for the tiles."""
    return replace(plan, job=replace(JOB, parts=(replace(TILE, common_lines=False), GUSSET)))


SPOILT: dict[str, tuple[Spoil, str]] = {
    "line shifted by 3 micrometres": (shared_moved((3e-3, 0.0), (0, 1)), "shared-cut-off"),
    "line shifted by 0.01 mm": (shared_moved((0.01, 0.0), (0, 1)), "shared-cut-harms"),
    "line tilted": (shared_moved((0.0, 0.02), (1,)), "shared-cut-harms"),
    "line too short": (shared_moved((-3.0, 2.0), (1,)), "shared-cut-leaves"),
    "line too long": (shared_longer(1.0), "shared-cut-harms"),
    "line into a neighbour": (shared_longer(40.0, 4), "shared-cut-harms"),
    "line missing": (lambda p: with_cuts(p, without_line), "shared-cut-leaves"),
    "around first": (lambda p: with_cuts(p, around_first), "wrong-order"),
    "holes after lines": (lambda p: with_cuts(p, holes_last), "wrong-order"),
    "nearness not declared": (singly, "parts-too-close"),
    "piece nudged": (nudged, "shared-cut-harms"),
    "not allowed": (not_allowed, "shared-not-allowed"),
}


def test_a_right_plan_passes_and_says_that_cuts_are_shared(tmp_path):
    """No violation; the note names pieces and cuts; the distance is that of all others."""
    check = tiles_and_gussets().write(tmp_path / "plan").verification
    assert check is not None
    assert check.violations == ()
    assert any("6 pieces" in note and "3 shared cuts" in note for note in check.notes)
    assert check.between_parts == pytest.approx(20.0, abs=1e-9)


@pytest.mark.parametrize("case", SPOILT)
def test_a_spoilt_plan_is_refused(case, tmp_path):
    """Each way of spoiling it breaks its own rule."""
    spoil, code = SPOILT[case]
    assert code in found_in(spoil(tiles_and_gussets()), tmp_path)


@pytest.mark.parametrize(("by", "found"), [(0.0, False), (-1.5, True)])
def test_a_bridge_is_found_however_long_the_pieces_are(by, found, tmp_path):
    """Rounded corners far from the shared edge give much slack by area; a bridge of 1.4 mm
    across the slot holds the pieces together nevertheless."""
    bulge = math.tan(math.pi / 8)
    outer = Contour(
        [(0, 0), (300, 0), (300, 130), (280, 150), (20, 150), (0, 130)], [0, 0, bulge, 0, bulge, 0]
    )
    plate = Part("plate", outer, quantity=2, common_lines=True)
    job = job_of((plate,), (SHEET,), KERF)
    pair = next(p for p in patterns(plate, job.spacing, 2) if p.lines[0].length > 299)
    plan = sharing_plan(job, layout_of(pair, kerf=KERF, sheet=SHEET))
    codes = found_in(shared_longer(by)(plan), tmp_path)
    assert ("shared-cut-leaves" in codes) is found


def test_a_piece_in_the_middle_would_be_loose_too_early(tmp_path):
    """Three by three: the lines alone free the one in the middle, so nobody makes such a plan."""
    tile = replace(TILE, inners=(), quantity=9)
    w, h = 80 + KERF, 60 + KERF
    members = tuple(Placement("tile", 0.0, False, i * w, j * h) for j in range(3) for i in range(3))
    across, up = 3 * w - KERF, 3 * h - KERF
    lines = [[(i * w - KERF / 2, 0), (i * w - KERF / 2, up)] for i in (1, 2)]
    lines += [[(0, j * h - KERF / 2), (across, j * h - KERF / 2)] for j in (1, 2)]
    outline = Contour.rectangle(across, up)
    pattern = Pattern(members, outline, tuple(Contour(p, closed=False) for p in lines))
    assert len(reaching(pattern, KERF)) == 4
    job = job_of((tile,), (SHEET,), KERF)
    plan = sharing_plan(job, layout_of(pattern, kerf=KERF, sheet=SHEET))
    assert found_in(plan, tmp_path) == {"loose-too-early"}


LONG = Part(
    "long", Contour.rectangle(300, 60), (Contour.circle((30, 30), 8).reversed(),), common_lines=True
)
SHORT = Part("short", Contour.rectangle(280, 45), common_lines=True)
STRIPS = job_of((LONG, SHORT), (SHEET,), KERF)


def strips() -> Plan:
    """Two strips of different parts, one 20 mm longer than the other, right in every way."""
    (thing,) = with_others(STRIPS, plain_things(STRIPS), (0, 1), 2, unequal=True)
    assert thing.pattern is not None
    return sharing_plan(STRIPS, layout_of(thing.pattern, kerf=KERF, sheet=SHEET))


def line_ends_early(by: float) -> Spoil:
    """The shared line ends too early where the longer of the two strips runs on."""

    def change(cuts: list[Cut]) -> list[Cut]:
        k = next(k for k, c in enumerate(cuts) if c.role == "shared")
        points = cuts[k].contour.points.copy()
        way = points[1] - points[0]
        points[1] -= by * way / math.hypot(*way)
        cuts[k] = replace(cuts[k], contour=Contour(points, closed=False))
        return cuts

    return lambda plan: with_cuts(plan, change)


def with_parts(*parts: Part) -> Spoil:
    """The job wants something else of its parts."""
    return lambda plan: replace(plan, job=replace(STRIPS, parts=parts))


def test_strips_of_different_parts_pass(tmp_path):
    """Nothing wrong; the line is led in where both strips end, not beside the longer one."""
    plan = strips()
    check = plan.write(tmp_path / "plan").verification
    assert check is not None
    assert check.violations == ()
    (cut,) = [c for c in plan.layouts[0].path.cuts if c.role == "shared"]
    (bundle,) = plan.layouts[0].bundles
    assert shapely.Polygon(bundle.outline.points).distance(shapely.Point(cut.pierce)) > 2 * KERF


@pytest.mark.parametrize(
    ("spoil", "code"),
    [
        (line_ends_early(KERF / 2), "shared-cut-leaves"),
        (line_ends_early(5.0), "shared-cut-leaves"),
        (lambda p: with_cuts(p, around_first), "wrong-order"),
        (with_parts(LONG, replace(SHORT, common_lines=False)), "shared-not-allowed"),
        (with_parts(replace(LONG, apart=("short",)), SHORT), "not-apart"),
    ],
    ids=["burr in the corner", "line too short", "around first", "not allowed", "kept apart"],
)
def test_spoilt_strips_of_different_parts_are_refused(spoil, code, tmp_path):
    """Half a kerf too short leaves a burr in the corner, of a few thousandths of a mm²."""
    assert code in found_in(spoil(strips()), tmp_path)


@pytest.mark.parametrize(
    ("keys", "value"),
    [
        (("saved_by_sharing", "pierces"), 7),
        (("saved_by_sharing", "cut_length"), 1.0),
        (("saved_by_sharing", "shared_cuts"), 2),
        (("layouts", 0, "singly", "pierces"), 3),
        (("layouts", 0, "singly", "cut_length"), 12.0),
    ],
)
def test_figures_of_what_is_saved_have_to_add_up(keys, value, tmp_path):
    """One changed figure in plan.json is found."""
    tiles_and_gussets().write(tmp_path / "plan")
    path = tmp_path / "plan" / "plan.json"
    record = json.loads(path.read_text(encoding="utf-8"))
    *way, last = keys
    place = record
    for key in way:
        place = place[key]
    place[last] = value
    path.write_text(json.dumps(record), encoding="utf-8")
    assert "figure-differs" in {v.code for v in verify(tmp_path / "plan").violations}


@pytest.mark.parametrize("kerf", ["in path", "by control"])
def test_programs_run_shared_cuts_on_their_line(kerf, tmp_path):
    """Read back they run as planned; the control keeps half a slot only of closed contours."""
    plan = tiles_and_gussets().write(tmp_path / "plan")
    template = tmp_path / "ours.toml"
    plain = (Path(__file__).parents[2] / "nestlib/writing/plain-program.toml").read_text()
    template.write_text(plain.replace('kerf = "in path"', f'kerf = "{kerf}"'))
    checked = write_programs(tmp_path / "plan", template).verification
    assert checked is not None
    assert checked.violations == ()
    text = (tmp_path / "plan" / "sheet-001.nc").read_text().splitlines()
    closed = sum(c.contour.closed for c in plan.layouts[0].path.cuts)
    assert text.count("G41") == (closed if kerf == "by control" else 0)
    spoilt = "\n".join(text).replace("shared cut", "a cut", 1)
    lines = spoilt.splitlines()
    k = next(k for k, line in enumerate(lines) if "a cut: the beam" in line)
    k = next(k for k in range(k, len(lines)) if lines[k].startswith("G1"))
    x = float(lines[k].split()[1][1:])
    lines[k] = lines[k].replace(lines[k].split()[1], f"X{x + 0.01:.5f}")
    (tmp_path / "plan" / "sheet-001.nc").write_text("\n".join(lines))
    assert "program-differs" in {v.code for v in verify(tmp_path / "plan").violations}


def test_a_plan_read_back_has_its_bundles(tmp_path):
    """Pieces, outline and lines of each; so all outputs can be made again from plan.json."""
    import nestlib as nl

    plan = tiles_and_gussets().write(tmp_path / "plan")
    again = nl.read_plan(tmp_path / "plan")
    (one,), (other,) = plan.layouts, again.layouts
    assert {b.placements for b in one.bundles} == {b.placements for b in other.bundles}
    assert again.saved_in_all == plan.saved_in_all
    assert isinstance(other, Layout)
