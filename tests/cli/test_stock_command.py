"""`nestlib stock` as people and scripts use it, and what it says when it refuses."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from fixtures import plain_dxf as dxf
from tests.command import NEST, has_all, nestlib, refused, write_job

ADD = (
    *("stock", "add", "--metal", "mild-steel", "--thickness", "2 mm", "--size", "500x400"),
    *("--quantity", "2", "--place", "A3", "--price", "30"),
    *("--currency", "EUR", "--heat", "H1", "--document", "3.1"),
)


@pytest.fixture
def workshop(tmp_path: Path, monkeypatch) -> Path:
    """A folder with a rack that holds two sheets."""
    monkeypatch.setenv("NESTLIB_STOCK", str(tmp_path / "rack.sqlite"))
    assert nestlib(tmp_path, *ADD, "--quiet").output == ""
    return tmp_path


def told(folder: Path, *arguments: str) -> str:
    """What a command that succeeds prints."""
    result = nestlib(folder, "stock", *arguments)
    assert result.exit_code == 0, result.output
    return result.stdout


def rows(folder: Path, *arguments: str) -> list[dict]:
    """The list as JSON."""
    found: list[dict] = json.loads(told(folder, "list", "--json", *arguments))
    return found


def test_a_session(workshop):
    """Each command says what it booked, and the ledger keeps it."""
    assert told(workshop, "hold", "S1", "--for", "order 81") == "S1: 1 held for order 81\n"
    assert told(workshop, "release", "order 81") == "S1: 1 released for order 81\n"
    assert told(workshop, "count", "s1", "3", "--note", "May") == "S1: +1 counted\n"
    assert told(workshop, "scrap", "S1") == "S1: 1 scrapped\n"
    assert told(workshop, "move", "S1", "--place", "B2", "--note", "saw") == "S1: moved to B2\n"
    lines = told(workshop, "history", "S1").splitlines()
    assert [line.split("Z  ")[1] for line in lines] == [
        "S1: 2 received", "S1: 1 held for order 81", "S1: 1 released for order 81",
        "S1: +1 counted (May)", "S1: 1 scrapped", "S1: moved to B2 (saw)",
    ]  # fmt: skip
    (item,) = rows(workshop)
    assert (item["item"], item["there"], item["held"], item["place"]) == ("S1", 2, 0, "B2")
    assert has_all(told(workshop, "list"), "S1", "500 x 400", "30.00", "H1", "3.1", "2 pieces")


def test_a_drawn_remnant_keeps_its_outline(workshop):
    """A rectangle with a round hole of radius 30: 300 · 200 - π 30² of metal."""
    drawing = dxf.dxf(dxf.rectangle(50, 50, 300, 200), dxf.circle(150, 150, 30))
    (workshop / "rest.dxf").write_text(drawing, encoding="utf-8")
    words = ("--metal", "mild-steel", "--thickness", "2", "--drawing", "rest.dxf", "--units", "mm")
    told(workshop, "add", *words, "--remnant", "--since", "2026-01-31")
    (item,) = rows(workshop, "--remnants")
    assert item["area_mm2"] == pytest.approx(300 * 200 - 3.14159265 * 900)
    assert (item["item"], item["since"]) == ("R2", "2026-01-31")
    told(workshop, "export", "rack.json", "--remnants")
    (record,) = json.loads((workshop / "rack.json").read_text(encoding="utf-8"))
    assert sorted(record["holes"][0]["points"]) == [[70.0, 100.0], [130.0, 100.0]]
    told(workshop, "label", "R2", "--out", "label.pdf")
    assert (workshop / "label.pdf").read_bytes().startswith(b"%PDF-")


def test_a_delivery_is_added_once(workshop):
    """The same key twice: the second says so."""
    first = nestlib(workshop, *ADD, "--key", "delivery 7", "--json")
    again = nestlib(workshop, *ADD, "--key", "delivery 7", "--json")
    assert [json.loads(r.stdout)["fresh"] for r in (first, again)] == [True, False]
    assert "before" in nestlib(workshop, *ADD, "--key", "delivery 7").stdout
    assert [r["item"] for r in rows(workshop)] == ["S1", "S2"]


def test_units_of_a_drawing_that_says_its_own_are_its_own(workshop):
    """20 x 10 in are 508 x 254 mm, since the inch is 25.4 mm; --units is for drawings without."""
    drawing = dxf.dxf(dxf.rectangle(0, 0, 20, 10), units=1)
    (workshop / "rest.dxf").write_text(drawing, encoding="utf-8")
    words = ("--metal", "mild-steel", "--thickness", "2", "--drawing", "rest.dxf", "--units", "mm")
    told(workshop, "add", "--remnant", *words)
    (item,) = rows(workshop, "--remnants")
    assert item["area_mm2"] == pytest.approx(508 * 254)


@pytest.mark.parametrize(
    "arguments",
    [
        ("list",), ("export", "rack.csv"), ("history",), ("label", "S1"), ("money",),
        ("money", "--share", "0.4"), ("hold", "S1", "--for", "x"), ("release", "x"),
        ("count", "S1", "2"), ("scrap", "S1"),
    ],
)  # fmt: skip
def test_only_add_makes_a_rack(workshop, arguments):
    """A slip in the path is told, and no empty rack is left there, nor its folder."""
    message = refused(workshop, "stock", *arguments, "--stock", "rakcs/rack.sqlite")
    assert has_all(message, "there is no rack at rakcs/rack.sqlite yet", "add a sheet first")
    (workshop / "empty.sqlite").touch()
    assert "no rack at" in refused(workshop, "stock", *arguments, "--stock", "empty.sqlite")


def test_a_nest_from_no_rack_makes_none(workshop):
    """Before anything is searched."""
    write_job(workshop)
    message = refused(workshop, *NEST, "--from-stock", "--stock", "nowhere.sqlite")
    assert "there is no rack at nowhere.sqlite yet" in message


def test_add_makes_a_rack(workshop):
    """Where it is told to, once, and says so."""
    (workshop / "other").mkdir()
    made = nestlib(workshop, *ADD, "--stock", "other/rack.sqlite")
    assert (made.exit_code, made.stderr) == (0, "New rack: other/rack.sqlite\n")
    again = nestlib(workshop, *ADD, "--key", "2", "--stock", "other/rack.sqlite")
    assert (again.exit_code, again.stderr) == (0, "")
    assert [r["item"] for r in rows(workshop, "--stock", "other/rack.sqlite")] == ["S1", "S2"]


@pytest.mark.parametrize("by_option", [True, False])
def test_add_makes_no_folder_for_a_slip_in_the_path(workshop, monkeypatch, by_option):
    """Whether the place is said by --stock or by the environment."""
    monkeypatch.setenv("NESTLIB_STOCK", str(workshop / "rakcs" / "rack.sqlite"))
    option = ("--stock", "rakcs/rack.sqlite") if by_option else ()
    assert has_all(refused(workshop, *ADD, *option), "there is no folder", "rakcs", "check")


def test_the_folder_for_a_user_s_data_is_made(tmp_path, monkeypatch):
    """Where nobody says a place, the first sheet makes it."""
    monkeypatch.delenv("NESTLIB_STOCK", raising=False)
    home = tmp_path / "data" / "nestlib"
    monkeypatch.setattr("platformdirs.user_data_dir", lambda *_args, **_options: str(home))
    assert nestlib(tmp_path, *ADD).exit_code == 0
    assert (home / "stock.sqlite").is_file()


@pytest.mark.parametrize(
    "other",
    [("--quantity", "3"), ("--size", "500x401"), ("--heat", "H2"), ("--price", "31")],
)
def test_a_key_is_for_one_delivery(workshop, other):
    """Something else under the same key is refused with what was booked, and not added."""
    told(workshop, *ADD[1:], "--key", "DN77")
    message = refused(workshop, "stock", *ADD[1:], *other, "--key", "DN77")
    assert has_all(message, '"DN77"', "S2: 2 received", "mild-steel 2 mm, 500 x 400", "heat H1")
    assert [(r["item"], r["there"]) for r in rows(workshop)] == [("S1", 2), ("S2", 2)]


def test_a_label_of_what_is_used_up_says_so(workshop):
    """The label is written, since a piece may be counted again."""
    told(workshop, "count", "S1", "0")
    result = nestlib(workshop, "stock", "label", "S1")
    assert result.exit_code == 0
    assert "S1 is used up" in result.stderr


def test_money_is_set_for_everybody(workshop):
    """What was not said stays as it was."""
    told(workshop, "money", "--share", "0.4")
    assert json.loads(told(workshop, "money", "--keeping", "12", "--json")) == {
        "share": 0.4, "half_life": 365.0, "keeping": 12.0, "stay": 90.0,
    }  # fmt: skip


REFUSED = {
    "more than is free": (("hold", "S1", "--for", "x", "--quantity", "3"), ["3 of S1", "2 free"]),
    "an unknown item": (("scrap", "S9"), ["there is no S9", "list"]),
    "an unknown remnant": (("hold", "R4", "--for", "x"), ["there is no R4", "list"]),
    "another letter: scrap": (("scrap", "R1"), ["there is no R1", "did you mean S1?"]),
    "another letter: hold": (("hold", "r1", "--for", "x"), ["there is no R1", "did you mean S1?"]),
    "another letter: count": (("count", "R1", "9"), ["there is no R1", "did you mean S1?"]),
    "another letter: release": (("release", "x", "R1"), ["there is no R1", "did you mean S1?"]),
    "another letter: history": (("history", "R1"), ["there is no R1", "did you mean S1?"]),
    "another letter: label": (("label", "R1"), ["there is no R1", "did you mean S1?"]),
    "a day as it is said": (
        (*ADD[1:], "--since", "26.11.2026"),
        ["'26.11.2026' is no day", "write a day as 2026-11-26"],
    ),
    "no such day": ((*ADD[1:], "--since", "2026-02-30"), ["write a day as 2026-11-26"]),
    "a day to come": ((*ADD[1:], "--since", "9998-01-31"), ["9998-01-31", "still to come"]),
    "a price of what": ((*ADD[1:], "--currency", ""), ["a price of 30", "--currency EUR"]),
    "a bare number": (("scrap", "1"), ['"1"', "S12"]),
    "no label": (("label", "plate"), ['"plate"', "S12"]),
    "a metal": (
        ("add", "--metal", "mild-stel", "--thickness", "2", "--size", "3x4"),
        ["mild-stel", "did you mean"],
    ),
    "neither size nor drawing": (
        ("add", "--metal", "copper", "--thickness", "2"),
        ["size or a drawing"],
    ),
    "an unknown form": (("export", "rack.doc"), ["rack.doc", ".csv"]),
    "no such plan": (("use", "nowhere"), ["nowhere"]),
    "nothing held": (("release", "nobody"), ["nothing is held", "nobody"]),
    "not this rack": (("use", "job.toml"), ["job.toml", "not JSON"]),
}


@pytest.mark.parametrize("case", REFUSED)
def test_a_refusal_is_one_clear_message(case, workshop):
    """Exit code 2, what is wrong and what to do, and the rack as it was."""
    (workshop / "job.toml").write_text("x", encoding="utf-8")
    arguments, words = REFUSED[case]
    message = refused(workshop, "stock", *arguments)
    assert has_all(message, *words), message


def test_every_command_has_help_with_an_example(workshop):
    """And --stock, --json and --quiet."""
    names = [
        line.split()[0] for line in told(workshop, "--help").split("Commands:\n")[1].splitlines()
    ]
    assert len(names) == 12
    for name in names:
        text = told(workshop, name, "--help")
        assert f"nestlib stock {name}" in text
        assert all(option in text for option in ("--stock", "--json", "--quiet"))


@pytest.mark.slow
def test_a_nest_from_the_rack_is_held_booked_and_verified(workshop):
    """The job's own sheet is left out; console, plan, lists, report and check know the rack."""
    write_job(workshop, ('size = "500x400"', 'size = "450x350"'))
    command = [word for word in NEST if word != "--quiet"]
    done = nestlib(workshop, *command, "--from-stock")
    assert done.exit_code == 0, done.output
    record = json.loads((workshop / "plan" / "plan.json").read_text(encoding="utf-8"))
    hold = record["hold"]
    assert has_all(done.stdout, "Held on the rack: 1 x S1", hold)
    assert [(s["item"], s["heat"], s["quantity"]) for s in record["sheets"]] == [("S1", "H1", 2)]
    assert hold in (workshop / "plan" / "report.html").read_text(encoding="utf-8")
    with (workshop / "plan" / "sheets.csv").open(newline="", encoding="utf-8") as file:
        assert [row["item"] for row in csv.DictReader(file)] == ["S1"]
    assert [r["held"] for r in rows(workshop, "--hold", hold)] == [1]
    assert nestlib(workshop, "verify", "plan").exit_code == 0
    assert "S1: 1 used" in told(workshop, "use", "plan")
    assert "nothing was changed" in told(workshop, "use", "plan")
    assert [(r["item"], r["there"], r["held"]) for r in rows(workshop, "--sheets")] == [
        ("S1", 1, 0)
    ]
    again = (*NEST, "--overwrite", "--from-stock")
    assert has_all(refused(workshop, *again), "plan", "booked as cut", "another folder")
    again = ("other" if word == "plan" else word for word in again)
    assert "nothing on the rack fits" in refused(workshop, *again, "--document", "3.2")


def test_options_of_the_rack_need_the_rack(workshop):
    """--document without --from-stock would be forgotten silently."""
    write_job(workshop)
    result = nestlib(workshop, *NEST, "--document", "3.1")
    assert result.exit_code == 2
    assert "--from-stock" in result.stderr
