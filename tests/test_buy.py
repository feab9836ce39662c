"""`buy` from parts and prices to an order: by hand, and over all that is asked of it."""

import itertools
from collections import Counter
from dataclasses import replace
from datetime import date

import jsonschema
import pytest
from shapely import box, unary_union

import nestlib as nl
from nestlib.geometry import placed, region
from nestlib.model import Contour, ForecastRow, Offer, Part, PriceList, Sheet
from nestlib.writing import buy_record
from tests.layouts import BRACKET, RING, STEEL, job_of


def plate(name="plate", width=600.0, height=600.0, **more):
    """A rectangle."""
    return Part(name, Contour.rectangle(width, height), **more)


def plain_job(*parts, sheets=()):
    """A job without any distances, nothing at hand unless said."""
    nothing = Sheet("any", Contour.rectangle(1000, 1000), quantity=None)
    job = job_of(parts, sheets or (nothing,), kerf=0.0)
    return replace(job, spacing=replace(job.spacing, spacing=0.0, margin=0.0))


SMALL = Offer("small", STEEL, 1000.0, (1000.0,), per_sheet=40.0)
LARGE = Offer("large", STEEL, 1000.0, (2000.0,), per_sheet=70.0)


def bought(job, *offers, **more):
    """What to buy for the layouts of the first fillings."""
    terms = {k: more.pop(k) for k in ("stock_value", "storage", "delivery") if k in more}
    prices = PriceList(offers, "EUR", **terms)
    purchase = nl.buy(job, prices, stop=nl.Iterations(0), seed=1, **more)
    jsonschema.validate(buy_record(purchase), nl.buy_schema())
    return purchase.metals[0]


def test_the_example_by_hand():
    """Five plates of 600 mm: two large sheets for 140.00, and no order costs less.

    docs/how-to/worked-example.md works it out: a small sheet holds one, a large one three.
    """
    metal = bought(plain_job(plate(quantity=5)), SMALL, LARGE)
    assert [(line.format, line.sheets) for line in metal.lines] == [("large", 2)]
    assert (metal.cost, metal.bound, metal.exact) == (14000, 14000, True)
    assert metal.utilisation == pytest.approx(5 * 0.36 / 4)
    assert metal.weight == pytest.approx(2 * 2.0 * 2.0 * 7.85)
    assert metal.service is None
    assert {a.about: a.cost for a in metal.alone} == {"small": 20000, "large": 14000}
    assert {a.about: a.cost for a in metal.missing} == {"large": 20000}
    assert [a.cost for a in metal.by_number] == [14000]


def test_what_is_at_hand_is_not_bought():
    """Two small sheets on the rack, worth half of 40.00 each: with one large, 70 + 40 = 110."""
    rack = Sheet("rack", Contour.rectangle(1000, 1000), quantity=2, cost=40.0)
    metal = bought(plain_job(plate(quantity=5), sheets=(rack,)), LARGE, stock_value=0.5)
    assert {line.format: (line.sheets, line.used) for line in metal.lines} == {
        "at hand: rack": (0, 2),
        "large": (1, 1),
    }
    assert (metal.paid, metal.cost) == (7000, 11000)
    assert metal.bound <= metal.cost


def test_packs_and_stock():
    """Large in packs of five: 350.00, or 200.00 in small ones; unused at full value 140.00."""
    packed = replace(LARGE, pack=5)
    dear = bought(plain_job(plate(quantity=5)), SMALL, packed)
    assert dear.cost == dear.bound == 20000
    kept = bought(plain_job(plate(quantity=5)), SMALL, packed, stock_value=1.0)
    assert (kept.paid, kept.cost, kept.lines[0].to_stock) == (35000, 14000, 3)
    assert kept.bound <= kept.cost


def test_a_sheet_is_cut_as_long_as_the_layout_needs():
    """Two plates of 600 mm side by side take 1200 mm: in steps of 100 that length itself."""
    cut = Offer("cut", STEEL, 700.0, tuple(float(n) for n in range(600, 2001, 100)), per_kg=1.0)
    metal = bought(plain_job(plate(quantity=2)), cut)
    sheets = {line.size[0]: line.sheets for line in metal.lines}
    # One of 1200 or two of 600 mm: the same metal.
    assert sheets in ({1200.0: 1}, {600.0: 2})
    assert metal.cost == pytest.approx(100 * 1.2 * 0.7 * 2.0 * 7.85, abs=2)
    assert metal.bound <= metal.cost


