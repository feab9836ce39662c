"""From job files, part lists and drawings to a job."""

from __future__ import annotations

import ezdxf
import pytest

from nestlib.errors import DrawingError, InputError, JobError, LimitError
from nestlib.from_drawings import unique
from nestlib.loading import job_from_list, read_job

JOB = """\
metal = "mild-steel"
thickness = "16 ga"
machine = "co2-400"
units = "mm"

[[sheet]]
size = "1500x3000"
cost = 100

[[part]]
drawing = "plates.dxf"
quantity = 5
"""
LIST = "drawing,quantity\nplates.dxf,2\nring.dxf,3\n"
WORDS = {"metal": "mild-steel", "thickness": "1.5", "sheets": ["3000x1500"]}


def rectangle(space, x, y, width, height):
    """Draw a rectangle with its lower left corner at (x, y)."""
    corners = [(x, y), (x + width, y), (x + width, y + height), (x, y + height)]
    space.add_lwpolyline(corners, close=True)


@pytest.fixture
def folder(tmp_path):
    """Two equal plates and a bigger one; a ring; an open contour; no units in inches."""
    plates, ring, broken, unitless = (ezdxf.new("R2010") for _ in range(4))
    for drawing in (plates, ring, broken):
        drawing.units = ezdxf.units.MM
    unitless.units = 0
    for x in (0, 100):
        rectangle(plates.modelspace(), x, 0, 60, 40)
    rectangle(plates.modelspace(), 0, 100, 200, 70)
    for radius in (50, 20):
        ring.modelspace().add_circle((0, 0), radius)
    broken.modelspace().add_lwpolyline([(0, 0), (80, 0), (80, 60)])
    rectangle(unitless.modelspace(), 0, 0, 2, 3)
    for name, drawing in (
        ("plates", plates),
        ("ring", ring),
        ("broken", broken),
        ("unitless", unitless),
    ):
        drawing.saveas(tmp_path / f"{name}.dxf")
    return tmp_path


@pytest.fixture
def job_file(folder):
    """Write a job file beside the drawings and return its path."""

    def write(text=JOB):
        path = folder / "job.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return write


@pytest.fixture
def list_file(folder):
    """Write a part list beside the drawings and return its path."""

    def write(text=LIST):
        path = folder / "stands.csv"
        path.write_text(text, encoding="utf-8")
        return path

    return write


def refusal(path, kind=JobError, **options):
    """Return what a job file is refused with."""
    with pytest.raises(InputError) as caught:
        read_job(path, **options)
    assert type(caught.value) is kind
    return caught.value


def test_a_job_file_becomes_a_job(job_file):
    """Metal by its gauge, kerf by the machine, sheet with its length along x."""
    path = job_file()
    job = read_job(path)
    assert job.title == "job"
    assert job.source == str(path)
    assert job.metal.gauge == "16 ga"
    assert job.metal.thickness == pytest.approx(2.5 / 41.82 * 25.4)
    assert job.spacing.kerf == job.machine.setting("mild-steel", job.metal.thickness).kerf
    assert job.sheets[0].size == (3000.0, 1500.0)
    assert job.sheets[0].quantity is None
    assert job.sheets[0].cost == 100


def test_each_drawn_copy_counts(job_file):
    """Two equal plates and a bigger one, five times: ten and five."""
    job = read_job(job_file())
    assert sorted((p.quantity, round(p.area)) for p in job.parts) == [(5, 14000), (10, 2400)]
    assert len({p.name for p in job.parts}) == 2


def test_one_part_of_a_drawing_can_be_chosen(job_file):
    """Counted from 1; together the single parts are the whole drawing."""
    areas = []
    for index in (1, 2):
        (part,) = read_job(job_file(JOB + f'index = {index}\nname = "one"\n')).parts
        assert part.name == "one"
        areas.append(round(part.area))
    assert sorted(areas) == [2400, 14000]


def test_a_part_that_the_drawing_lacks_is_refused(job_file):
    """With its place in the job file, and how many there are."""
    told = str(refusal(job_file(JOB + "index = 3\n")))
    assert "line 13, key part[1].index" in told
    assert "has no part 3, only 2" in told


def test_wishes_reach_the_parts(job_file):
    """Turns, flip, grain, priority and filler."""
    wishes = 'rotations = "grain"\nflip = true\npriority = 3\nfiller = true\n'
    for part in read_job(job_file(JOB + wishes)).parts:
        assert (part.grain, part.flip, part.priority, part.filler) == (0.0, True, 3, True)
    (ring,) = read_job(job_file(JOB.replace("plates", "ring") + 'rotations = "any"\n')).parts
    assert ring.rotations is None
    assert ring.area == pytest.approx(3.141592653589793 * (50**2 - 20**2))


