"""`nestlib check --picture`: what is wrong is marked on the drawing where it is."""

from __future__ import annotations

import json
from pathlib import Path
from xml.etree import ElementTree

import pytest

from fixtures import plain_dxf as dxf
from tests.command import nestlib

SVG = "{http://www.w3.org/2000/svg}"

#: A plate of 300 x 200 mm whose left side lacks the 50 mm from y 100 to y 150.
GAP = dxf.polyline([(0, 150), (0, 200), (300, 200), (300, 0), (0, 0), (0, 100)], closed=False)


@pytest.mark.parametrize("json_wanted", [True, False])
def test_the_ends_of_a_gap_are_marked(json_wanted: bool, tmp_path: Path) -> None:
    """By hand: the 200 mm of the plate's height are 688 pixels, below a border of 36; so the ends
    are drawn 50 and 100 mm below that, at the left edge."""
    (tmp_path / "plate.dxf").write_text(dxf.dxf(GAP), encoding="utf-8")
    options = ["--json"] if json_wanted else []
    result = nestlib(tmp_path, "check", "plate.dxf", "--picture", *options)
    assert result.exit_code == 1
    if json_wanted:
        assert json.loads(result.stdout)[0]["picture"] == "plate.dxf.check.svg"
    assert "Drew plate.dxf.check.svg" in result.stderr
    tree = ElementTree.parse(tmp_path / "plate.dxf.check.svg")
    dots = [c for c in tree.iter(f"{SVG}circle") if c.get("cx")]
    spots = sorted((float(c.get("cx")), float(c.get("cy"))) for c in dots)
    scale = 688 / 200
    expected = [(36, 36 + 50 * scale), (36, 36 + 100 * scale)]
    assert [c for spot in spots for c in spot] == pytest.approx(
        [c for spot in expected for c in spot], abs=0.1
    )
    text = " ".join(" ".join(tree.getroot().itertext()).split())
    assert "50 mm apart" in text
    assert "Draw the missing line" in text
