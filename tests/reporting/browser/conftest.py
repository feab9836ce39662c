"""One browser, and the report in it."""

from __future__ import annotations

import pytest

from benchmarks.chromium import browser, missing
from nestlib.reporting import report_html
from tests.reporting import replayed
from tests.reporting.browser.tab import FILES, Tab


@pytest.fixture(scope="package")
def chromium():
    """One browser for all of these tests, and gone before those of others: the loop that
    drives it would be in the way of theirs."""
    if missing():
        pytest.skip(missing())
    with browser() as opened:
        yield opened


@pytest.fixture(scope="package")
def plan():
    """Two layouts made by hand."""
    return replayed.plan()


@pytest.fixture(scope="package")
def address(plan, tmp_path_factory):
    """The report as a file, as people open it."""
    path = tmp_path_factory.mktemp("report") / "report.html"
    path.write_text(report_html(plan, FILES), encoding="utf-8")
    return path.as_uri()


@pytest.fixture(scope="package")
def tab(chromium, address):
    """One tab, in which each test opens the report anew."""
    tab = Tab(chromium, address)
    yield tab
    tab.context.close()


@pytest.fixture
def page(tab):
    """The report, its first layout in view."""
    with tab.report() as page:
        page.locator("#sheet-1 .canvas").scroll_into_view_if_needed()
        page.wait_for_selector("#sheet-1 .head-mark", state="attached")
        yield page
        page.emulate_media(media="null")
        page.set_viewport_size({"width": 1280, "height": 900})
