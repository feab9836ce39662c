"""From an export to jobs on the command line."""

import json

import pytest
from filelock import FileLock

from tests.command import SQUARE, contents, has_all, nestlib, refused

EXPORT = """\
Order;Line;Part;Quantity;Material;Thickness;Due date
4711;10;square;2;S235JR;2;2030-05-01
4712;10;square;1;S235JR;2;2030-04-01
4712;20;round;1;S235JR;2;2030-04-01
"""


@pytest.fixture
def shop(tmp_path):
    """A folder with an export and one of its drawings."""
    (tmp_path / "orders.csv").write_text(EXPORT, encoding="utf-8")
    (tmp_path / "square.dxf").write_text(SQUARE, encoding="utf-8")
    return tmp_path


def test_the_first_run_drafts_and_says_what_to_check(shop):
    """Exit 1, a mapping that says CHECK, and nothing else."""
    result = nestlib(shop, "intake", "orders.csv")
    assert result.exit_code == 1
    assert has_all(result.stdout, "drafted intake.toml", "the sheets on the rack", "--confirm")
    assert "1 of 3 rows have no drawing" in (shop / "intake.toml").read_text(encoding="utf-8")
    assert list((shop / "jobs").rglob("*.toml")) == []


def test_a_steel_that_is_not_known_waits_until_it_is_named(shop):
    """Commented out and to be checked; confirmed as it is, its rows are set aside."""
    text = EXPORT.replace("1;S235JR", "1;Stahl rostfrei", 1)
    (shop / "orders.csv").write_text(text, encoding="utf-8")
    assert '"Stahl rostfrei"' in nestlib(shop, "intake", "orders.csv").stdout
    drafted = (shop / "intake.toml").read_text(encoding="utf-8")
    assert '\n# "Stahl rostfrei" = "" # CHECK' in drafted
    done = json.loads(nestlib(shop, "intake", "orders.csv", "--confirm", "--json").stdout)
    assert done["set_aside"][0]["row"] == 3
    assert "Stahl rostfrei" in done["set_aside"][0]["reason"]


def test_a_draft_that_nobody_confirmed_is_not_used(shop):
    """Running the same command twice is no confirmation."""
    nestlib(shop, "intake", "orders.csv")
    assert has_all(refused(shop, "intake", "orders.csv"), "not confirmed", "--confirm")


def test_good_rows_go_on_and_bad_ones_are_set_aside(shop):
    """Exit 1 says that rows were set aside; the jobs are there, and nest reads them."""
    nestlib(shop, "intake", "orders.csv")
    result = nestlib(shop, "intake", "orders.csv", "--confirm", "--json")
    assert result.exit_code == 1
    record = json.loads(result.stdout)
    assert (record["state"], record["rows"], record["taken"]) == ("done", 3, 2)
    assert record["set_aside"] == [{"row": 4, "reason": "there is no drawing round"}]
    assert [(job["parts"], job["pieces"]) for job in record["jobs"]] == [(1, 3)]


def test_twice_changes_nothing_and_says_so(shop):
    """Not a byte in the folder, and exit 0: of the row set aside the last run has told."""
    nestlib(shop, "intake", "orders.csv")
    nestlib(shop, "intake", "orders.csv", "--confirm")
    before = contents(shop)
    again = nestlib(shop, "intake", "orders.csv")
    assert "Nothing has changed" in again.stdout
    assert again.exit_code == nestlib(shop, "intake", "orders.csv", "--quiet").exit_code == 0
    assert contents(shop) == before


def test_a_quantity_that_may_be_either_is_a_warning(shop):
    """A decimal comma makes 1.000 a thousand, and the run says so."""
    text = EXPORT.replace(";2;S235", ";1.000;S235")
    (shop / "orders.csv").write_text(text, encoding="utf-8")
    nestlib(shop, "intake", "orders.csv")
    done = nestlib(shop, "intake", "orders.csv", "--confirm")
    assert has_all(done.stdout, "warning", "row 2: 1.000 read as 1000")


def test_another_export_of_the_same_name_is_not_overwritten(shop):
    """Only --overwrite does that."""
    nestlib(shop, "intake", "orders.csv")
    nestlib(shop, "intake", "orders.csv", "--confirm")
    (shop / "orders.csv").write_text(EXPORT.replace(";2;S235", ";5;S235"), encoding="utf-8")
    assert has_all(refused(shop, "intake", "orders.csv"), "--overwrite")
    done = nestlib(shop, "intake", "orders.csv", "--overwrite", "--json")
    assert json.loads(done.stdout)["jobs"][0]["pieces"] == 6