def test_layouts_lie_on_the_sheets_that_are_ordered():
    """Pieces keep their distances and the edge of the length ordered: measured by shapely."""
    cut = Offer("cut", STEEL, 500.0, tuple(float(n) for n in range(500, 1501, 50)), per_kg=1.0)
    parts = BRACKET, RING, plate("bar", 310, 45, quantity=6)
    nothing = Sheet("any", Contour.rectangle(1000, 1000), quantity=None)
    job = job_of(parts, (nothing,))  # kerf 0.2, spacing 3, margin 10
    metal = bought(job, cut)
    lengths = {line.format: line.size for line in metal.lines}
    made = Counter()
    for layout in metal.layouts:
        pieces = [region(placed(job.part(p.part).outer, p)) for p in layout.placements]
        holes = [[region(placed(c, p)) for c in job.part(p.part).inners] for p in layout.placements]
        metal_of = [p.difference(unary_union(h)) for p, h in zip(pieces, holes, strict=True)]
        room = box(0, 0, *lengths[layout.format]).buffer(-10.2 + 1e-6, join_style="mitre")
        assert all(room.covers(p) for p in pieces)
        pairs = itertools.combinations(metal_of, 2)
        assert all(a.distance(b) >= 3.4 - 0.05 for a, b in pairs)  # arcs are chords here
        made.update({name: n * layout.runs for name, n in layout.pieces.items()})
    assert all(made[name] >= n for name, n in metal.wanted.items())
    assert metal.wanted == {"bracket": 10, "ring": 2, "bar": 6}


def test_jobs_are_bought_for_together():
    """Two jobs of two and three plates are five plates; another metal is an order of its own."""
    two, three = plain_job(plate(quantity=2)), plain_job(plate(quantity=3))
    assert bought([two, three], SMALL, LARGE).cost == 14000
    brass = replace(STEEL, thickness=1.0)
    other = replace(two, metal=brass)
    offers = (SMALL, LARGE, replace(SMALL, metal=brass))
    purchase = nl.buy([three, other], PriceList(offers), stop=nl.Iterations(0))
    assert [m.cost for m in purchase.metals] == [7000, 8000]


def test_what_fits_on_nothing_is_told():
    """It is not bought for, and the rest is."""
    metal = bought(plain_job(plate(quantity=3), plate("long", 2500, 100)), LARGE)
    assert [(u.part, u.quantity) for u in metal.unplaced] == [("long", 1)]
    assert metal.cost == 7000


def test_a_forecast_takes_the_place_of_quantities():
    """Six plates in two weeks in place of one: two large sheets."""
    rows = ForecastRow("plate", 4, 4, "1"), ForecastRow("plate", 2, 2, "2")
    assert bought(plain_job(plate()), SMALL, LARGE, forecast=rows).cost == 14000
    with pytest.raises(nl.InputError, match="plates"):
        bought(plain_job(plate()), SMALL, forecast=[ForecastRow("plates", 1, 1)])


def test_uncertain_demand_is_bought_for_by_chance():
    """0 to 9 plates, each as likely: eight suffice in nine cases of ten, seven in eight.

    A large sheet holds three: 210.00 for nine; with eight cut, short in one case of ten.
    """
    rows = [ForecastRow("plate", 0, 9)]
    metal = bought(plain_job(plate()), LARGE, forecast=rows, service=0.85, shortage=10.0)
    by_level = {row.service: row for row in metal.services}
    assert (metal.wanted, metal.service) == ({"plate": 8}, 0.85)
    assert abs(by_level[0.85].short - 0.1) < 4 * by_level[0.85].error
    assert by_level[0.99].short == 0.0
    # Nine cut in place of eight is one sheet of three all the same.
    assert by_level[0.85].cost == by_level[0.99].cost == 21000
    again = bought(plain_job(plate()), LARGE, forecast=rows, service=0.85, shortage=10.0)
    assert again.services == metal.services


