"""Written layouts: layers, units, labels, the same bytes each time."""

import math
from dataclasses import replace

import pytest
from ezdxf import recover
from ezdxf.colors import aci2rgb

from nestlib.cutting import cut_path
from nestlib.errors import OutputError
from nestlib.model import Contour, Entry, Holding, Job, Layout, Part, Placement
from nestlib.writing import LAYERS, layer_names, layout_bytes, write_layout
from tests.layouts import JOB, job_of, mixed_layout

VERSIONS = ["R12", "R2010"]


def with_path() -> Layout:
    """The mixed layout with its cut path, everything held by joints and led out."""
    layout = mixed_layout()
    entry = Entry(lead_out="arc", over_cut=0.4)
    path = cut_path(layout, replace(JOB, holding=Holding("all"), entry=entry))
    return Layout(layout.sheet, layout.placements, layout.runs, path, layout.remnants)


def written(layout: Layout, job: Job, folder, version: str, title: str = ""):
    """The document read back and what reading it had to mend."""
    write_layout(layout, job, folder / "x.dxf", version=version, title=title)
    return recover.readfile(folder / "x.dxf")


@pytest.mark.parametrize("version", VERSIONS)
def test_a_written_layout_has_no_audit_error(tmp_path, version):
    """Neither reading nor auditing finds an error or mends anything."""
    document, auditor = written(with_path(), JOB, tmp_path, version, "Stände № 1")
    assert not auditor.errors
    assert not auditor.fixes
    again = document.audit()
    assert not again.errors
    assert not again.fixes


@pytest.mark.parametrize("version", VERSIONS)
def test_each_kind_of_thing_has_its_layer(tmp_path, version):
    """Counts on every layer are those of the layout; nothing lies on any other."""
    layout = with_path()
    document, _ = written(layout, JOB, tmp_path, version)
    space = document.modelspace()
    on = {name: len(space.query(f'*[layer=="{name}"]')) for name in {e.dxf.layer for e in space}}
    cuts = layout.path.cuts
    roles = [c.role for c in cuts]
    assert on == {
        "SHEET": 2,
        "SHEET_KEEP_OUT": 1,
        "CUT_OUTER": roles.count("outer"),
        "CUT_INNER": roles.count("inner"),
        "MARK": roles.count("mark"),
        "LEAD_IN": sum(c.lead_in is not None for c in cuts),
        "LEAD_OUT": sum(c.role != "mark" for c in cuts),
        "MICRO_JOINT": layout.path.joints,
        "CUT_ORDER": 2 * len(cuts) + sum(len(c.via) for c in cuts),
        "REMNANT": 1,
        "PART_NAME": len(layout.placements) + 1,
    }
    other = {"CUT_SHARED", "CUT_AROUND", "PART_SHARING_CUTS", "CUT_SKELETON", "CUT_OFF"}
    assert set(on) == set(layer_names().values()) - other
    assert all(document.layers.has_entry(name) for name in on)


@pytest.mark.parametrize("version", VERSIONS)
def test_numbers_stand_at_the_pierce_points(tmp_path, version):
    """Text n on CUT_ORDER is centred on the n-th pierce point, within 1e-9 mm."""
    layout = with_path()
    document, _ = written(layout, JOB, tmp_path, version)
    numbers = {t.dxf.text: t.dxf.align_point for t in document.modelspace().query("TEXT")}
    for number, cut in enumerate(layout.path.cuts, start=1):
        place = numbers[str(number)]
        assert math.dist((place.x, place.y), cut.pierce) < 1e-9


@pytest.mark.parametrize("version", VERSIONS)
def test_cuts_are_written_in_cutting_order_and_tagged(tmp_path, version):
    """Extended data name role, placement and index of each contour, in the path's order."""
    layout = with_path()
    document, _ = written(layout, JOB, tmp_path, version)
    layers = {"CUT_OUTER", "CUT_INNER", "MARK"}
    tags = [
        tuple(tag.value for tag in e.get_xdata("NESTLIB"))
        for e in document.modelspace()
        if e.dxf.layer in layers
    ]
    assert tags == [(c.role, c.placement, c.index) for c in layout.path.cuts]


