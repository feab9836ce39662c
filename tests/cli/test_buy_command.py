"""`nestlib buy` from files to a folder."""

import json

import jsonschema
import pypdfium2
import pytest

import nestlib as nl
from tests.command import contents, has_all, nestlib, refused, write_job

PRICES = """\
currency = "EUR"
[[offer]]
metal = "mild-steel"
thickness = "2 mm"
size = "500x400"
price_per_sheet = 12.50
pack = 2
"""

BUY = ("buy", "job.toml", "--prices", "prices.toml", "--iterations", "1", "--workers", "1")


@pytest.fixture
def folder(tmp_path):
    """A job of two squares without stock, and a price list."""
    write_job(tmp_path, ("quantity = 1\n\n[[part]]", "\n[[part]]"))
    (tmp_path / "prices.toml").write_text(PRICES, encoding="utf-8")
    return tmp_path


def test_the_folder_holds_the_order(folder):
    """Order, questions, picture and record agree, and the record keeps its schema."""
    result = nestlib(folder, *BUY, "--out", "order", "--json")
    assert result.exit_code == 0, result.output
    record = json.loads((folder / "order/buy.json").read_text(encoding="utf-8"))
    jsonschema.validate(record, nl.buy_schema())
    assert json.loads(result.stdout)["cost"] == record["cost"] == 25.0
    assert record["bound"] == 25.0  # a pack is of two
    head, line = (folder / "order/order.csv").read_text(encoding="utf-8").splitlines()
    row = dict(zip(head.split(","), line.split(","), strict=True))
    assert (row["format"], row["sheets"], row["packs"], row["amount"]) == (
        "500x400", "2", "1", "25.0",
    )  # fmt: skip
    svg = (folder / "order/cost.svg").read_text(encoding="utf-8")
    assert svg.count("25.00 EUR") == 2
    assert {p.name for p in (folder / "order").iterdir()} == {
        "buy.json", "choices.csv", "cost.svg", "order.csv", "purchase.html", "purchase.pdf",
    }  # fmt: skip
    assert has_all(refused(folder, *BUY, "--out", "order"), "already holds a purchase")


def test_the_pages_can_be_made_again(folder):
    """From buy.json alone, the same; and on the other paper (ANSI Y14.1: 8.5 x 11 in)."""
    assert nestlib(folder, *BUY, "--out", "order", "--quiet").exit_code == 0
    before = contents(folder / "order")
    for file in before:
        if file.name != "buy.json":
            file.unlink()
    assert nestlib(folder, "report", "order", "--quiet").exit_code == 0
    assert contents(folder / "order") == before
    assert nestlib(folder, "report", "order", "--paper", "letter", "--quiet").exit_code == 0
    (page,) = pypdfium2.PdfDocument(folder / "order/purchase.pdf")
    assert page.get_size() == (612, 792)
    assert has_all(refused(folder, "report", "order", "--labels", "a4-24"), "for plans")


@pytest.mark.parametrize(
    ("extra", "words"),
    [
        (("--prices", "none.toml"), ("none.toml", "no such file")),
        (("--forecast", "none.csv"), ("none.csv", "no such file")),
        (("--order-from", "soon"), ("soon", "2030-W18")),
        (("--scrap", "1"), ("scrap",)),
        (("--service", "nan"), ("service",)),
    ],
)
def test_bad_arguments_are_refused(folder, extra, words):
    """With one message, and nothing written."""
    assert has_all(refused(folder, *BUY, *extra), *words)


def test_a_script_sees_that_an_order_comes_too_late(folder):
    """Wanted in week 20, and ordered from week 22 on; from week 10 on it is in time."""
    rows = "part,week,low,high\nsquare,2030-W20,2,2\n"
    (folder / "forecast.csv").write_text(rows, encoding="utf-8")
    weekly = (*BUY, "--forecast", "forecast.csv", "--weekly", "--quiet", "--order-from")
    late = nestlib(folder, *weekly, "2030-W22", "--out", "late")
    assert late.exit_code == 1
    assert "week by week" in late.stderr
    soon = nestlib(folder, *weekly, "2030-W10", "--out", "soon")
    assert (soon.exit_code, soon.stderr) == (0, "")


def test_a_metal_that_nobody_offers_is_refused(folder):
    """And a list of parts is no job."""
    (folder / "prices.toml").write_text(PRICES.replace("2 mm", "3 mm"), encoding="utf-8")
    assert has_all(refused(folder, *BUY), "nothing is offered", "2 mm", "prices.toml")
    assert has_all(refused(folder, "buy", "square.dxf", *BUY[2:]), "not a job")


