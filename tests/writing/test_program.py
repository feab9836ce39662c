"""Programs: how they are spelt, and that a spoilt one is found out."""

import math
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

import nestlib as nl
from nestlib.cutting import cut_path
from nestlib.errors import InputError
from nestlib.geometry.arcs import arc_point
from nestlib.handover import write_programs
from nestlib.model import Bound, Contour, Holding, Plan, Support
from nestlib.writing import never_raised, plain_template_text, program_text, read_template
from nestlib.writing.program_moves import Grid, moves
from tests.cutting.test_cut_path import points_along
from tests.layouts import JOB, mixed_layout

#: What switches the beam in the plain template.
ON, MARK, OFF = (f"PLACEHOLDER_{what}" for what in ("BEAM_ON", "MARK_ON", "BEAM_OFF"))

#: Words that somebody has put in.
WORDS = {"beam_on": '"M210"', "mark_on": '"M211"', "beam_off": '"M219"'}


def template(folder: Path, **changes: str) -> Path:
    """The plain template with other values for some keys, as TOML text."""
    text = plain_template_text()
    for key, value in changes.items():
        text, n = re.subn(rf"(?m)^{key} = .*$", lambda _, k=key, v=value: f"{k} = {v}", text)
        assert n == 1, key
    path = folder / "shop.toml"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.fixture
def plan() -> Plan:
    """Straight, round, slotted and marked contours, some in one another."""
    layout = mixed_layout()
    layout = replace(layout, path=cut_path(layout, JOB), remnants=())
    parts = tuple(replace(p, quantity=2 * layout.counts[p.name]) for p in JOB.parts)
    job = replace(JOB, parts=parts)
    return Plan(job, (layout,), (), Bound(2, 80.0, "area"), cautions=("Mind the fumes (zinc).",))


@pytest.fixture
def folder(plan, tmp_path) -> Path:
    """The plan, written."""
    assert plan.write(tmp_path / "plan").verification.violations == ()
    return tmp_path / "plan"


def radii_of_arcs(text: str) -> list[tuple[float, float]]:
    """Radii at the start and the end of each arc with I and J from its start."""
    found, here = [], (0.0, 0.0)
    for line in text.splitlines():
        words = dict(re.findall(r"([XYIJ])(-?[\d.]+)", line.split("(")[0]))
        if "X" not in words:
            continue
        end = float(words["X"]), float(words["Y"])
        if "I" in words:
            centre = here[0] + float(words["I"]), here[1] + float(words["J"])
            found.append((math.dist(here, centre), math.dist(end, centre)))
        here = end
    return found


@pytest.mark.parametrize("decimals", [3, 4, 5, 8])
@pytest.mark.parametrize("kerf", ['"in path"', '"by control"'])
def test_arcs_close_within_two_thousandths(plan, tmp_path, decimals, kerf):
    """RS274/NGC refuses arcs whose radii differ by more (NISTIR 6556, from memory)."""
    shop = read_template(template(tmp_path, decimals=str(decimals), kerf=kerf))
    radii = radii_of_arcs(program_text(plan, 0, shop))
    assert len(radii) > 50
    assert max(abs(a - b) for a, b in radii) <= 0.002


@settings(max_examples=300, deadline=None, derandomize=True)
@given(
    st.tuples(*[st.floats(-3000, 3000)] * 2), st.floats(0.001, 2000.0), st.floats(0, 6.28),
    st.floats(-8, 8), st.sampled_from([("mm", 3), ("mm", 5), ("inch", 5), ("inch", 7)]),
)  # fmt: skip
def test_moves_follow_any_arc(start, chord, heading, bulge, grid):
    """Each move runs as the arc does, within four steps; radii agree within 0.002 mm."""
    end = (start[0] + chord * math.cos(heading), start[1] + chord * math.sin(heading))
    arc, on = Contour([start, end], [bulge, 0.0], closed=False), Grid(*grid)
    points = [arc_point(start, end, float(arc.bulges[0]), i / 400) for i in range(401)]
    at = 0
    for move in moves(arc, on):
        a, b = (complex(*p) * on.step for p in (move.start, move.end))
        if move.centre is None:
            middle = (a + b) / 2
        else:
            c = complex(*move.centre) * on.step
            assert abs(abs(a - c) - abs(b - c)) <= 0.002 + 1e-12
            sign = 1 if move.word == "G3" else -1
            turn = (
                sign
                * (math.atan2((b - c).imag, (b - c).real) - math.atan2((a - c).imag, (a - c).real))
                % (2 * math.pi)
            )
            middle = c + (a - c) * complex(math.cos(turn / 2), sign * math.sin(turn / 2))
        step = arc.length / 400
        for place in (a, middle, b):
            near = min(range(at, 401), key=lambda i: abs(complex(*points[i]) - place))
            assert abs(complex(*points[near]) - place) <= 5 * on.step + 0.51 * step
        at = max(0, near - 2)
    assert abs(complex(*points[-1]) - b if moves(arc, on) else 0) <= 5 * on.step + step