def test_names_are_unique(job_file):
    """The same drawing in two entries: each part has a name of its own."""
    again = '[[part]]\ndrawing = "plates.dxf"\nname = "more"\nquantity = 1\n'
    names = [p.name for p in read_job(job_file(JOB + again)).parts]
    assert len(set(names)) == 4
    assert names[2:] == ["more-1", "more-2"]
    assert unique(["a", "a", "a-2", "a"]) == ["a", "a-3", "a-2", "a-4"]


def test_units_of_the_job_serve_drawings_without_units(job_file):
    """And an entry overrules them."""
    text = JOB.replace("plates", "unitless").replace('units = "mm"', 'units = "in"')
    (part,) = read_job(job_file(text)).parts
    assert part.size == pytest.approx((50.8, 76.2))
    (part,) = read_job(job_file(text + 'units = "cm"\n')).parts
    assert part.size == pytest.approx((20, 30))


def test_a_drawing_without_units_is_refused_where_nobody_says_them(job_file):
    """Never silently guessed."""
    text = JOB.replace("plates", "unitless").replace('units = "mm"\n', "")
    assert "unitless.dxf" in str(refusal(job_file(text), DrawingError))


def test_a_drawn_sheet_has_its_holes(job_file):
    """A ring as a remnant: one piece, 1 outline and 1 hole; keep-out zones lie where said."""
    sheet = '[[sheet]]\ndrawing = "ring.dxf"\nkeep_outs = [[40, 2, 3, 4]]\nheat = "H 1"\n'
    drawn = read_job(job_file(JOB + sheet)).sheets[1]
    assert (drawn.name, drawn.quantity, len(drawn.holes), drawn.heat) == ("ring", 1, 1, "H 1")
    assert drawn.keep_outs[0].bounds == (40, 2, 43, 6)


def test_a_sheet_drawing_with_several_outlines_is_refused(job_file):
    """A sheet has one."""
    told = str(refusal(job_file(JOB + '[[sheet]]\ndrawing = "plates.dxf"\n')))
    assert "shows 3 outlines" in told
    assert "key sheet[2].drawing" in told


def test_all_bad_drawings_are_told_at_once(job_file, folder):
    """Each with its file, what is wrong and what to do."""
    (folder / "text.dxf").write_text("Dear customer,\n")
    text = JOB.replace("plates", "broken") + '[[part]]\ndrawing = "text.dxf"\n'
    problems = refusal(job_file(text), DrawingError).problems
    files = {p.file.rpartition("/")[2] for p in problems}
    assert files == {"broken.dxf", "text.dxf"}
    assert all(p.problem and p.remedy for p in problems)


def test_a_bad_drawing_used_twice_is_told_once(job_file):
    """One file, one set of problems."""
    once = refusal(job_file(JOB.replace("plates", "broken")), DrawingError).problems
    again = '[[part]]\ndrawing = "broken.dxf"\nname = "again"\n'
    twice = refusal(job_file(JOB.replace("plates", "broken") + again), DrawingError).problems
    assert once == twice


@pytest.mark.parametrize(
    ("old", "new", "fragments"),
    [
        ('"mild-steel"', '"mild steel"', ["line 1, key metal", 'Did you mean "mild-steel"?']),
        ('"mild-steel"', '"stainless"', ["is a family of metals", "stainless-304"]),
        ('"16 ga"', '"99 ga"', ["line 2, key thickness", "99 is not a gauge of table MSG"]),
        ('"16 ga"', '"thin"', ['line 2, key thickness: "thin" is not a thickness']),
        ('"16 ga"', "-1", ["key thickness", "is not the thickness of a sheet"]),
        ('"16 ga"', "nan", ["key thickness", "is not the thickness of a sheet"]),
        ('"co2-400"', '"co2-4000"', ["line 3, key machine", 'Did you mean "co2-400"?']),
        ('"co2-400"', '"our.toml"', ["our.toml: there is no such file"]),
        ('"mm"', '"furlong"', ["line 4, key units", "there is no unit"]),
        ('"1500x3000"', '"large"', ['line 7, key sheet[1].size: "large" is not the size']),
        ('units = "mm"', 'parts = "no.csv"', ["no.csv: there is no such file"]),
        ('units = "mm"', 'parts = "ring.dxf"', ["ring.dxf: row 1", "no column"]),
    ],
)
def test_bad_words_are_refused_with_their_place(job_file, old, new, fragments):
    """What metals, machines and lists do not know is said with line and key."""
    assert old in JOB
    told = str(refusal(job_file(JOB.replace(old, new))))
    for fragment in fragments:
        assert fragment in told


