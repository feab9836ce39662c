"""The report in a tab of a browser, and where things are in it."""

from __future__ import annotations

import re
from contextlib import contextmanager

FILES = ["sheet-001.dxf", "sheet-002.dxf"]


class Tab:
    """A page, what it asked for and what it said."""

    def __init__(self, chromium, address, **options):
        self.context = chromium.new_context(viewport={"width": 1280, "height": 900}, **options)
        self.context.route("**/*", self._answer)
        self.page, self.address, self.asked, self.said = self.context.new_page(), address, [], []
        self.page.on("console", lambda message: self.said.append(message.text))
        self.page.on("pageerror", lambda error: self.said.append(str(error)))
        self.page.on("dialog", self._dismiss)

    def _answer(self, route):
        self.asked.append(route.request.url)
        if route.request.url == self.address:
            route.continue_()
        else:
            route.abort()

    def _dismiss(self, dialog):
        self.said.append(dialog.message)
        dialog.dismiss()

    @contextmanager
    def report(self):
        """The page, which must ask for nothing but its own file and say nothing."""
        self.asked.clear()
        self.page.goto(self.address)
        yield self.page
        assert self.asked == [self.address]
        assert self.said == []


@contextmanager
def opened(chromium, address, **options):
    """The report in a tab of its own."""
    tab = Tab(chromium, address, **options)
    try:
        with tab.report() as page:
            yield page
    finally:
        tab.context.close()


def view_box(page):
    """What of the first sheet is shown: left, top, width, height in mm."""
    return [float(v) for v in page.locator("#sheet-1 .canvas svg").get_attribute("viewBox").split()]


def control(page, name):
    """The control of that name beside the first sheet."""
    return page.locator(f'#sheet-1 [data-control="{name}"]')


def head(page):
    """Where the head is drawn, in mm of the sheet."""
    text = page.locator("#sheet-1 .head-mark").get_attribute("transform")
    x, y = (float(v) for v in re.findall(r"-?[\d.]+(?:e-?\d+)?", text))
    left, top = (
        float(page.locator("#sheet-1 .canvas svg").get_attribute(f"data-{side}"))
        for side in ("left", "top")
    )
    return x + left, top - y


def seek(page, seconds):
    """Move the slider of the first sheet to a time, exactly."""
    page.locator("#sheet-1 input[type=range]").evaluate(
        "(slider, at) => { slider.step = 'any'; slider.value = at;"
        " slider.dispatchEvent(new Event('input')); }",
        seconds,
    )
