"""The report that is measured: as large as it says, whole, and small enough to be sent."""

from __future__ import annotations

import re

import pytest

from benchmarks.report_size import many_layouts
from nestlib.reporting import report_html

LAYOUTS, CONTOURS = 20, 5000


@pytest.fixture(scope="module")
def html():
    """A report of many layouts."""
    files = [f"sheet-{i:03d}.dxf" for i in range(1, LAYOUTS + 1)]
    return report_html(many_layouts(LAYOUTS, CONTOURS), files)


def test_each_contour_is_drawn_once(html):
    """One path for each contour of each piece, and one drawing for each layout."""
    assert len(re.findall(r'<path class="cut ', html)) == CONTOURS
    assert len(re.findall(r'<svg xmlns="', html)) == LAYOUTS


def test_it_can_be_sent_by_mail(html):
    """Under 15 MB, below the limit of 20 MB of many mail servers (common practice, no
    source)."""
    assert len(html.encode()) < 15e6
