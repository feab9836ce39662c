"""From a job to a plan."""

import os
import signal
from itertools import pairwise

import pytest

import nestlib as nl
from nestlib import nesting
from nestlib.model import Contour, Job, Part, Sheet, Spacing


def job_of(*parts: Part, sheets: tuple[Sheet, ...] | None = None, **more: object) -> Job:
    """A job in mild steel on one kind of sheet."""
    plate = Sheet("plate", Contour.rectangle(600, 400), quantity=None, cost=10.0)
    return Job(
        title="test",
        parts=parts,
        sheets=sheets or (plate,),
        metal=nl.metal("mild-steel", "1.5"),
        machine=nl.machine("co2-400"),
        **more,
    )


def bow_tie() -> Contour:
    """Crosses itself."""
    return Contour([(0, 0), (100, 100), (100, 0), (0, 100)])


square = Part("square", Contour.rectangle(100, 100), quantity=4)


def test_a_job_without_parts_is_refused():
    """With the remedy."""
    with pytest.raises(nl.InputError, match=r"no parts.*Add"):
        nl.nest(job_of())


@pytest.mark.parametrize(
    ("part", "message"),
    [
        (Part("p", bow_tie()), "Self-intersection"),
        (Part("p", Contour([(0, 0), (9, 0), (0, 9)], closed=False)), "open"),
        (Part("p", Contour.rectangle(50, 50), (Contour.rectangle(9, 9),)), "no region"),
        (Part("p", Contour.rectangle(50, 50), quantity=-1), "quantity is -1"),
        (Part("p", Contour.rectangle(50, 50), rotations=()), "no rotation"),
    ],
)
def test_parts_made_in_code_are_checked_too(part, message):
    """A part that crosses itself or is open is refused by name."""
    with pytest.raises(nl.InputError, match=f"(?s)part p.*{message}"):
        nl.nest(job_of(part))


def test_all_that_is_wrong_with_a_job_is_told_at_once():
    """Names twice and a distance below 0."""
    with pytest.raises(nl.InputError) as caught:
        nl.nest(job_of(square, square, spacing=Spacing(kerf=-1)))
    assert len(caught.value.problems) == 2


def test_the_caution_about_weight_is_about_a_sheet_that_is_cut():
    """Not about a heavier one that nobody has to lift."""
    small = Sheet("small", Contour.rectangle(600, 400), quantity=None, cost=10.0)
    large = Sheet("large", Contour.rectangle(2500, 1250), quantity=None, cost=100.0)
    plan = nl.nest(job_of(square, sheets=(large, small)), stop=nl.Iterations(0))
    assert [layout.sheet.name for layout in plan.layouts] == ["small"]
    (weight,) = [c for c in plan.cautions if "weighs about" in c]
    assert "600 x 400 mm" in weight


def test_the_right_end_of_the_sheet_is_kept():
    """The remnant begins spacing + 2 kerf after the last contour or lead-in."""
    plan = nl.nest(job_of(square), stop=nl.Iterations(0))
    (layout,) = plan.layouts
    (remnant,) = layout.remnants
    x0, _, x1, y1 = remnant.outline.bounds
    leads = [cut.lead_in.bounds[2] for cut in layout.path.cuts]
    reach = max(*leads, *(p.x + 100 for p in layout.placements))
    assert x0 == pytest.approx(reach + 3 + 2 * 0.2)
    assert (x1, y1) == (600, 400)


def test_figures_add_up():
    """Utilisation, weight and cost from closed formulas."""
    plan = nl.nest(job_of(square), stop=nl.Iterations(0))
    assert plan.utilisation == pytest.approx(4 * 100 * 100 / (600 * 400))
    assert plan.weight == pytest.approx(4 * 0.01 * 1.5 * 7.85)
    assert plan.cost == 10.0
    assert plan.bound.sheets == 1


def test_remnants_are_used_first():
    """A leftover that holds everything leaves the new sheets on the rack."""
    remnant = Sheet("left", Contour.rectangle(300, 300), remnant=True, cost=1.0)
    plate = Sheet("plate", Contour.rectangle(600, 400), quantity=None, cost=10.0)
    plan = nl.nest(job_of(square, sheets=(plate, remnant)), stop=nl.Iterations(0))
    assert [layout.sheet.name for layout in plan.layouts] == ["left"]


def test_the_cheaper_sheet_is_taken_whatever_the_order_of_the_list():
    """New sheets are of one rank: the price decides, not which is named first."""
    dear = Sheet("dear", Contour.rectangle(600, 400), quantity=None, cost=50.0)
    cheap = Sheet("cheap", Contour.rectangle(500, 400), quantity=None, cost=10.0)
    for sheets in ((dear, cheap), (cheap, dear)):
        plan = nl.nest(job_of(square, sheets=sheets), stop=nl.Iterations(1))
        assert [layout.sheet.name for layout in plan.layouts] == ["cheap"]


def test_high_quantities_are_runs_of_one_layout():
    """Ten thousand squares are not ten thousand layouts."""
    many = Part("square", Contour.rectangle(100, 100), quantity=10_000)
    plan = nl.nest(job_of(many), stop=nl.Iterations(0))
    assert plan.placed["square"] == 10_000
    assert len(plan.layouts) <= 2


@pytest.mark.parametrize("quarter", [0.0, 90.0])
def test_what_fits_exactly_is_placed(quarter):
    """3 x 2 plates fill a sheet to the last micrometre: contours spacing + 2 kerf apart and
    margin + kerf from the edge."""
    spacing = Spacing(kerf=0.25, spacing=4, margin=10)
    sheet = Sheet("exact", Contour.rectangle(3 * 300 + 2 * 4.5 + 20.5, 2 * 200 + 4.5 + 20.5))
    width, height = (300, 200) if quarter == 0 else (200, 300)
    plate = Part("plate", Contour.rectangle(width, height), quantity=6, rotations=(quarter,))
    plan = nl.nest(job_of(plate, sheets=(sheet,), spacing=spacing), stop=nl.Iterations(0))
    assert plan.complete


def test_ctrl_c_while_the_cuts_are_ordered_loses_nothing(monkeypatch):
    """The layouts are there already: they are finished, and the plan says it was stopped."""
    order = nesting.cut_path

    def interrupted(layout, job, **options):
        os.kill(os.getpid(), signal.SIGINT)
        return order(layout, job, **options)

    monkeypatch.setattr(nesting, "cut_path", interrupted)
    plan = nl.nest(job_of(square), stop=nl.Iterations(0))
    assert plan.stopped
    assert plan.placed["square"] == 4
    assert plan.layouts[0].path.pierces == 4


def test_progress_tells_the_phases():
    """From the first filling to the cuts and the bound."""
    seen = []
    nl.nest(job_of(square), stop=nl.Iterations(0), on_progress=seen.append)
    assert seen[-2].phase.startswith("ordering the cuts")
    assert seen[-1].phase.startswith("proving")
    assert all(a.seconds <= b.seconds for a, b in pairwise(seen))


def test_the_caller_may_bring_an_executor():
    """Any executor of the standard library gives the same plan as none."""
    from concurrent.futures import ThreadPoolExecutor

    job = job_of(square, Part("disc", Contour.circle((30, 30), 30), quantity=20))
    alone = nl.nest(job, stop=nl.Iterations(1), seed=3)
    with ThreadPoolExecutor(2) as pool:
        shared = nl.nest(job, stop=nl.Iterations(1), seed=3, workers=pool)
    assert [x.placements for x in alone.layouts] == [x.placements for x in shared.layouts]
