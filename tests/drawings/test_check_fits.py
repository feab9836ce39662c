"""Parts larger than every sheet."""

import pytest

from nestlib.drawings.fits import check_fits, fits
from nestlib.model import Contour, Part, Sheet

SHEET = Sheet("half", Contour.rectangle(3000, 1500))


def rectangle(width, height, **options):
    """Return a rectangular part."""
    return Part("plate", Contour.rectangle(width, height), **options)


@pytest.mark.parametrize(
    ("part", "fitting"),
    [
        (rectangle(3000, 1500), True),
        (rectangle(3000.1, 1500), False),
        (rectangle(1500, 3000), True),
        (rectangle(1500, 3000, rotations=(0.0, 180.0)), False),
        (rectangle(1400, 2900, grain=0.0), False),
        (rectangle(1400, 2900, grain=90.0), True),
        (rectangle(3300, 20), False),
        (rectangle(3300, 20, rotations=None), True),
        (rectangle(3400, 20, rotations=None), False),
    ],
)
def test_only_allowed_turns_count(part, fitting):
    """Fixed turns, any angle, and turns bound to the grain; the diagonal is 3354.1 mm."""
    assert fits(part, SHEET) == fitting


def test_a_flip_opens_turns_of_the_mirror_image():
    """A slanted strip that is turned upright only when it lies face down."""
    strip = Contour([(0, 0), (1000, 1000), (990, 1010), (-10, 10)])
    narrow = Sheet("strip", Contour.rectangle(1500, 30))
    assert not fits(Part("strip", strip, rotations=(45.0,)), narrow)
    assert fits(Part("strip", strip, rotations=(45.0,), flip=True), narrow)


def test_the_kerf_is_kept_from_the_edge():
    """A contour stays at least the kerf away from the edge of the sheet."""
    assert not fits(rectangle(3000, 1500), SHEET, kerf=0.1)
    assert fits(rectangle(2999.8, 1499.8), SHEET, kerf=0.1)


def test_the_finding_names_both_sizes():
    """The part's and the largest sheet's."""
    small = Sheet("small", Contour.rectangle(1000, 1000))
    (found,) = check_fits(rectangle(3200, 1400), (small, SHEET))
    assert found.code == "larger-than-sheets"
    assert "3200.0 x 1400.0 mm" in found.message
    assert "half, is 3000.0 x 1500.0 mm" in found.message


def test_one_sheet_that_is_large_enough_is_enough():
    """And without sheets there is nothing to compare with."""
    small = Sheet("small", Contour.rectangle(100, 100))
    assert list(check_fits(rectangle(3000, 1000), (small, SHEET))) == []
    assert list(check_fits(rectangle(9000, 9000), ())) == []
