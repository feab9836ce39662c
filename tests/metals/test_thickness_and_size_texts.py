"""Thicknesses and sheet sizes as people write them."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nestlib.errors import InputError
from nestlib.metals import Thickness, formats, metal, parse_size, parse_thickness


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("1.5", 1.5),
        (1.5, 1.5),
        (2, 2.0),
        ("1.5 mm", 1.5),
        ("1,5mm", 1.5),
        (" 1,5 MM ", 1.5),
        (".5", 0.5),
        ("0.060 in", 1.524),
        ('0.060"', 1.524),
        ("1/8 in", 3.175),
        ('1/8"', 3.175),
        ("1 1/4 inch", 31.75),
        ("16 ga", 1.5875),
        ("16ga", 1.5875),
        ("#16", 1.5875),
        ("16 gauge", 1.5875),
    ],
)
def test_thickness_is_understood(text, mm):
    """In mm, within 1e-9; gauge numbers read in the US Standard gauge."""
    assert parse_thickness(text, "USG").mm == pytest.approx(mm, abs=1e-9)


def test_a_gauge_is_remembered():
    """The thickness says by which gauge it was given."""
    assert parse_thickness("#16", "USG") == Thickness(1.5875, "16 ga")
    assert metal("stainless-304", "16 ga").gauge == "16 ga"
    assert metal("stainless-304", "1.6 mm").gauge == ""


@pytest.mark.parametrize(
    ("text", "table", "fragment"),
    [
        ("", "", "not a thickness"),
        ("thick", "", "not a thickness"),
        ("1.5 m", "", "not a thickness"),
        ("1/8", "", "has no unit"),
        ("1/0 in", "", "not a thickness"),
        ("0", "", "not the thickness of a sheet"),
        ("-1", "", "not the thickness of a sheet"),
        (-1.5, "", "not the thickness of a sheet"),
        (float("nan"), "", "not the thickness of a sheet"),
        (float("inf"), "", "not the thickness of a sheet"),
        ("9" * 400, "", "not the thickness of a sheet"),
        ("1500", "", "not the thickness of a sheet"),
        ("16 ga", "", "no gauge table"),
        ("99 ga", "USG", "not a gauge of table USG"),
        ("5 ga", "GALV", "not a gauge of table GALV"),
    ],
)
def test_a_bad_thickness_is_refused(text, table, fragment):
    """The message quotes it and says what to write."""
    with pytest.raises(InputError) as caught:
        parse_thickness(text, table)
    assert fragment in str(caught.value)
    assert caught.value.problems[0].remedy


@settings(deadline=None)
@given(st.floats(0.01, 99), st.sampled_from([" mm", "mm", ""]))
def test_any_size_in_mm_is_read_back(mm, unit):
    """Point and comma mean the same; 1e-9 mm is lost at most."""
    text = f"{mm:.6f}{unit}"
    assert parse_thickness(text).mm == pytest.approx(mm, abs=1e-6)
    assert parse_thickness(text) == parse_thickness(text.replace(".", ","))


@pytest.mark.parametrize(
    ("text", "size"),
    [
        ("3000x1500", (3000, 1500)),
        ("1500x3000", (3000, 1500)),
        ("1500 X 3000 mm", (3000, 1500)),
        ("1500×3000", (3000, 1500)),
        ("1,5 x 3 m", (3000, 1500)),
        ("48x96in", (2438.4, 1219.2)),
        ('48" x 96"', (2438.4, 1219.2)),
        ("4x8 ft", (2438.4, 1219.2)),
        ("4' x 96 in", (2438.4, 1219.2)),
    ],
)
def test_sheet_size_is_understood(text, size):
    """In mm, the longer side first, within 1e-9."""
    assert parse_size(text) == pytest.approx(size, abs=1e-9)


@pytest.mark.parametrize("text", ["", "3000", "3000x", "axb", "0x1000", "-1x2", "1e9x2", "9" * 20])
def test_a_bad_sheet_size_is_refused(text):
    """The message quotes it and says what to write."""
    with pytest.raises(InputError, match="sheet") as caught:
        parse_size(text)
    assert "3000x1500" in str(caught.value)


def test_usual_formats_are_listed():
    """Common practice, no source: five metric and five inch formats."""
    assert [f.system for f in formats()] == ["metric"] * 5 + ["inch"] * 5
    assert all(f.length >= f.width > 0 for f in formats())
