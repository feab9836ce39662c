"""Exports of many shapes say the same: drafted, confirmed, taken in, compared with the rows."""

import csv
from pathlib import Path

import pytest

from nestlib.intake import confirmed, draft_mapping, read_export, take_in
from nestlib.intake.record import read_record
from nestlib.jobs import read_job_file, read_part_list
from tests.intake.shapes import SHAPES, Shape


def taken(folder: Path, shape: Shape):
    """What becomes of a shape whose draft is confirmed as it is."""
    (folder / shape.file).write_bytes(shape.data)
    for name in ("A-1.dxf", "B-2.DXF"):
        (folder / name).write_text("only its name counts here", encoding="utf-8")
    draft = draft_mapping(read_export(folder / shape.file), [folder], folder)
    (folder / "intake.toml").write_text(confirmed(draft.text), encoding="utf-8")
    return take_in(folder / shape.file, folder / "intake.toml", folder / "jobs" / "a")


@pytest.mark.parametrize("shape", SHAPES, ids=lambda shape: shape.name)
def test_every_shape_means_its_rows(shape, tmp_path):
    """As they stand beside the shape; what repeats or contradicts is told apart.

    Thicknesses within half the last digit of a chart of gauges, 0.00005 in.
    """
    done = taken(tmp_path, shape)
    found = [
        (row.line, row.part, row.quantity, row.metal, row.due and row.due.isoformat())
        for row in done.taken
    ]
    assert found == [(*row[:4], row[5]) for row in shape.expected]
    sizes = [row[4] for row in shape.expected]
    assert [row.mm for row in done.taken] == pytest.approx(sizes, abs=0.00006 * 25.4)
    assert len(done.again) == shape.again
    assert len(done.aside) == shape.aside


@pytest.mark.parametrize("shape", SHAPES[:7:3], ids=lambda shape: shape.name)
def test_jobs_hold_every_piece_and_every_order_line(shape, tmp_path):
    """Job files and part lists are read back by their own readers."""
    done = taken(tmp_path, shape)
    lines = []
    for file in done.job_files:
        job = read_job_file(file).table
        for line in read_part_list(file.parent / job.parts):
            entry = line.entry
            assert line.drawing.is_file()
            assert entry.quantity == sum(order.quantity for order in entry.orders)
            assert entry.due == min((o.due for o in entry.orders if o.due), default=None)
            lines += [(o.line, o.quantity, job.metal) for o in entry.orders]
    assert sorted(lines) == sorted((row[0], row[2], row[3]) for row in shape.expected)


def test_the_same_export_twice_changes_nothing(tmp_path):
    """Not a byte, not a time of writing."""
    shape = SHAPES[0]
    assert taken(tmp_path, shape).changed
    folder = tmp_path / "jobs" / "a"
    before = {path: (path.stat().st_mtime_ns, path.read_bytes()) for path in folder.iterdir()}
    again = take_in(tmp_path / shape.file, tmp_path / "intake.toml", folder)
    assert not again.changed
    assert before == {p: (p.stat().st_mtime_ns, p.read_bytes()) for p in folder.iterdir()}


def test_lines_of_an_earlier_export_are_not_cut_again(tmp_path):
    """The next export holds the old lines too: only the new ones make jobs."""
    shape = SHAPES[0]
    taken(tmp_path, shape)
    more = b"4713;10;B-2;3;1.4301;1,5;;1,00\r\n4712;10;A-1;6;S235JR;3,0;30.04.2030;4,00\r\n"
    kept = shape.data.split(b"\r\n", 3)
    (tmp_path / "b.csv").write_bytes(b"\r\n".join(kept[:3]) + b"\r\n" + more)
    done = take_in(tmp_path / "b.csv", tmp_path / "intake.toml", tmp_path / "jobs" / "b")
    assert [row.line for row in done.taken] == ["4713/10"]
    assert [row.line for row in done.before] == ["4711/10", "4711/20"]
    ((row, reason),) = done.aside
    assert row.number == 5
    assert "4712/10 was taken in from a.csv with another quantity" in reason
    (tmp_path / "c.csv").write_bytes(shape.data)
    again = take_in(tmp_path / "c.csv", tmp_path / "intake.toml", tmp_path / "jobs" / "c")
    assert (again.taken, len(again.before), again.changed) == ((), 3, False)
    assert not (tmp_path / "jobs" / "c").exists()


def test_rows_set_aside_keep_their_cells_and_the_reason(tmp_path):
    """So that whoever mends them needs nothing else."""
    shape = next(s for s in SHAPES if s.aside and s.again)
    done = taken(tmp_path, shape)
    with (done.folder / "set-aside.csv").open(encoding="utf-8", newline="") as file:
        (row,) = csv.DictReader(file)
    assert row["row"] == "6"
    assert row["reason"] == "order line 4712/10 stands in row 4 with another quantity, due"
    assert (row["Auftrag"], row["Stückzahl"], row["Preis €"]) == ("4712", "5", "4,00")
    named = {"line": "4712/10", "part": "A-1", "quantity": 5}
    kept = read_record(done.folder)["set_aside"]
    assert kept == [{"row": 6, "reason": row["reason"], **named}]


def test_a_bad_row_that_is_new_is_told_though_all_others_were_taken_before(tmp_path):
    """And once more under another name it is not."""
    shape = SHAPES[0]
    taken(tmp_path, shape)
    bad = shape.data + b"4714;10;C-3;3;S235JR;3,0;;1,00\r\n"
    for name in ("b", "c"):
        (tmp_path / f"{name}.csv").write_bytes(bad)
        done = take_in(tmp_path / f"{name}.csv", tmp_path / "intake.toml", tmp_path / "jobs" / name)
        assert len(done.aside) == 1
        assert done.changed == (name == "b")
        assert done.folder.exists() == (name == "b")


def test_quantities_that_may_mean_another_number_are_told(tmp_path):
    """A thousand or one: as the mapping has it, and to be checked."""
    done = taken(tmp_path, SHAPES[0])
    assert [(row.row, row.written, row.quantity) for row in done.either] == [(3, "1.200", 1200)]
    (kept,) = read_record(done.folder)["read_as"]
    assert kept == {"row": 3, "written": "1.200", "quantity": 1200}
