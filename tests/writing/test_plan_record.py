"""plan.json: as its schema says, and whole enough to make the plan again."""

import json
import math
from dataclasses import replace

import jsonschema
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from nestlib.costing import work
from nestlib.cutting import cut_path
from nestlib.errors import InputError
from nestlib.model import (
    Bound,
    Contour,
    Entry,
    Holding,
    Layout,
    Part,
    Placement,
    Plan,
    Sheet,
    Source,
    Support,
)
from nestlib.writing import (
    layout_bytes,
    plan_from_record,
    plan_record,
    plan_schema,
    program_record,
    read_plan,
    read_template,
    write_plan_record,
)
from tests.layouts import JOB, job_of, mixed_layout, whole_plan
from tests.shapes import parts

FILES = ["sheet-001.dxf"]


def worked_out(plan: Plan) -> Plan:
    """The plan with times and costs."""
    return replace(plan, work=work(plan))


def hand_made() -> dict[str, tuple[Plan, list[str]]]:
    """Plans from empty to full."""
    layout = mixed_layout()
    cut = Layout(layout.sheet, layout.placements, 2, cut_path(layout, JOB), layout.remnants)
    unknown = Bound(0, math.nan, "")
    machine = replace(JOB.machine, support=Support("spikes", (50.0, 60.0), (1.0, 2.0)))
    held_parts = (replace(JOB.parts[0], joints="all", critical=("top",)), *JOB.parts[1:])
    held_job = replace(
        JOB, parts=held_parts, machine=machine, holding=Holding("tipping", 0.3, True)
    )
    held = replace(layout, path=cut_path(layout, held_job))
    led_job = replace(JOB, entry=Entry("mid-edge", "line", 4.0, "arc", 2.0, 30.0, over_cut=0.5))
    led = replace(layout, path=cut_path(layout, led_job))
    gap_job = replace(JOB, entry=Entry(start_at="anywhere", end_gap=0.3))
    gaps = replace(layout, path=cut_path(layout, gap_job))
    drawn = Part(
        "drawn",
        Contour.rectangle(4, 2),
        source=Source("no/such.dxf", 1, (3.0, 4.0), "in", join=0.2),
    )
    priceless = Sheet("free", Contour.circle((50, 50), 50), quantity=None)
    lone = job_of((drawn,), (priceless,))
    lone_layout = Layout(priceless, (Placement("drawn", 0, False, 40, 40),))
    return {
        "nothing placed": (Plan(JOB, (), (), unknown), []),
        "held": (Plan(held_job, (held,), (), unknown), FILES),
        "led out": (Plan(led_job, (led,), (), unknown), FILES),
        "ends with gaps": (Plan(gap_job, (gaps,), (), unknown), FILES),
        "no path": (Plan(JOB, (layout,), (), unknown), FILES),
        "whole": (whole_plan(cut), FILES),
        "with times and costs": (worked_out(whole_plan(cut)), FILES),
        "no price": (Plan(lone, (lone_layout,), (), Bound(1, math.inf, "area")), FILES),
        "no machine figures": (
            worked_out(
                Plan(replace(JOB, machine=replace(JOB.machine, settings=())), (cut,), (), unknown)
            ),
            FILES,
        ),
    }


cases = pytest.mark.parametrize("name", list(hand_made()))


def validator() -> jsonschema.Draft202012Validator:
    """The schema, itself checked."""
    jsonschema.Draft202012Validator.check_schema(plan_schema())
    return jsonschema.Draft202012Validator(plan_schema())


@cases
def test_plans_keep_the_schema(name):
    """Nothing missing, nothing unknown, every value of its kind."""
    plan, files = hand_made()[name]
    validator().validate(plan_record(plan, files))


def test_programs_keep_the_schema():
    """What is needed to read them again."""
    plan, files = hand_made()["with times and costs"]
    validator().validate(plan_record(plan, files, program_record(plan, read_template())))


@cases
def test_a_plan_read_back_gives_the_same_record(name, tmp_path):
    """Equal to the last digit after a trip through the file, however it is named."""
    plan, files = hand_made()[name]
    folders = [tmp_path / "first", tmp_path / "again", tmp_path / "third"]
    for folder in folders:
        folder.mkdir()
    write_plan_record(plan, files, folders[0])
    write_plan_record(read_plan(folders[0]), files, folders[1])
    write_plan_record(read_plan(folders[1] / "plan.json"), files, folders[2])
    first, again, third = ((f / "plan.json").read_text(encoding="utf-8") for f in folders)
    assert first == again == third


