"""Joints and rapids of written plans: sound ones pass, and each lie is named."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import ezdxf
import pytest

from nestlib.cutting import cut_path
from nestlib.handover import write
from nestlib.model import (
    Bound,
    Contour,
    Holding,
    Job,
    Layout,
    Part,
    Placement,
    Plan,
    Sheet,
    Support,
)
from nestlib.verifying import verify
from tests.layouts import LASER, job_of, shifted

WINDOW = shifted(Contour.rectangle(110, 20), 40, 15).reversed()
PLATE = Part("plate", Contour.rectangle(200, 50), (WINDOW,), quantity=4)

Edit = Callable[[dict[str, Any]], object]


def job(joints: str, **more: Any) -> Job:
    """Four plates on slats 60 mm apart; a lift takes no time, so no detour is worth it."""
    machine = replace(LASER, support=Support("slats", (60.0, 60.0)), lift=0.0)
    return replace(job_of((PLATE,)), machine=machine, holding=Holding(joints, **more))


def written(folder: Path, job: Job, rounds: int | None = None) -> Path:
    """The plan as it is handed over; with 0 rounds the nearest contour always comes next."""
    spots = [(100, 100, 0.0), (100, 160, 0.0), (400, 150, 90.0), (600, 150, 90.0)]
    places = tuple(Placement("plate", turn, False, x, y) for x, y, turn in spots)
    layout = Layout(job.sheets[0], places)
    layout = replace(layout, path=cut_path(layout, job, rounds=rounds))
    write(Plan(job, (layout,), (), Bound(1, 40.0, "area")), folder)
    return folder


def codes(folder: Path, edit: Edit | None = None) -> set[str]:
    """What the verifier says, after an edit of the first layout's record."""
    file = folder / "plan.json"
    record = json.loads(file.read_text(encoding="utf-8"))
    if edit is not None:
        edit(record["layouts"][0])
    file.write_text(json.dumps(record), encoding="utf-8")
    return {v.code for v in verify(folder).violations}


def outer(layout: dict[str, Any]) -> dict[str, Any]:
    """The first outer cut."""
    return next(c for c in layout["path"] if c["role"] == "outer")


@pytest.mark.parametrize("joints", ["none", "tipping", "all"])
def test_plans_with_joints_pass(tmp_path: Path, joints: str) -> None:
    """Written, read back and checked by code that shares nothing with what placed them.

    Of the plates the two that lie across the slats stay, since 200 mm is more than twice
    60 mm; the two others and the four slugs can tip, with three joints each.
    """
    folder = written(tmp_path / "plan", job(joints))
    assert codes(folder) == set()
    drawn = ezdxf.readfile(folder / "sheet-001.dxf").modelspace()
    found = len(drawn.query('*[layer=="MICRO_JOINT"]'))
    assert found == {"none": 0, "tipping": 18, "all": 24}[joints]
    assert len(drawn.query('LWPOLYLINE[layer=="CUT_OUTER"]')) == 4


def _into_corner(layout: dict[str, Any]) -> None:
    """The next corner of the plate after the first joint lies under its edge."""
    cut = outer(layout)
    points = cut["contour"]["points"]
    (x0, y0), (x1, y1) = points[0], points[1]
    cut["joints"][0]["at"] = abs(x1 - x0) + abs(y1 - y0) + 0.1


def _wider(layout: dict[str, Any]) -> None:
    outer(layout)["joints"][0]["width"] += 0.1


def _moved(layout: dict[str, Any]) -> None:
    outer(layout)["joints"][1]["at"] += 0.5


def _forgotten(layout: dict[str, Any]) -> None:
    outer(layout)["joints"].pop()


def _twice(layout: dict[str, Any]) -> None:
    joints = outer(layout)["joints"]
    joints.insert(0, dict(joints[0]))


def _at_start(layout: dict[str, Any]) -> None:
    outer(layout)["joints"][0]["at"] = 0.1