def test_weeks_are_planned():
    """Two plates in week 1 and one in week 3: one large sheet at once, or one each.

    A plate weighs 0.36 m2 x 2 mm x 7.85 = 5.652 kg. Kept for two weeks at 1.00 it costs 11.304,
    less than a small sheet for 40.00; at 10.00 it does not.
    """
    rows = ForecastRow("plate", 2, 2, "2030-W52"), ForecastRow("plate", 1, 1, "2031-W02")
    job = plain_job(plate())
    schedule = bought(job, SMALL, LARGE, forecast=rows, weekly=True, storage=1.0).schedule
    assert schedule.cost == 7000 + 1130
    assert [w.week for w in schedule.weeks] == ["2030-W52", "2031-W01", "2031-W02"]
    assert schedule.week_by_week == 7000 + 4000
    dear = bought(job, SMALL, LARGE, forecast=rows, weekly=True, storage=10.0).schedule
    assert dear.cost == dear.week_by_week == 11000


def test_an_order_is_for_the_first_week_in_which_anything_is_wanted():
    """A forecast that names a week for nothing; by hand, with a lead of three weeks.

    ISO 8601: week 20 less 3 is week 17. Of weeks that are numbers, 2 less 3 is no week.
    """
    offer = replace(LARGE, lead_weeks=3)
    for first, then, by in (("2030-W10", "2030-W20", "2030-W17"), ("1", "9", "6"), ("1", "2", "")):
        rows = ForecastRow("plate", 0, 0, first), ForecastRow("plate", 4, 4, then)
        for weekly in (False, True):
            metal = bought(plain_job(plate()), offer, forecast=rows, weekly=weekly)
            assert [line.order_by for line in metal.lines] == [by]
            planned = [w.week for w in metal.schedule.weeks if w.ordered] if weekly else []
            assert planned == ([by or "-1"] if weekly else [])


def test_a_plan_that_cannot_be_in_time_is_said_to_be_none():
    """Wanted in week 20 with a lead of three weeks, and the first order in week 18 or 17."""
    offer = replace(LARGE, lead_weeks=3)
    rows = (ForecastRow("plate", 4, 4, "2030-W20"),)
    asked = {"forecast": rows, "weekly": True}
    late = bought(plain_job(plate()), offer, order_from="2030-W18", **asked)
    assert late.schedule is None
    assert "begins to order in 2030-W18" in late.notes[0]
    assert "all weeks together" in late.notes[0]
    soon = bought(plain_job(plate()), offer, order_from="2030-W17", **asked)
    assert soon.schedule is not None
    assert not soon.notes


def test_each_format_is_ordered_when_the_weeks_plan_it():
    """Not all for the first week: the one plate of week 3 goes on a small sheet of its own.

    By hand: keeping it for two weeks at 10.00 per kg and week would cost 113.04, the small
    sheet costs 40.00.
    """
    rows = ForecastRow("plate", 3, 3, "2031-W01"), ForecastRow("plate", 1, 1, "2031-W03")
    offers = replace(SMALL, lead_weeks=1), replace(LARGE, lead_weeks=2)
    metal = bought(plain_job(plate()), *offers, forecast=rows, weekly=True, storage=10.0)
    by = {line.format: line.order_by for line in metal.lines}
    # ISO 8601: 2030 has 52 weeks.
    assert by == {"large": "2030-W51", "small": "2031-W02"}


def test_due_days_are_weeks():
    """The days of the jobs say when, and a lead of two weeks when to order."""
    parts = plate(due=date(2030, 5, 1)), plate("late", due=date(2030, 5, 8))
    offer = replace(LARGE, lead_weeks=2)
    metal = bought(plain_job(*parts), offer, weekly=True)
    schedule = metal.schedule
    assert [line.order_by for line in metal.lines] == ["2030-W16"]
    assert schedule.weeks[0].week == "2030-W16"
    assert schedule.weeks[0].ordered == (("large", 1),)
    assert [w.week for w in schedule.weeks if w.needed] == ["2030-W18", "2030-W19"]