def test_a_full_circle_is_one_arc(plan, tmp_path):
    """It ends where it starts."""
    full, here = 0, []
    for line in program_text(plan, 0, read_template()).splitlines():
        words = re.findall(r"[XY]-?[\d.]+", line.split("(")[0])
        full += line[:2] in ("G2", "G3") and words == here
        here = words or here
    circles = [c for c in plan.layouts[0].path.cuts if c.contour.is_circle]
    assert full == len(circles) > 5


def test_without_a_checked_template_it_says_that_it_is_a_drawing(plan, tmp_path):
    """At its top, with the cautions; a checked one names who did."""
    text = program_text(plan, 0, read_template())
    top = text.splitlines()[:4]
    assert "NOT A READY PROGRAM" in top[1]
    assert "PLACEHOLDER" in top[2]
    assert "Mind the fumes <zinc>." in text
    checked = read_template(template(tmp_path, checked_by='"the foreman"', **WORDS))
    text = program_text(plan, 0, checked)
    assert "NOT A READY" not in text
    assert "checked by the foreman" in text
    assert "M210" in text
    assert "Mind the fumes" in text


def test_lines_of_a_template_are_filled_in(plan, tmp_path):
    """Gas, feed and pierce time of the machine's row; N words; nothing but ASCII."""
    path = template(
        tmp_path,
        cut='["({part} {kind} {number})", "G4 P{pierce}", "{beam_on} ({gas} {power} {feed})"]',
        line_numbers="5",
        units='"inch"',
        units_word='"G70"',
        decimals="6",
    )
    lines = program_text(plan, 0, read_template(path)).splitlines()
    assert all(line.isascii() for line in lines)
    assert sum(f"{ON} (oxygen 400 78.74)" in line for line in lines) == plan.layouts[0].path.pierces
    assert any(re.fullmatch(r"N\d+ G4 P1", line) for line in lines)
    assert any(re.fullmatch(r"N\d+ \(ring outer \d+\)", line) for line in lines)
    assert lines[0] == "%"


@pytest.mark.parametrize(
    ("changes", "place", "words"),
    [
        ({"units": '"cm"'}, "key units", "cm"),
        ({"decimals": "2"}, "key decimals", "3 or more"),
        ({"units": '"inch"', "decimals": "4"}, "", "too few in inch"),
        ({"cut": '["M3"]'}, "", "{beam_on}"),
        ({"cut": '["{beam_on} {gass}"]'}, "key lines.cut", "{gass} cannot be filled in"),
        ({"cut": '["{beam_on"]'}, "key lines.cut", "braces"),
        ({"beam_on": '"ON"'}, "key words.beam_on", "no word of a program"),
        ({"checked_by": '"the foreman"'}, "", "still holds PLACEHOLDER_BEAM_ON"),
        ({"end": '["Ende – Schluss"]'}, "key lines.end", "plain ASCII"),
    ],
)
def test_a_broken_template_is_told(tmp_path, changes, place, words):
    """File, line, problem and remedy."""
    with pytest.raises(InputError) as caught:
        read_template(template(tmp_path, **changes))
    (problem,) = caught.value.problems
    assert "shop.toml" in problem.file
    assert place in problem.place
    assert words in f"{problem.problem} {problem.remedy}"