RACK = ("--stock", "rack.sqlite")
LISTED = ("buy", "list.csv", "--metal", "mild-steel", "--thickness", "2", *BUY[2:])


def test_what_lies_on_the_rack_is_not_bought(folder):
    """One of two squares goes on a remnant of the rack, so one small sheet less is ordered.

    Of the only offer, 150x150 for 3.00, each sheet holds one square of 100 mm, with room for
    the margins and none for two. The remnant is as large and has no price.
    """
    (folder / "prices.toml").write_text(
        PRICES.replace("500x400", "150x150").replace("12.50", "3.00").replace("pack = 2\n", ""),
        encoding="utf-8",
    )
    (folder / "list.csv").write_text("drawing,quantity\nsquare.dxf,2\n", encoding="utf-8")
    bought = nestlib(folder, *LISTED, "--out", "bare", "--json")
    assert json.loads(bought.stdout)["cost"] == 6.0, bought.output
    add = ("stock", "add", "--metal", "mild-steel", "--thickness", "2", "--size", "150x150")
    assert nestlib(folder, *add, "--remnant", *RACK).exit_code == 0
    for jobs in (LISTED, BUY):
        folder_name = jobs[1].replace(".", "-")
        result = nestlib(folder, *jobs, "--from-stock", *RACK, "--out", folder_name, "--json")
        assert result.exit_code == 0, result.output
        record = json.loads(result.stdout)
        assert record["cost"] == 3.0
        lines = record["metals"][0]["order"]
        used = {line["format"]: (line["sheets"], line["to_cut"]) for line in lines}
        assert used == {"at hand: R1": (0, 1), "150x150": (1, 1)}
        assert any("is not held" in note for note in record["notes"])
    listed = nestlib(folder, "stock", "list", "--json", *RACK)
    assert [item["held"] for item in json.loads(listed.stdout)] == [0]


def test_all_is_bought_that_the_rack_does_not_have(folder):
    """Two jobs of one metal share what lies there, and of a metal that is not there all is bought.

    By hand: four squares and the one remnant leave three small sheets to buy, for 9.00. With
    only another thickness on the rack, both squares of the one job go on bought ones, for 6.00.
    """
    small = PRICES.replace("500x400", "150x150").replace("12.50", "3.00").replace("pack = 2\n", "")
    (folder / "prices.toml").write_text(small, encoding="utf-8")
    (folder / "job_b.toml").write_bytes((folder / "job.toml").read_bytes())
    add = ("stock", "add", "--metal", "mild-steel", "--size", "150x150", "--remnant")
    assert nestlib(folder, *add, "--thickness", "2", *RACK).exit_code == 0
    other = ("--stock", "other.sqlite")
    assert nestlib(folder, *add, "--thickness", "3", *other).exit_code == 0
    both = ("buy", "job_b.toml", *BUY[1:], "--from-stock")
    for call, cost in (((*both, *RACK), 9.0), ((*BUY, "--from-stock", *other), 6.0)):
        result = nestlib(folder, *call, "--out", f"order-{cost:g}", "--json")
        assert result.exit_code == 0, result.output
        record = json.loads(result.stdout)
        assert (record["cost"], record["metals"][0]["unplaced"]) == (cost, [])
    (folder / "prices.toml").write_text(PRICES.replace("2 mm", "4 mm"), encoding="utf-8")
    told = refused(folder, *BUY, "--from-stock", *other)
    assert has_all(told, "nothing is offered", "2 mm", "prices.toml")


@pytest.mark.parametrize(
    ("extra", "words"),
    [
        (RACK, ("go with --from-stock",)),
        (("--from-stock", "--empty-rack", *RACK), ("contradict",)),
        (("--from-stock", *RACK), ("rack.sqlite",)),
        (("--metal", "mild-steel"), ("part lists", "job.toml says that itself")),
    ],
)
def test_options_that_do_not_go_together_are_refused(folder, extra, words):
    """With one message, and nothing written; a rack that is not there is not made."""
    assert has_all(refused(folder, *BUY, *extra), *words)


def test_a_part_list_needs_its_metal(folder):
    """As for nest, but for the sheets, which are offered."""
    (folder / "list.csv").write_text("drawing,quantity\nsquare.dxf,2\n", encoding="utf-8")
    told = refused(folder, "buy", "list.csv", *BUY[2:])
    assert has_all(told, "a part list also needs --metal, --thickness")