def test_drawings_that_cannot_be_cut_are_set_aside_if_they_are_checked(shop):
    """One broken drawing does not stop the job of all others."""
    (shop / "round.dxf").write_text("no drawing", encoding="utf-8")
    nestlib(shop, "intake", "orders.csv")
    done = nestlib(shop, "intake", "orders.csv", "--confirm", "--check", "--json")
    record = json.loads(done.stdout)
    assert record["taken"] == 2
    assert [row["row"] for row in record["set_aside"]] == [4]
    assert "round.dxf" in record["set_aside"][0]["reason"]


@pytest.mark.parametrize("checked_first", [True, False])
def test_whether_drawings_are_checked_makes_it_no_other_export(shop, checked_first):
    """What is there stays; --check all the same tells what it would set aside."""
    (shop / "round.dxf").write_text("no drawing", encoding="utf-8")
    nestlib(shop, "intake", "orders.csv")
    plain, checked = ("intake", "orders.csv"), ("intake", "orders.csv", "--check")
    first, second = (checked, plain) if checked_first else (plain, checked)
    nestlib(shop, *first, "--confirm")
    before = contents(shop)
    again = nestlib(shop, *second)
    assert "Nothing has changed" in again.stdout
    assert again.exit_code == (0 if checked_first else 1)
    assert has_all(again.stderr, "row 4", "without --check", "round.dxf") is not checked_first
    assert ("set aside: row 4" in again.stdout.lower()) is checked_first
    assert contents(shop) == before
    assert nestlib(shop, *first).exit_code == 0
    assert nestlib(shop, *second, "--overwrite").exit_code == (0 if checked_first else 1)
    assert contents(shop) != before


def test_a_drawing_that_came_since_is_not_taken_for_a_checked_one(shop):
    """Its row was set aside because there was none: taking it in needs --overwrite."""
    nestlib(shop, "intake", "orders.csv")
    nestlib(shop, "intake", "orders.csv", "--confirm", "--check")
    (shop / "round.dxf").write_text(SQUARE, encoding="utf-8")
    for more in ((), ("--check",)):
        assert has_all(refused(shop, "intake", "orders.csv", *more), "other drawings", "--overw")


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('"Quantity"', '"Amount"', ("row 1", "missing: Amount")),
        ('"mild-steel"', '"steal"', ("intake.toml", "steal")),
        ('"S235JR" = "mild-steel"', '"S235JR" = ""', ("line", "no metal is said")),
        ('size = "3000x1500"', 'siez = "3000x1500"', ("siez", "size")),
        ("[job]", '[job]\nmetal = "copper"', ("[job] says metal",)),
        ('machine = "co2-400"', 'mashine = "co2-400"', ("mashine",)),
        ('folders = ["."]', 'folders = ["nowhere"]', ("no folder", "nowhere")),
    ],
)
def test_a_wrong_mapping_gets_one_message(shop, old, new, words):
    """With the file, the place and what to do."""
    nestlib(shop, "intake", "orders.csv")
    mapping = shop / "intake.toml"
    text = mapping.read_text(encoding="utf-8").replace("confirmed = false", "confirmed = true")
    assert old in text
    mapping.write_text(text.replace(old, new), encoding="utf-8")
    assert has_all(refused(shop, "intake", "orders.csv"), *words)


def test_two_runs_do_not_write_to_one_folder(shop):
    """The second one is told to wait."""
    nestlib(shop, "intake", "orders.csv")
    with FileLock(shop / "jobs" / ".nestlib.lock"):
        message = refused(shop, "intake", "orders.csv", "--confirm")
    assert has_all(message, "another run", "wait")


def test_a_file_that_is_no_export_is_refused(shop):
    """Drawings and pictures are no lists."""
    (shop / "picture.csv").write_bytes(b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\1\0")
    (shop / "jobs").mkdir()
    (shop / "jobs" / ".nestlib.lock").touch()
    assert has_all(refused(shop, "intake", "picture.csv"), "picture.csv")


def test_a_missing_export_is_told_with_a_name_like_it(shop):
    """And no folder is made for it."""
    assert has_all(refused(shop, "intake", "ordres.csv"), "no such file", "orders.csv")
