"""From a purchase to buy.json and back."""

import json
from dataclasses import replace

import jsonschema
import pytest

from nestlib.errors import InputError
from nestlib.handover_purchase import rewrite_purchase, write_purchase_folder
from nestlib.writing import buy_record, buy_schema, purchase_from_record, read_purchase
from tests.reporting import bought


def test_what_is_read_back_is_written_alike():
    """Every figure of the record comes back from a record that went through JSON."""
    record = json.loads(json.dumps(buy_record(bought.purchase())))
    jsonschema.validate(record, buy_schema())
    assert buy_record(purchase_from_record(record)) == record


def test_a_purchase_read_back_equals_the_first():
    """But for what no record tells: families, densities and sources of the metals."""
    first = bought.purchase()
    again = purchase_from_record(json.loads(json.dumps(buy_record(first))))
    for one, other in zip(first.metals, again.metals, strict=True):
        assert replace(other, metal=one.metal) == one
        assert str(other.metal) == str(one.metal)
    assert replace(again, metals=first.metals, seconds=first.seconds) == first


def test_the_pages_are_written_again_from_the_record_itself(tmp_path):
    """Its file stands for the folder that it lies in, and the pages are the same."""
    folder = tmp_path / "order"
    write_purchase_folder(bought.purchase(), folder)
    before = {p.name: p.read_bytes() for p in folder.iterdir()}
    (folder / "purchase.html").unlink()
    (folder / "order.csv").unlink()
    assert rewrite_purchase(folder / "buy.json") == folder / "purchase.html"
    assert {p.name: p.read_bytes() for p in folder.iterdir()} == before


@pytest.mark.parametrize(
    ("change", "problem"),
    [
        (lambda r: r | {"format": "other"}, "not a purchase"),
        (lambda r: r | {"version": 2}, "version 2"),
        (lambda r: {k: v for k, v in r.items() if k != "metals"}, "damaged"),
        (lambda r: r | {"metals": [{**r["metals"][0], "cost": "dear"}]}, "damaged"),
        (lambda r: r | {"metals": [{**r["metals"][0], "paid": float("inf")}]}, "damaged"),
        (lambda r: [], "not a purchase"),
    ],
)
def test_what_is_no_purchase_is_refused(tmp_path, change, problem):
    """With one message that names the file."""
    record = change(buy_record(bought.purchase()))
    (tmp_path / "buy.json").write_text(json.dumps(record), encoding="utf-8")
    with pytest.raises(InputError, match=problem) as caught:
        read_purchase(tmp_path)
    assert "buy.json" in str(caught.value)
