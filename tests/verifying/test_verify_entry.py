"""Leads, over-cuts and gaps of written plans and programs: each lie is named."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import ezdxf
import pytest

from nestlib.cutting import cut_path
from nestlib.handover import write, write_programs
from nestlib.model import Bound, Contour, Entry, Layout, Part, Placement, Plan
from nestlib.verifying import verify
from nestlib.writing import plain_template_text
from tests.layouts import SHEET, job_of, shifted

PLATE = Part(
    "plate",
    Contour.rectangle(100, 60),
    (shifted(Contour.rectangle(40, 20), 30, 20).reversed(),),
    quantity=2,
)
LED = Entry(lead_out="line", over_cut=1.0)
GAP = Entry(end_gap=0.5)

Edit = Callable[[dict[str, Any]], object]


def written(folder: Path, entry: Entry) -> Path:
    """Two plates side by side, 10 mm apart."""
    job = replace(job_of((PLATE,)), entry=entry)
    layout = Layout(SHEET, tuple(Placement("plate", 0.0, False, x, 100.0) for x in (100, 210)))
    layout = replace(layout, path=cut_path(layout, job))
    write(Plan(job, (layout,), (), Bound(1, 40.0, "area")), folder)
    return folder


def codes(folder: Path, edit: Edit | None = None) -> set[str]:
    """What the verifier says, after an edit of the record."""
    file = folder / "plan.json"
    record = json.loads(file.read_text(encoding="utf-8"))
    if edit is not None:
        edit(record)
    file.write_text(json.dumps(record), encoding="utf-8")
    return {v.code for v in verify(folder).violations}


def cuts(record: dict[str, Any]) -> list[dict[str, Any]]:
    """All cuts of the only layout."""
    found: list[dict[str, Any]] = record["layouts"][0]["path"]
    return found


def wish(record: dict[str, Any], **changes: Any) -> None:
    """Change what the job wants."""
    record["job"]["entry"].update(changes)


def move(record: dict[str, Any], which: int, to: tuple[float, float]) -> None:
    """Put one end of the first lead-out elsewhere."""
    cuts(record)[0]["lead_out"]["points"][which] = list(to)


def elsewhere(record: dict[str, Any]) -> None:
    """Let the first cut's lead begin where the second's does."""
    one, other = cuts(record)[0], cuts(record)[1]
    one["lead"]["points"][0] = other["lead"]["points"][0]
    one["pierce"] = other["pierce"]


@pytest.mark.parametrize("entry", [LED, GAP, Entry("mid-edge", "arc", lead_out="arc")])
def test_what_was_wished_for_passes(tmp_path: Path, entry: Entry) -> None:
    """Written, read back and checked by code that shares nothing with what chose it."""
    assert codes(written(tmp_path / "plan", entry)) == set()


@pytest.mark.parametrize(
    ("entry", "edit", "code"),
    [
        (LED, lambda r: wish(r, over_cut=1.1), "end-differs"),
        (LED, lambda r: wish(r, lead_out="none"), "end-differs"),
        (GAP, lambda r: wish(r, end_gap=0.4), "end-differs"),
        (LED, lambda r: cuts(r)[0].update(over_cut=0.9), "lead-off-contour"),
        (LED, lambda r: cuts(r)[0].update(end_gap=0.9), "length-differs"),
        (LED, lambda r: move(r, 0, (130.0, 125.0)), "lead-off-contour"),
        (LED, lambda r: move(r, -1, (140.0, 130.0)), "lead-differs"),
        (LED, elsewhere, "leads-touch"),
        (GAP, lambda r: cuts(r)[1].update(end_gap=0.6), "joint-differs"),
    ],
)
def test_each_lie_about_ends_is_named(tmp_path: Path, entry: Entry, edit: Edit, code: str) -> None:
    """Whatever somebody changes in the plan."""
    assert code in codes(written(tmp_path / "plan", entry), edit)


def test_a_lead_out_drawn_into_a_part_is_named(tmp_path: Path) -> None:
    """Its end moved into the other plate, in plan and drawing alike."""
    folder = written(tmp_path / "plan", LED)
    document = ezdxf.readfile(folder / "sheet-001.dxf")
    lead = document.modelspace().query('LWPOLYLINE[layer=="LEAD_OUT"]').first
    assert lead is not None
    before = lead.get_points("xyb")
    lead.set_points([*before[:-1], (250.0, 110.0, 0.0)], format="xyb")
    document.saveas(folder / "sheet-001.dxf")
    assert {"lead-enters-part", "lead-differs"} <= codes(folder)


def test_a_lead_in_the_slot_of_another_piece_is_named(tmp_path: Path) -> None:
    """One slot from the other plate, where one and a half are needed: common practice."""
    folder = written(tmp_path / "plan", LED)
    document = ezdxf.readfile(folder / "sheet-001.dxf")
    space = document.modelspace()
    space.add_lwpolyline([(209.8, 110), (209.8, 112)], dxfattribs={"layer": "LEAD_OUT"})
    document.saveas(folder / "sheet-001.dxf")
    assert {"lead-too-close", "lead-differs"} == codes(folder)


def template(folder: Path, kerf: str) -> Path:
    """The plain one, with the slot kept by one or the other."""
    text = plain_template_text().replace('kerf = "in path"', f'kerf = "{kerf}"')
    (folder / "shop.toml").write_text(text, encoding="utf-8")
    return folder / "shop.toml"


def shorter(lines: list[str]) -> list[str]:
    """The last move of the last cut is left out."""
    end = max(i for i, line in enumerate(lines) if re.match(r"G[123] ", line))
    return lines[:end] + lines[end + 1 :]


def longer(lines: list[str]) -> list[str]:
    """The last cut goes on for 0.01 mm more."""
    end = max(i for i, line in enumerate(lines) if re.match(r"G[123] ", line))
    x = re.search(r"X(-?[\d.]+)", lines[end])
    assert x is not None
    lines[end] = lines[end].replace(x[0], f"X{float(x[1]) + 0.01:.5f}")
    return lines


@pytest.mark.parametrize("kerf", ["in path", "by control"])
@pytest.mark.parametrize("entry", [LED, GAP, Entry("mid-edge", "arc", lead_out="arc")])
@pytest.mark.parametrize("spoil", [shorter, longer])
def test_a_spoilt_end_of_a_program_is_found_out(
    tmp_path: Path, entry: Entry, kerf: str, spoil: Callable[[list[str]], list[str]]
) -> None:
    """As it is it passes; without its last move, or with a longer one, it does not."""
    folder = written(tmp_path / "plan", entry)
    assert write_programs(folder, template(tmp_path, kerf)).verification.violations == ()
    path = folder / "sheet-001.nc"
    lines = path.read_text(encoding="ascii").splitlines()
    path.write_text("\n".join(spoil(lines)) + "\n", encoding="ascii")
    assert codes(folder) == {"program-differs"}


def test_offsets_are_set_and_taken_off_on_straight_moves(tmp_path: Path) -> None:
    """A control needs a move of half a slot for it (RS274/NGC, from memory)."""
    folder = written(tmp_path / "plan", Entry("mid-edge", "arc", lead_out="arc"))
    write_programs(folder, template(tmp_path, "by control"))
    lines = (folder / "sheet-001.nc").read_text(encoding="ascii").splitlines()
    for code in ("G41", "G40"):
        at = [i for i, line in enumerate(lines) if line == code]
        assert len(at) == 4
        assert all(lines[i + 1].startswith("G1") for i in at)


def test_an_offset_that_is_set_on_an_arc_is_found_out(tmp_path: Path) -> None:
    """A plan whose leads are arcs from their very beginning."""
    job = job_of((PLATE,))
    layout = Layout(SHEET, (Placement("plate", 0.0, False, 100, 100),))
    path = cut_path(layout, job)
    leads = [c.lead_in for c in path.cuts if c.lead_in]
    arcs = [Contour(lead.points[[0, -1]], [0.1, 0.0], closed=False) for lead in leads]
    cuts = [replace(c, lead_in=arc) for c, arc in zip(path.cuts, arcs, strict=True)]
    layout = replace(layout, path=replace(path, cuts=tuple(cuts)))
    write(Plan(job, (layout,), (), Bound(1, 40.0, "area")), tmp_path / "plan")
    done = write_programs(tmp_path / "plan", template(tmp_path, "by control"))
    told = [v.message for v in done.verification.violations if v.code == "program-differs"]
    assert len(told) == 2
    assert all("no straight move of half a slot" in text for text in told)