@pytest.mark.parametrize("kerf", ['"in path"', '"by control"'])
@pytest.mark.parametrize("centres", ['"from start"', '"absolute"'])
@pytest.mark.parametrize(("units", "word"), [('"mm"', '"G71"'), ('"inch"', '"G20"')])
def test_programs_are_verified(folder, tmp_path, kerf, centres, units, word):
    """Written, interpreted and found to run as planned within 1e-4 mm."""
    shop = template(
        tmp_path, kerf=kerf, centres=centres, units=units, units_word=word, decimals="6"
    )
    done = write_programs(folder, shop)
    assert done.verification.violations == ()
    assert nl.verify(folder).violations == ()
    (note,) = [n for n in done.verification.notes if "run" in n]
    assert float(note.split("within ")[1].split()[0]) <= 1e-4


def moved_by_a_bit(lines: list[str]) -> list[str]:
    """One coordinate of one line, 0.0004 mm away."""
    i = next(i for i, line in enumerate(lines) if line.startswith("G1 X") and "F" not in line)
    x = re.search(r"X(-?[\d.]+)", lines[i])
    lines[i] = lines[i].replace(x[0], f"X{float(x[1]) + 0.0004:.5f}")
    return lines


def cut_in_other_order(lines: list[str]) -> list[str]:
    """The last two cuts, exchanged."""
    starts = [i for i, line in enumerate(lines) if re.match(r"\(\d+: ", line)]
    end = next(i for i, line in enumerate(lines) if line == "M30")
    last, before = lines[starts[-1] : end], lines[starts[-2] : starts[-1]]
    return [*lines[: starts[-2]], *last, *before, *lines[end:]]


def without_a_cut(lines: list[str]) -> list[str]:
    """The last cut is missing."""
    starts = [i for i, line in enumerate(lines) if re.match(r"\(\d+: ", line)]
    return lines[: starts[-1]] + lines[lines.index("M30") :]


def etched_not_cut(lines: list[str]) -> list[str]:
    """One cut is begun with the word for marks."""
    lines[lines.index(ON)] = MARK
    return lines


def run_twice(lines: list[str]) -> list[str]:
    """A full circle, a second time."""
    i = next(i for i, line in enumerate(lines) if line[:2] == "G2" and lines[i + 1] == OFF)
    return [*lines[: i + 1], lines[i], *lines[i + 1 :]]


def kept_to_a_side(lines: list[str]) -> list[str]:
    """The control would shift what is shifted already."""
    i = lines.index(ON)
    return [*lines[:i], "G41", *lines[i:]]


def circle_the_other_way(lines: list[str]) -> list[str]:
    """One full circle is run the wrong way round."""
    i = next(i for i, line in enumerate(lines) if line[:2] == "G2" and lines[i + 1] == OFF)
    lines[i] = "G3" + lines[i][2:]
    return lines


@pytest.mark.parametrize(
    "spoil",
    [
        moved_by_a_bit, cut_in_other_order, without_a_cut, etched_not_cut, run_twice,
        kept_to_a_side, circle_the_other_way,
    ],
)  # fmt: skip
def test_a_spoilt_program_is_found_out(folder, spoil: Callable[[list[str]], list[str]]):
    """Whatever somebody changes in it, a check of the plan says so."""
    write_programs(folder)
    path = folder / "sheet-001.nc"
    lines = path.read_text(encoding="ascii").splitlines()
    path.write_text("\n".join(spoil(lines)) + "\n", encoding="ascii")
    found = nl.verify(folder).violations
    assert {v.code for v in found} == {"program-differs"}
    assert all("sheet-001.nc" in v.message for v in found)


def test_a_slot_on_the_wrong_side_is_found_out(folder):
    """Programs without any offset, where the plan says that half a slot is in the path."""
    plan = folder / "plan.json"
    shop = template(folder.parent, kerf='"by control"')
    write_programs(folder, shop)
    path = folder / "sheet-001.nc"
    lines = [s for s in path.read_text(encoding="ascii").splitlines() if s not in ("G41", "G40")]
    path.write_text("\n".join(lines), encoding="ascii")
    assert {v.code for v in nl.verify(folder).violations} == {"program-differs"}
    said = plan.read_text(encoding="utf-8")
    plan.write_text(said.replace('"kerf": "by control"', '"kerf": "in path"'), encoding="utf-8")
    assert {v.code for v in nl.verify(folder).violations} == {"program-differs"}


