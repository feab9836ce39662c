"""Numbers, days and thicknesses as exports write them."""

from datetime import date
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestlib.intake.days import guess_order, parse_day
from nestlib.intake.numbers import guess_decimal, parse_number, parse_quantity
from nestlib.intake.sizes import split_metal, written_thickness
from nestlib.intake.titles import guess_titles
from nestlib.intake.words import guess_metal
from nestlib.jobs.cells import Row
from nestlib.jobs.orders import orders_cell, orders_of


@given(st.integers(0, 10**9), st.integers(0, 999), st.sampled_from(".,"))
def test_python_spells_numbers_that_are_read_back(whole, thousandths, decimal):
    """Python's own thousands separators, with the signs exchanged for a decimal comma."""
    text = f"{whole:,}.{thousandths:03d}"
    if decimal == ",":
        text = text.translate(str.maketrans(".,", ",."))
    assert parse_number(text, decimal) == Fraction(whole * 1000 + thousandths, 1000)


@pytest.mark.parametrize("text", ["1.2.3", "12,50", "1,2345", "", "-", "1e5", "١٢", "1,,000"])
def test_what_is_no_number_with_a_decimal_point_is_refused(text):
    """Groups of anything but three digits are a slip, or another country's decimals."""
    with pytest.raises(ValueError, match=r"^"):
        parse_number(text, ".")


@pytest.mark.parametrize("cell", ["0", "-3", "2,5", "12 kg", "", None, True, 2.5, float("nan")])
def test_what_is_no_whole_quantity_is_refused(cell):
    """Half a part, weights and nothing at all."""
    with pytest.raises(ValueError, match="is not a"):
        parse_quantity(cell, ",")


def test_a_number_that_may_be_either_decides_nothing():
    """1.000 is a thousand or one: what is usual counts, and is to be checked."""
    assert guess_decimal(["1.000", "2.500"], ",") == (",", False)
    assert guess_decimal(["1.000", "0.125"], ",") == (".", True)


@given(st.dates(date(1982, 3, 1), date(2100, 1, 1)))
def test_days_are_what_the_calendar_says(day):
    """In the spellings of strftime, and as the count of days that spreadsheets keep."""
    assert parse_day(day.strftime("%d.%m.%Y"), "day month year") == day
    assert parse_day(day.strftime("%m/%d/%Y"), "month day year") == day
    assert parse_day(day.isoformat(), "month day year") == day
    # ECMA-376 part 1, 18.17.4.1, from memory: day 36526 is 1 January 2000.
    assert parse_day(36526 + (day - date(2000, 1, 1)).days, "day month year") == day


def test_days_that_may_be_either_are_not_taken_for_proof():
    """The first day beyond the 12th tells."""
    assert guess_order(["01/02/2030"], "month day year") == ("month day year", False)
    assert guess_order(["01/02/2030", "13/02/2030"], "month day year") == ("day month year", True)


@pytest.mark.parametrize("text", ["", "abc", "1/0", "16.5.2", "ga", "-3", "3 kg"])
def test_what_is_no_thickness_is_refused(text):
    """Whatever its unit."""
    with pytest.raises(ValueError, match=r"^"):
        written_thickness(text, "mm")


@pytest.mark.parametrize(
    ("text", "metal", "size"),
    [
        ("DC01 1,5mm", "DC01", "1,5mm"),
        ('304 1/8"', "304", '1/8"'),
        ("CRS 11GA", "CRS", "11GA"),
        ("1.4301 t=2 mm", "1.4301", "2 mm"),
        ("EN AW-5052 H32", "EN AW-5052 H32", ""),
    ],
)
def test_metal_and_thickness_in_one_cell_are_parted(text, metal, size):
    """Numbers of a grade are none of a thickness: common practice, no source."""
    assert split_metal(text) == (metal, size)


@pytest.mark.parametrize(
    "text",
    [
        *("Stahl rostfrei", "acier inoxydable", "acero inoxidable", "stainless steel", "Inox"),
        *("Stahl gehärtet", "Acero antidesgaste 450", "Acero AISI 4140", "Acero para herramientas"),
        *("Acero patinable", "steel spring", "Stahl C45", "Stahl 65Г", "сталь", "Steel A2"),
        *("S235JR verzinkt", "V2A 1.4571", "AISI 1050", "1018 hardened"),
    ],
)
def test_a_metal_is_not_guessed_from_some_of_its_words(text):
    """Stainless, hardened, tool and weathering steels are no mild steel: common practice."""
    assert guess_metal(text) == ""


@pytest.mark.parametrize(
    ("text", "metal"),
    [
        ("Stahl", "mild-steel"),
        ("Acero A36", "mild-steel"),
        ("Stahl rostfrei 1.4301", "stainless-304"),
        ("AISI 316L", "stainless-316"),
        ("Stahlblech verzinkt", "galvanised"),
        ("EN AW-5052 H32", "aluminium-5052"),
    ],
)
def test_a_metal_of_which_every_word_is_known_is_guessed(text, metal):
    """Grades and their families: common practice of the trade, no source."""
    assert guess_metal(text) == metal


@pytest.mark.parametrize("text", ["Edelstahl", "stainless", "Alu", "AlMg3", "wood", ""])
def test_a_metal_is_not_guessed_from_its_family(text):
    """A grade has to be said."""
    assert guess_metal(text) == ""


def test_titles_are_found_below_whatever_stands_above_them():
    """The row with most trade words, not the first one."""
    rows = (
        Row(1, ("Order list",)),
        Row(3, ("Item", "Drawing No.", "Qty", "Material", "Thk")),
        Row(4, ("10", "A", "2", "S235", "3")),
    )
    found = guess_titles(rows)
    assert found.row == 3
    assert found.fields["thickness"] == "Thk"


@given(
    st.lists(
        st.tuples(
            st.text(st.characters(codec="ascii", exclude_characters="=;\0"), min_size=1)
            .map(lambda text: " ".join(text.split()))
            .filter(bool),
            st.integers(1, 10**6),
            st.one_of(st.none(), st.dates(date(2000, 1, 1))),
        )
    )
)
def test_orders_of_a_cell_are_read_back(orders):
    """What a part list says of its orders is what was written."""
    found = orders_of(orders_cell(orders))
    assert [(o["line"], o["quantity"], o.get("due")) for o in found] == [
        (line, n, due.isoformat() if due else None) for line, n, due in orders
    ]