def test_bad_words_and_bad_lists_are_told_together(job_file, list_file):
    """One round of corrections is enough."""
    list_file("drawing,quantity\nring.dxf,-1\n")
    text = JOB.replace('"mild-steel"', '"wood"').replace("units", 'parts = "stands.csv"\nunist')
    problems = refusal(job_file(text.replace('"1500x3000"', '"large"'))).problems
    places = [p.place for p in problems]
    assert "row 2, column quantity" in places
    assert len(problems) == 4


def test_a_list_and_entries_add_up(job_file, list_file):
    """`parts` beside `[[part]]`; what stands in both is refused."""
    list_file("drawing,quantity\nring.dxf,2\n")
    text = JOB.replace("units", 'parts = "stands.csv"\nunits', 1)
    assert sorted(p.quantity for p in read_job(job_file(text)).parts) == [2, 5, 10]
    list_file("drawing,quantity\nplates.dxf,2\n")
    told = str(refusal(job_file(text)))
    assert "stands.csv: row 2, column drawing" in told
    assert "listed already in" in told


@pytest.mark.parametrize(
    ("old", "new", "fragments"),
    [
        ('"16 ga"', '"5 mm"', ["line 2, key thickness", "up to 4.7625 mm", "--force"]),
        ('"mild-steel"', '"galvanised"', ["no row for galvanised", "--force"]),
        ('"1500x3000"', '"2000x4000"', ["line 6, key sheet[1]", "4000 x 2000", "3050 x 1525"]),
    ],
)
def test_limits_of_the_machine_are_kept_unless_overruled(job_file, old, new, fragments):
    """The refusal names the limit; with `force` the job is read, and has a kerf."""
    path = job_file(JOB.replace(old, new))
    told = str(refusal(path, LimitError))
    for fragment in fragments:
        assert fragment in told
    assert read_job(path, force=True).spacing.kerf > 0


def test_usual_inch_sheets_fit_the_generic_bed(job_file):
    """48x120 in on the bed of the generic profiles."""
    assert read_job(job_file(JOB.replace("1500x3000", "48x120in"))).sheets[0].size[0] == 3048.0


def test_a_machine_file_is_found_beside_the_job(job_file, folder):
    """Its kerf is used, its limits count and its mistakes are told with its own lines."""
    machine = (
        'name = "ours"\nbeam = "CO2"\npower = 400\nbed = [3000, 1500]\n[[row]]\n'
        'family = "mild-steel"\nthickness = 2\ngas = "air"\nkerf = 0.33\nfeed = 900\npierce = 1\n'
    )
    (folder / "ours.toml").write_text(machine)
    path = job_file(JOB.replace("co2-400", "ours.toml"))
    assert read_job(path).spacing.kerf == 0.33
    (folder / "ours.toml").write_text(machine.replace("0.33", "-1").replace("900", "0"))
    problems = refusal(path).problems
    assert [p.place for p in problems] == ["line 9, key row[1].kerf", "line 10, key row[1].feed"]
    assert all(p.file.endswith("ours.toml") for p in problems)


def test_rules_of_the_job_reach_the_drawings(job_file, folder):
    """A rule that ignores all circles leaves nothing of the ring."""
    rule = '[[rule]]\naction = "ignore"\nkind = "circle"\n'
    path = job_file(JOB.replace("plates", "ring") + rule)
    assert "ring.dxf" in str(refusal(path, DrawingError))


@pytest.mark.parametrize(("join", "area"), [("", None), ("join = 0.3\n", 4800)])
def test_the_joining_distance_of_the_job_reaches_the_drawings(job_file, folder, join, area):
    """A gap of 0.2 mm is closed if the job says so, and else the remedy says how."""
    gap = ezdxf.new("R2010")
    gap.units = ezdxf.units.MM
    gap.modelspace().add_lwpolyline([(0, 0), (80, 0), (80, 60), (0, 60), (0, 0.2)])
    gap.saveas(folder / "plates.dxf")
    path = job_file(join + JOB)
    if area is None:
        told = str(refusal(path, DrawingError))
        assert "join = 0.3 in the job, or --join 0.3" in told
    else:
        (part,) = read_job(path).parts
        assert part.area == pytest.approx(area, rel=0.01)
        assert part.source.join == 0.3


