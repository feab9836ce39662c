"""Price lists and forecasts: what they say, and what is wrong with them."""

from pathlib import Path

import pytest

import nestlib as nl

PRICES = """\
currency = "EUR"
stock_value = 0.5

[[offer]]
metal = "mild-steel"
thickness = "2 mm"
size = "1000x2000"
price_per_kg = 1.25
pack = 5
minimum_order = 10
lead_weeks = 2

[[offer]]
metal = "mild-steel"
thickness = "2 mm"
width = 1250
shortest = 1000
longest = 2000
step = 300
price_per_kg = 1.5
"""


def written(folder: Path, text: str, name: str = "prices.toml") -> Path:
    """A file with this text."""
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def test_a_price_list_in_toml(tmp_path):
    """Prices by hand: 2 m2 x 2 mm x 7.85 = 31.4 kg (density: 7.85 g/cm3) at 1.25 is 39.25."""
    prices = nl.read_prices(written(tmp_path, PRICES))
    sheet, coil = prices.offers
    assert (prices.currency, prices.stock_value) == ("EUR", 0.5)
    assert (sheet.lengths, sheet.width, sheet.price(2000.0)) == ((2000.0,), 1000.0, 3925)
    assert (sheet.pack, sheet.minimum, sheet.lead_weeks) == (5, 10, 2)
    assert coil.lengths == (1000.0, 1300.0, 1600.0, 1900.0)
    assert coil.title(1300.0) == "1250 cut to length @ 1300"


def test_a_price_list_as_a_table(tmp_path):
    """Columns are the keys; a decimal comma and semicolons are understood."""
    text = (
        "metal;thickness;size;price_per_kg;price per sheet;pack\n"
        "mild-steel;2 mm;2000x1000;1,25;;\n"
        "mild-steel;2 mm;2500x1250;;70,00;2\n"
    )
    first, second = nl.read_prices(written(tmp_path, text, "prices.csv")).offers
    assert (first.price(2000.0), second.price(2500.0), second.pack) == (3925, 7000, 2)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('size = "1000x2000"', 'size = "1000"', ("line 7", "size")),
        ("price_per_kg = 1.25", "price = 1.25", ("unknown key", "price")),
        ("price_per_kg = 1.25", "", ("one price",)),
        ("price_per_kg = 1.5", "price_per_sheet = 9", ("many lengths", "price_per_kg")),
        ("longest = 2000", "longest = 500", ("shortest",)),
        ("step = 300", "", ("size", "step")),
        ("step = 300", "step = 0.1", ("step",)),
        ('metal = "mild-steel"', 'metal = "milde-steel"', ("milde-steel", "mild-steel")),
        ("pack = 5", "pack = 0", ("pack",)),
        ("stock_value = 0.5", "stock_value = 1.5", ("line 2", "stock_value")),
        ("[[offer]]", "[offer]", ("not valid TOML",)),
    ],
)
def test_a_bad_price_list_says_what_and_where(tmp_path, old, new, words):
    """One clear message for each slip."""
    path = written(tmp_path, PRICES.replace(old, new, 1))
    with pytest.raises(nl.InputError) as caught:
        nl.read_prices(path)
    assert all(word in str(caught.value) for word in (*words, str(path)))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("part,week,quantity\nhook,2030-W54,3\n", ("row 2", "week", "calendar")),
        ("part,week,quantity\nhook,soon,3\n", ("row 2", "soon")),
        ("part,quantity,low\nhook,3,2\n", ("low and high",)),
        ("part,low,high\nhook,5,2\n", ("low 5",)),
        ("part,quantity\nhook,few\n", ("row 2, column quantity", "few")),
        ("part,number\nhook,3\n", ("unknown column", "number")),
        ("part,quantity\n", ("no rows",)),
        ("part,week,quantity\nhook,2030-W18,1\nhook,3,1\n", ("two ways",)),
    ],
)
def test_a_bad_forecast_says_what_and_where(tmp_path, text, words):
    """One clear message for each slip."""
    path = written(tmp_path, text, "forecast.csv")
    with pytest.raises(nl.InputError) as caught:
        nl.read_forecast(path)
    assert all(word in str(caught.value) for word in (*words, str(path)))


def test_a_forecast_holds_numbers_and_ranges(tmp_path):
    """A number is a range of one."""
    text = "part;week;quantity;low;high\nhook;7;3;;\nhook;8;;2;6\n"
    first, second = nl.read_forecast(written(tmp_path, text, "forecast.csv"))
    assert (first.part, first.week, first.low, first.high) == ("hook", "7", 3, 3)
    assert (second.low, second.high, second.usual) == (2, 6, 4)