@pytest.mark.parametrize(
    ("edit", "wanted"),
    [
        (_into_corner, "joint-in-corner"),
        (_wider, "joint-width-differs"),
        (_moved, "joint-differs"),
        (_forgotten, "length-differs"),
        (_forgotten, "figure-differs"),
        (_forgotten, "joint-differs"),
        (_twice, "joints-overlap"),
        (_at_start, "joints-overlap"),
    ],
)
def test_joints_that_are_not_as_they_should_be_are_named(
    tmp_path: Path, edit: Edit, wanted: str
) -> None:
    """One edit of a sound plan each."""
    assert wanted in codes(written(tmp_path / "plan", job("all")), edit)


def test_a_joint_on_a_critical_edge_is_named(tmp_path: Path) -> None:
    """The plan was made without; then the part's edges are said to be critical."""
    folder = written(tmp_path / "plan", job("all"))
    file = folder / "plan.json"
    record = json.loads(file.read_text(encoding="utf-8"))
    for critical, wrong in ((["holes"], True), ([], False), (["top", "bottom"], True)):
        record["parts"][0]["critical"] = critical
        file.write_text(json.dumps(record), encoding="utf-8")
        found = {v.code for v in verify(folder).violations}
        assert found == ({"joint-not-allowed"} if wrong else set())


def test_a_joint_that_is_not_drawn_is_named(tmp_path: Path) -> None:
    """One of them deleted from the drawing."""
    folder = written(tmp_path / "plan", job("all"))
    document = ezdxf.readfile(folder / "sheet-001.dxf")
    space = document.modelspace()
    space.delete_entity(space.query('*[layer=="MICRO_JOINT"]')[0])
    document.saveas(folder / "sheet-001.dxf")
    assert codes(folder) == {"joint-differs"}


def test_a_head_left_down_over_an_opening_is_named(tmp_path: Path) -> None:
    """All that was lifted is said to stay down; the figures are lies then, too."""

    def down(layout: dict[str, Any]) -> None:
        assert layout["lifts"] > 0
        for cut in layout["path"]:
            cut["lifted"] = False

    # A search finds ways here that cross nothing that is open.
    folder = written(tmp_path / "plan", job("none"), rounds=0)
    assert codes(folder, down) == {"rapid-over-opening", "figure-differs", "length-differs"}


def test_a_piece_that_is_said_to_stay_and_can_tip_is_named(tmp_path: Path) -> None:
    """All are said to stay: the two plates along the slats and the slugs do not."""

    def safe(layout: dict[str, Any]) -> None:
        for cut in layout["path"]:
            cut["fate"] = "stays"

    folder = written(tmp_path / "plan", job("none"))
    assert codes(folder, safe) == {"can-tip"}
    assert len(verify(folder).violations) == 6


def test_plans_that_say_nothing_of_joints_and_lifts_are_read(tmp_path: Path) -> None:
    """As older ones do not: nothing is asked of them that they cannot tell."""

    def older(layout: dict[str, Any]) -> None:
        for key in ("joints", "lifts", "lifted_length"):
            del layout[key]
        for cut in layout["path"]:
            for key in ("joints", "fate", "lifted", "via"):
                del cut[key]

    assert codes(written(tmp_path / "plan", job("none")), older) == set()


def test_a_plan_whose_only_rapid_is_lifted_passes(tmp_path: Path) -> None:
    """One piece beyond a clamp in the corner: no rapid is left that could cross anything."""
    clamp = Contour.rectangle(60, 40)
    part = Part("tile", Contour.rectangle(30, 30))
    sheet = Sheet("clamped", Contour.rectangle(200, 200), keep_outs=(clamp,))
    own = replace(job("none"), parts=(part,), sheets=(sheet,))
    layout = Layout(sheet, (Placement("tile", 0.0, False, 100, 100),))
    layout = replace(layout, path=cut_path(layout, own))
    assert [cut.lifted for cut in layout.path.cuts] == [True]
    write(Plan(own, (layout,), (), Bound(1, None, "area")), tmp_path / "plan")
    assert verify(tmp_path / "plan").passed
