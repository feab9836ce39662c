"""Drawings whose entry says another unit than the file: the entry counts, and it is told."""

import pytest

from nestlib.drawings import read_drawing
from tests.drawn import drawn, drawn_svg

#: One inch is 25.4 mm, one foot 304.8 mm: exact by definition since 1959.
_INCH, _FOOT = 1, 2


def _square(document):
    document.modelspace().add_lwpolyline([(0, 0), (4, 0), (4, 4), (0, 4)], close=True)


def _told(drawing):
    return [f.message for f in drawing.findings if f.code == "units-overruled"]


@pytest.mark.parametrize(
    ("insunits", "said", "words"),
    [
        (_INCH, "mm", ("file says in,", "entry says mm", "25.4 times smaller")),
        (_FOOT, "mm", ("file says ft,", "entry says mm", "304.8 times smaller")),
        (4, "in", ("file says mm,", "entry says in", "25.4 times larger")),
    ],
)
def test_another_unit_than_the_files_is_told_with_its_factor(tmp_path, insunits, said, words):
    """What a scale would show on the part: told before anything is cut."""
    (told,) = _told(drawn(tmp_path, _square, insunits=insunits, units=said))
    assert all(word in told for word in words), told


@pytest.mark.parametrize(("insunits", "said"), [(_INCH, "in"), (4, "mm"), (0, "mm")])
def test_what_the_file_says_too_or_leaves_out_is_not_told(tmp_path, insunits, said):
    """The same unit twice is no contradiction, nor is one that fills a gap."""
    assert not _told(drawn(tmp_path, _square, insunits=insunits, units=said))


def test_a_unit_for_drawings_that_give_none_changes_no_other(tmp_path):
    """4 in are 101.6 mm, whatever is said for drawings without a unit."""
    drawing = drawn(tmp_path, _square, insunits=_INCH, fallback_units="mm")
    assert not _told(drawing)
    assert drawing.parts[0].size == pytest.approx((101.6, 101.6))


@pytest.mark.parametrize(
    ("page", "said", "words"),
    [
        ('width="4in" height="4in" viewBox="0 0 4 4"', "mm", ("25.4 mm", "25.4 times smaller")),
        ('width="100mm" height="100mm" viewBox="0 0 200 200"', "mm", ("0.5 mm", "2 times larger")),
        ('width="100mm" height="100mm" viewBox="0 0 100 100"', "mm", ()),
        ('viewBox="0 0 100 100"', "mm", ()),
    ],
)
def test_the_size_of_a_page_counts_as_what_an_svg_says(tmp_path, page, said, words):
    """SVG 1.1, chapter 7: width and height over the view box give the size of a unit."""
    square = '<rect width="3" height="3" fill="none" stroke="black"/>'
    told = _told(drawn_svg(tmp_path, square, page, units=said))
    assert len(told) == bool(words)
    assert all(word in text for word in words for text in told), told
    assert read_drawing(tmp_path / "plate.svg", units=said).parts[0].size == pytest.approx((3, 3))