@pytest.fixture
def held(plan, tmp_path) -> Path:
    """The same plan with every piece and slug held by joints, and its program, written."""
    slats = Support("slats", (60.0, 60.0))
    machine = replace(plan.job.machine, support=slats)
    job = replace(plan.job, machine=machine, holding=Holding("all"))
    layout = replace(plan.layouts[0], path=cut_path(plan.layouts[0], job))
    assert layout.path.joints > 20
    replace(plan, job=job, layouts=(layout,)).write(tmp_path / "held")
    return tmp_path / "held"


@pytest.mark.parametrize("kerf", ['"in path"', '"by control"'])
def test_the_beam_is_off_over_joints(held, tmp_path, kerf):
    """One stroke more for each joint, all of them where the plan wants them."""
    done = write_programs(held, template(tmp_path, kerf=kerf))
    assert done.verification.violations == ()
    path = done.layouts[0].path
    text = (held / "sheet-001.nc").read_text(encoding="ascii")
    marks = sum(c.role == "mark" for c in path.cuts)
    assert text.splitlines().count(OFF) == path.pierces + marks
    contours = path.pierces - path.joints
    assert text.splitlines().count("G41") == (contours if kerf == '"by control"' else 0)


def burnt_joint(lines: list[str]) -> list[str]:
    """The beam stays on over the first joint."""
    i = next(i for i, s in enumerate(lines) if s == OFF and lines[i + 1].startswith("G0 X")
             and lines[i + 2].startswith("(PLACEHOLDER: gas"))  # fmt: skip
    step = "G1" + lines[i + 1][2:]
    assert lines[i + 3] == ON
    return [*lines[:i], step, *lines[i + 4 :]]


def wider_joint(lines: list[str]) -> list[str]:
    """The beam goes on 0.01 mm late behind the first joint on a straight edge."""
    i = next(i for i, s in enumerate(lines) if s == OFF and lines[i + 1].startswith("G0 X")
             and lines[i + 2].startswith("(PLACEHOLDER: gas")
             and lines[i + 4].startswith("G1"))  # fmt: skip
    x = re.search(r"X(-?[\d.]+)", lines[i + 1])
    lines[i + 1] = lines[i + 1].replace(x[0], f"X{float(x[1]) + 0.01:.5f}")
    return lines


def by_another_way(lines: list[str]) -> list[str]:
    """A rapid with one corner more."""
    i = next(i for i, line in enumerate(lines) if line.startswith("G0 X"))
    return [*lines[:i], "G0 X1.0 Y499.0", *lines[i:]]


@pytest.mark.parametrize("spoil", [burnt_joint, wider_joint, by_another_way])
def test_a_spoilt_joint_or_way_is_found_out(held, spoil: Callable[[list[str]], list[str]]):
    """A piece that is not held, or a head that goes where something stands up."""
    write_programs(held)
    path = held / "sheet-001.nc"
    lines = path.read_text(encoding="ascii").splitlines()
    path.write_text("\n".join(spoil(lines)) + "\n", encoding="ascii")
    assert {v.code for v in nl.verify(held).violations} == {"program-differs"}


def test_a_program_that_is_gone_is_missed(folder):
    """A violation, and not a traceback."""
    write_programs(folder)
    (folder / "sheet-001.nc").unlink()
    assert [v.code for v in nl.verify(folder).violations] == ["program-missing"]


def test_a_program_that_makes_no_sense_fails_the_check(folder):
    """A verdict that names the line, so that all the rest is checked as well."""
    write_programs(folder)
    path = folder / "sheet-001.nc"
    lines = path.read_text(encoding="ascii").splitlines()
    at = next(i for i, line in enumerate(lines) if line.startswith(OFF))
    path.write_text("\n".join([*lines[:at], "G7 X1", *lines[at:]]) + "\n", encoding="ascii")
    (violation,) = nl.verify(folder).violations
    assert violation.code == "program-unreadable"
    assert f"line {at + 1}" in violation.message


