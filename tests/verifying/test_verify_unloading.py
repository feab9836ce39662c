"""Last cuts that somebody changed by hand: each lie is named."""

import json

import ezdxf
import pytest

import nestlib as nl
from nestlib.model import Contour, Job, Part, Sheet, Spacing, Unloading
from nestlib.verifying import verify


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """A plan whose sheet is taken apart: three plates, some bridges, one remnant."""
    job = Job(
        "stands",
        (Part("plate", Contour.rectangle(200, 150), quantity=3),),
        (Sheet("sheet", Contour.rectangle(1000, 400), cost=10.0),),
        nl.metal("mild-steel", "2"),
        nl.machine("co2-400"),
        unloading=Unloading("straight", 0.4),
    )
    plan = nl.nest(job, stop=nl.Iterations(0), seed=1)
    folder = tmp_path_factory.mktemp("plan") / "plan"
    assert plan.write(folder).verification.violations == ()
    return folder


@pytest.fixture
def record(made):
    """What it says, to be changed."""
    return json.loads((made / "plan.json").read_text())


def codes(made, record, tmp_path):
    """What is found when only plan.json says something else."""
    (tmp_path / "plan.json").write_text(json.dumps(record))
    for file in made.glob("sheet-*.dxf"):
        (tmp_path / file.name).write_bytes(file.read_bytes())
    return {v.code for v in verify(tmp_path).violations}


def last(record, role):
    """Its cuts of one kind."""
    return [c for c in record["layouts"][0]["path"] if c["role"] == role]


def test_the_plan_is_in_order(made, record, tmp_path):
    """Parts, skeleton, cut-off; on layers of their own."""
    assert codes(made, record, tmp_path) == set()
    roles = [c["role"] for c in record["layouts"][0]["path"]]
    assert roles == ["outer"] * 3 + ["skeleton"] * (len(roles) - 4) + ["cut_off"]
    assert len(roles) > 5
    drawn = ezdxf.readfile(made / "sheet-001.dxf").modelspace()
    assert len(drawn.query('LWPOLYLINE[layer=="CUT_SKELETON"]')) == len(roles) - 4
    assert len(drawn.query('LWPOLYLINE[layer=="CUT_OFF"]')) == 1