@pytest.mark.parametrize("version", VERSIONS)
def test_a_layout_without_a_path_holds_all_contours(tmp_path, version):
    """As many contours as the pieces have, and no order."""
    layout = mixed_layout()
    document, _ = written(layout, JOB, tmp_path, version)
    space = document.modelspace()
    pieces = [JOB.part(p.part) for p in layout.placements]
    assert len(space.query('*[layer=="CUT_OUTER"]')) == len(pieces)
    assert len(space.query('*[layer=="CUT_INNER"]')) == sum(len(p.inners) for p in pieces)
    assert not space.query('*[layer=="CUT_ORDER"]')


@pytest.mark.parametrize("version", VERSIONS)
def test_the_same_layout_gives_the_same_bytes(version):
    """No date, no random number."""
    first, second = (layout_bytes(with_path(), JOB, version=version, title="t") for _ in range(2))
    assert first == second


@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize(
    "name",
    ["Größe №5 日本", "50%%d", "a^b", "two\nlines", "\\U+0041", "", " ", "\udcff", "x" * 400],
)
def test_any_part_name_is_written_safely(tmp_path, version, name):
    """Control codes, foreign letters and line ends do no harm to the file or its reader."""
    job = job_of((Part(name, Contour.rectangle(40, 20)),))
    layout = Layout(job.sheets[0], (Placement(name, 0.0, False, 50, 50),))
    document, auditor = written(layout, job, tmp_path, version)
    assert not auditor.errors
    assert len(document.modelspace().query('TEXT[layer=="PART_NAME"]')) == 1
    assert len(document.modelspace().query('*[layer=="CUT_OUTER"]')) == 1


def test_foreign_letters_are_read_back_from_r12(tmp_path):
    """Letters that the code page lacks come back as they were."""
    name = "Größe 日本"
    job = job_of((Part(name, Contour.rectangle(40, 20)),))
    layout = Layout(job.sheets[0], (Placement(name, 0.0, False, 50, 50),))
    document, _ = written(layout, job, tmp_path, "R12")
    assert document.modelspace().query("TEXT").first.dxf.text == name


@pytest.mark.parametrize("version", VERSIONS)
def test_names_stand_inside_the_metal(tmp_path, version):
    """The middle of the name of a ring lies between its circles."""
    layout = Layout(JOB.sheets[0], (Placement("ring", 45.0, True, 500, 100),))
    document, _ = written(layout, JOB, tmp_path, version)
    spot = document.modelspace().query("TEXT").first.dxf.align_point
    # The ring's middle (100, 100) becomes (-100, 100), turned by 45° (-141.4, 0).
    assert 85 < math.dist((spot.x, spot.y), (500 - math.sqrt(2) * 100, 100)) < 100


def test_every_colour_shows_on_white_and_on_black():
    """Contrast of 3 : 1 or more, by the formula for relative luminance in WCAG 2 (1.4.11).

    Formula recalled from memory.
    """

    def linear(value: int) -> float:
        share = value / 255
        return share / 12.92 if share <= 0.03928 else ((share + 0.055) / 1.055) ** 2.4

    colours = {layer.colour for layer in LAYERS.values()}
    assert len(colours) == len(LAYERS)
    for colour in colours:
        red, green, blue = (linear(v) for v in aci2rgb(colour))
        luminance = 0.2126 * red + 0.7152 * green + 0.0722 * blue
        assert min(1.05 / (luminance + 0.05), (luminance + 0.05) / 0.05) >= 3


def test_other_versions_are_refused(tmp_path):
    """Two versions are written and no other."""
    with pytest.raises(ValueError, match="R12 or R2010"):
        write_layout(mixed_layout(), JOB, tmp_path / "x.dxf", version="R2018")
    assert not list(tmp_path.iterdir())


def test_a_missing_folder_is_one_clear_message(tmp_path):
    """Place, problem and remedy."""
    with pytest.raises(OutputError, match=r"x\.dxf: cannot be written: the folder above it"):
        write_layout(mixed_layout(), JOB, tmp_path / "none" / "x.dxf")