def test_drawings_are_named_as_seen_from_the_plan(tmp_path, monkeypatch):
    """So that they are found whichever folder the reader stands in."""
    plan, files = hand_made()["no price"]
    monkeypatch.chdir(tmp_path)
    (tmp_path / "plan").mkdir()
    write_plan_record(plan, files, "plan")
    record = json.loads((tmp_path / "plan" / "plan.json").read_text(encoding="utf-8"))
    source = plan.job.parts[0].source
    assert record["parts"][0]["source"]["file"] == f"../{source.file}"
    assert read_plan("plan").job.parts[0].source.file == source.file


def test_a_plan_read_back_writes_the_same_drawing(tmp_path):
    """The DXF made from plan.json has the same bytes as the first one."""
    plan, files = hand_made()["whole"]
    write_plan_record(plan, files, tmp_path)
    again = read_plan(tmp_path)
    first = layout_bytes(plan.layouts[0], plan.job, title="t")
    assert layout_bytes(again.layouts[0], again.job, title="t") == first


def test_figures_that_are_not_finite_are_null():
    """A bound without a cost, written and read back."""
    plan, files = hand_made()["no price"]
    record = plan_record(plan, files)
    assert record["bound"]["cost"] is None
    assert record["cost"] is None
    assert math.isnan(plan_from_record(record).bound.cost)
    json.dumps(record, allow_nan=False)


def test_the_drawing_s_digest_is_recorded(tmp_path):
    """SHA-256 of the file as it is; the digest of the reading is kept if it is known."""
    drawing = tmp_path / "a.dxf"
    drawing.write_bytes(b"abc")  # digest from FIPS 180-2, appendix B.1, recalled from memory
    known = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    for digest, expected in ((None, known), ("0" * 64, "0" * 64)):
        part = Part("p", Contour.rectangle(4, 2), source=Source(str(drawing), sha256=digest))
        record = plan_record(Plan(job_of((part,)), (), (), Bound(0, 0, "")), [])
        assert record["parts"][0]["source"]["sha256"] == expected


def test_each_layout_needs_a_file():
    """One name too few is a mistake of the caller."""
    with pytest.raises(ValueError, match="shorter"):
        plan_record(whole_plan(mixed_layout()), [])


def described(schema: dict, place: str = "") -> list[str]:
    """Places of properties without a description."""
    found = []
    for name, field in schema.get("properties", {}).items():
        if not field.get("description") and "$ref" not in field and "const" not in field:
            found.append(f"{place}/{name}")
        found.extend(described(field, f"{place}/{name}"))
    for name, field in schema.get("$defs", {}).items():
        found.extend(described(field, f"{place}/$defs/{name}"))
    return found


def test_every_field_is_described():
    """The schema is also the documentation."""
    assert described(plan_schema()) == []


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("version",), 2),
        (("units",), "in"),
        (("layouts", 0, "runs"), 0),
        (("layouts", 0, "placements", 0, "x"), "12"),
        (("layouts", 0, "placements", 0, "rotation"), 360),
        (("parts", 0, "contours", "outer", "points"), [[0, 0]]),
        (("bound", "net_cost"), "12"),
        (("surprise",), 1),
    ],
)
def test_the_schema_refuses_what_is_wrong(path, value):
    """Each of these changes makes a good plan invalid."""
    plan, files = hand_made()["whole"]
    record = json.loads(json.dumps(plan_record(plan, files)))
    *way, last = path
    spot = record
    for step in way:
        spot = spot[step]
    spot[last] = value
    assert not validator().is_valid(record)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (None, "cannot be read"),
        ("{", "is not JSON"),
        ("[]", "is not a plan"),
        ('{"format": "other"}', "is not a plan"),
        ('{"format": "nestlib-plan", "version": 99}', "has version 99"),
        ('{"format": "nestlib-plan", "version": 1}', "is damaged"),
    ],
)
def test_a_bad_plan_is_one_clear_message(tmp_path, text, message):
    """File, problem and remedy; never another error."""
    if text is not None:
        (tmp_path / "plan.json").write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=message) as caught:
        read_plan(tmp_path)
    assert len(caught.value.problems) == 1
    assert caught.value.problems[0].remedy


@settings(max_examples=30, deadline=None, suppress_health_check=list(HealthCheck))
@given(parts("a"), st.floats(0, 359.9), st.booleans(), st.floats(-1e6, 1e6))
def test_any_part_comes_back_exactly(part, rotation, flip, x):
    """The record of a random part and placement keeps the schema and comes back equal."""
    job = job_of((part,))
    layout = Layout(job.sheets[0], (Placement("a", rotation, flip, x, 1 / 3),))
    record = plan_record(Plan(job, (layout,), (), Bound(1, 1.0, "")), FILES)
    text = json.dumps(record, allow_nan=False)
    assert plan_record(plan_from_record(json.loads(text)), FILES) == record