def test_a_cut_moved_into_a_part(made, record, tmp_path):
    """Its end lies 2 mm deeper, in the metal of the part in whose slot it ended."""
    for cut in last(record, "skeleton"):
        (x0, y0), (x1, y1) = cut["contour"]["points"]
        length = ((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5
        for k, (x, y), s in ((0, (x0, y0), -2 / length), (1, (x1, y1), 2 / length)):
            cut["contour"]["points"][k] = [x + s * (x1 - x0), y + s * (y1 - y0)]
        cut["start"] = cut["pierce"] = cut["contour"]["points"][0]
    assert {"skeleton-too-close", "skeleton-differs"} <= codes(made, record, tmp_path)


@pytest.mark.parametrize(
    "ends",
    [
        {"over_cut": 0.5},
        {"end_gap": 0.5},
        {"lead_out": {"points": [[0, 0], [0, 5]], "bulges": [0, 0]}},
    ],
)
def test_a_cut_in_the_skeleton_that_ends_like_a_contour(made, record, tmp_path, ends):
    """A bridge has neither leads nor an over-cut nor a gap; the job wants none of them."""
    last(record, "skeleton")[0].update(ends)
    assert "cut-differs" in codes(made, record, tmp_path)


def test_a_cut_off_beside_the_remnant(made, record, tmp_path):
    """10 mm into it, the remnant is no longer what is cut free."""
    (cut,) = last(record, "cut_off")
    cut["contour"]["points"] = [[x + 10, y] for x, y in cut["contour"]["points"]]
    cut["start"] = cut["pierce"] = cut["contour"]["points"][0]
    assert "remnant-not-free" in codes(made, record, tmp_path)


def test_a_cut_off_that_stops_short(made, record, tmp_path):
    """5 mm of metal still hold the remnant."""
    (cut,) = last(record, "cut_off")
    (_, y0), (x1, y1) = cut["contour"]["points"]
    cut["contour"]["points"][1] = [x1, y1 + (5 if y1 < y0 else -5)]
    cut["length"] -= 5
    assert "remnant-not-free" in codes(made, record, tmp_path)


@pytest.mark.parametrize("by", [0.0, -4.0, -3.0, 1.0])
def test_a_cut_off_that_does_not_run_on(tmp_path, by):
    """4 mm beyond the edge were wished for; drawn less or more far, the lie is named."""
    job = Job(
        "stands",
        (Part("plate", Contour.rectangle(200, 150), quantity=3),),
        (Sheet("sheet", Contour.rectangle(1000, 400), cost=10.0),),
        nl.metal("mild-steel", "2"),
        nl.machine("co2-400"),
        unloading=Unloading("straight", edge_overrun=4.0),
    )
    plan = nl.nest(job, stop=nl.Iterations(0), seed=1)
    assert plan.write(tmp_path / "plan").verification.violations == ()
    record = json.loads((tmp_path / "plan" / "plan.json").read_text())
    (cut,) = last(record, "cut_off")
    (_, y0), (x1, y1) = cut["contour"]["points"]
    cut["contour"]["points"][1] = [x1, y1 - by if y1 < y0 else y1 + by]
    (tmp_path / "lie").mkdir()
    found = codes(tmp_path / "plan", record, tmp_path / "lie")
    assert ("skeleton-off-sheet" in found) == (by != 0)


def test_no_cut_off_at_all(made, record, tmp_path):
    """Promised by the job, and gone from the path."""
    record["layouts"][0]["path"].pop()
    assert "remnant-not-free" in codes(made, record, tmp_path)


def test_the_cut_off_before_the_skeleton(made, record, tmp_path):
    """What has to come last comes before."""
    path = record["layouts"][0]["path"]
    path[-1], path[-2] = path[-2], path[-1]
    path[-1]["order"], path[-2]["order"] = path[-2]["order"], path[-1]["order"]
    assert "skeleton-too-early" in codes(made, record, tmp_path)


def test_a_skeleton_cut_left_out(made, record, tmp_path):
    """Then a piece is larger than all that are listed."""
    path = record["layouts"][0]["path"]
    path.remove(last(record, "skeleton")[0])
    assert "skeleton-pieces-differ" in codes(made, record, tmp_path)


@pytest.mark.parametrize(("key", "by"), [("weight", 0.5), ("area", 0.5)])
def test_pieces_said_to_be_smaller(made, record, tmp_path, key, by):
    """Half of the weight, or of the area."""
    record["layouts"][0]["skeleton"][0][key] *= by
    assert "skeleton-pieces-differ" in codes(made, record, tmp_path)


def test_pieces_said_to_be_shorter(made, record, tmp_path):
    """Half as wide as they are."""
    for piece in record["layouts"][0]["skeleton"]:
        piece["size"][0] /= 2
    assert "skeleton-pieces-differ" in codes(made, record, tmp_path)


def test_the_head_down_on_its_way_over_loose_pieces(made, record, tmp_path):
    """Each way to a last cut is lifted."""
    last(record, "skeleton")[0]["lifted"] = False
    assert "rapid-over-opening" in codes(made, record, tmp_path)


def test_a_skeleton_cut_of_a_placement_is_refused(made, record, tmp_path):
    """It belongs to none."""
    last(record, "skeleton")[0]["placement"] = 0
    with pytest.raises(nl.InputError, match="belongs to no placement"):
        codes(made, record, tmp_path)


def test_metal_between_slots_that_touch_may_be_listed(tmp_path):
    """Nothing is left around two plates but 2 mm over one of them; the rest is rounding."""
    outline = Contour([(0, 0), (401, 0), (401, 150.5), (100, 150.5), (100, 152.5), (0, 152.5)])
    job = Job(
        "stands",
        (Part("plate", Contour.rectangle(200, 150), quantity=2, rotations=(0.0,)),),
        (Sheet("sheet", outline, quantity=1),),
        nl.metal("mild-steel", "2"),
        nl.machine("co2-400"),
        Spacing(kerf=0.25, spacing=0.0, margin=0.0),
        unloading=Unloading("straight", None, 200.0),
    )
    plan = nl.nest(job, stop=nl.Iterations(0), seed=1).write(tmp_path / "plan")
    assert plan.placed["plate"] == 2
    assert plan.verification.violations == ()