def test_the_joining_distance_of_a_list_is_an_argument(list_file):
    """As every word of a job."""
    job = job_from_list(list_file(), **WORDS, join=0.3)
    assert {part.source.join for part in job.parts} == {0.3}
    with pytest.raises(InputError, match="join: 3 is not 2 or less"):
        job_from_list(list_file(), **WORDS, join=3)


@pytest.mark.parametrize("zone", ["[3001, 0, 50, 50]", "[-60, 0, 50, 50]", "[0, 1500, 50, 50]"])
def test_a_keep_out_zone_off_the_sheet_is_refused(job_file, zone):
    """It would keep nothing free: beside the sheet, before it, and just above its edge."""
    text = JOB.replace("cost = 100", f"keep_outs = [[0, 0, 5, 5], {zone}]")
    told = str(refusal(job_file(text)))
    place = f"line 8, key sheet[1].keep_outs[2]: keep-out zone {zone}"
    assert place in told
    assert "lies off the sheet" in told
    assert "lies between (0, 0) and (3000, 1500)" in told


def test_a_keep_out_zone_may_reach_over_the_edge(job_file):
    """A clamp does."""
    text = JOB.replace("cost = 100", "keep_outs = [[-20, 700, 50, 50]]")
    assert len(read_job(job_file(text)).sheets[0].keep_outs) == 1


def test_every_slip_is_told_in_the_order_of_the_file(job_file):
    """An unknown key, metal, a thickness that no metal has, and bad parts."""
    text = JOB.replace('"mild-steel"', '"x"').replace('"16 ga"', "-2")
    text = text.replace("quantity = 5", "quantity = 0") + '[[part]]\ndrawing = "no.dxf"\n'
    problems = refusal(job_file("colour = 1\n" + text)).problems
    lines = [int(p.place.split(",")[0].removeprefix("line ")) for p in problems]
    assert lines == [1, 2, 3, 13, 15]


def test_a_gauge_is_no_slip_where_the_metal_is_one(job_file):
    """Without a metal there is no telling whose gauge it is."""
    problems = refusal(job_file(JOB.replace('"mild-steel"', '"x"'))).problems
    assert [p.place for p in problems] == ["line 1, key metal"]


def test_density_of_the_job_counts(job_file):
    """In place of the material's."""
    job = read_job(job_file("density = 7.87\n" + JOB))
    assert job.metal.material.density == 7.87


def test_a_list_and_a_few_words_become_a_job(list_file):
    """Usual machine, its kerf, and the given distances."""
    path = list_file()
    job = job_from_list(path, **WORDS, margin=5)
    assert (job.title, job.source) == ("stands", str(path))
    assert (job.spacing.margin, job.spacing.spacing) == (5, 3)
    assert sorted(p.quantity for p in job.parts) == [2, 3, 4]
    assert job.sheets[0].quantity is None
    assert job.sheets[0].name == "3000x1500"


@pytest.mark.parametrize(
    ("words", "fragments"),
    [
        ({"metal": "wood"}, ['metal: there is no metal "wood"']),
        ({"thickness": "thick"}, ['thickness: "thick" is not a thickness']),
        ({"sheets": []}, ["sheet: [] is not a list of 1 or more"]),
        ({"sheets": ["big"]}, ['sheet: "big" is not the size of a sheet']),
        ({"machine": "none"}, ['machine: there is no machine "none"']),
        ({"kerf": -1.0}, ["kerf: -1.0 is not 0 or more"]),
        ({"margin": float("nan")}, ["margin: nan is not a finite number"]),
        ({"units": "elbow"}, ["units: there is no unit"]),
        ({"thickness": "9 mm"}, ["thickness: co2-400 cuts mild-steel up to 4.7625 mm"]),
        ({"metal": "wood", "kerf": -1.0}, ["metal:", "kerf:"]),
    ],
)
def test_bad_words_beside_a_list_are_refused(list_file, words, fragments):
    """The place is the word's name."""
    with pytest.raises(InputError) as caught:
        job_from_list(list_file(), **{**WORDS, **words})
    for fragment in fragments:
        assert fragment in str(caught.value)


def test_a_missing_list_is_refused(folder):
    """With its path."""
    with pytest.raises(JobError, match=r"none\.csv: there is no such file"):
        job_from_list(folder / "none.csv", **WORDS)