def test_no_room_beside_a_contour_is_told_before_anything_is_written(plan, tmp_path):
    """A hole of 0.15 mm in a bracket, for a slot of 0.2 mm."""
    bracket = plan.job.part("bracket")
    pin = Contour.circle((100, 30), 0.075).reversed()
    small = replace(bracket, inners=(bracket.inners[0], pin))
    job = replace(plan.job, parts=(small, *plan.job.parts[1:]))
    layout = replace(plan.layouts[0], path=cut_path(plan.layouts[0], job))
    replace(plan, job=job, layouts=(layout,)).write(tmp_path / "plan")
    with pytest.raises(InputError, match="leaves no room for a path beside it"):
        write_programs(tmp_path / "plan")
    assert not list((tmp_path / "plan").glob("*.nc"))
    assert write_programs(tmp_path / "plan", template(tmp_path, kerf='"by control"'))


def test_a_contour_without_a_lead_is_begun_half_a_slot_beside_it(plan, tmp_path):
    """Pierced on its line, the beam would burn into the part on its way to its path."""
    layout = replace(plan.layouts[0], path=cut_path(plan.layouts[0], plan.job))
    cuts = tuple(replace(c, lead_in=None) for c in layout.path.cuts)
    layout = replace(layout, path=replace(layout.path, cuts=cuts))
    path = program_text(replace(plan, layouts=(layout,)), 0, read_template())
    begun = re.findall(r"G0 X(\S+) Y(\S+)\n\(PLACEHOLDER: gas", path)
    cut = [c for c in cuts if c.role != "mark"]
    assert len(begun) == len(cut) > 5
    for (x, y), own in zip(begun, cut, strict=True):
        line = shapely.LinearRing(points_along(own.contour))
        assert line.distance(shapely.Point(float(x), float(y))) == pytest.approx(0.1, abs=1e-4)
    replace(plan, layouts=(layout,)).write(tmp_path / "plan")
    found = write_programs(tmp_path / "plan").verification.violations
    # Their rapids were found for contours with leads.
    assert {v.code for v in found} <= {"rapid-over-opening"}


@pytest.mark.parametrize(("dwell", "counted"), [("seconds", "1"), ("milliseconds", "1000")])
def test_pierce_times_are_counted_as_dwells_are(plan, tmp_path, dwell, counted):
    """The machine of the tests pierces for 1 s, which a control reads in the unit of its P."""
    path = template(tmp_path, dwell=f'"{dwell}"', cut='["G4 P{pierce}", "{beam_on}"]')
    program = program_text(plan, 0, read_template(path))
    assert re.findall(r"(?m)^G4 P(\S+)$", program) == [counted] * program.count(f"\n{ON}")


def lifted(plan: Plan) -> Plan:
    """The plan with its head raised on every rapid."""
    (layout,) = plan.layouts
    cuts = tuple(replace(cut, lifted=True) for cut in layout.path.cuts)
    return replace(plan, layouts=(replace(layout, path=replace(layout.path, cuts=cuts)),))


def test_a_template_that_never_raises_the_head_is_told_so(plan, tmp_path):
    """In the program, and to whoever writes it; not if a line raises the head, or none need."""
    flat = template(tmp_path, before_lifted="[]")
    up = lifted(plan)
    number = len(up.layouts[0].path.cuts)
    (note,) = never_raised(up.layouts[0], read_template(flat))
    assert note.startswith(f"{number} of the rapids")
    said = " ".join(program_text(up, 0, read_template(flat)).replace(")\n(", " ").split())
    assert note.removesuffix(" (before_lifted)") in said
    assert list(never_raised(plan.layouts[0], read_template(flat))) == []
    assert list(never_raised(up.layouts[0], read_template("plain"))) == []


def test_programs_that_fail_the_check_say_so_before_all_else(folder, tmp_path):
    """By lines of the shop's own that count from the last point (G91), which no check passes."""
    notes: list[str] = []
    bad = template(tmp_path, start='["G91"]')
    plan = write_programs(folder, bad, on_note=notes.append)
    assert not plan.verification.passed
    first = (folder / "sheet-001.nc").read_text(encoding="ascii").splitlines()[:2]
    assert "(NOT VERIFIED - DO NOT CUT)" in first
    assert write_programs(folder, "plain").verification.passed
    assert "DO NOT CUT" not in (folder / "sheet-001.nc").read_text(encoding="ascii")
