"""How large a report of many layouts is, and how fast a browser opens and replays it.

The layouts are made without nesting: plates with four holes on a grid, each contour with a
lead-in, names and sizes different from layout to layout. What is timed is the browser
alone: from the call to the second frame after loading, and a step of the first layout's
replay, in which several cuts end, up to the next frame.
"""

from __future__ import annotations

import tempfile
import time
from pathlib import Path

import click
import numpy as np

from benchmarks.chromium import browser, missing
from nestlib.costing import work
from nestlib.geometry import placed
from nestlib.metals import machine, metal
from nestlib.model import (
    Bound,
    Contour,
    Cut,
    CutPath,
    Job,
    Layout,
    Part,
    Placement,
    Plan,
    Sheet,
    Spacing,
)
from nestlib.reporting import report_html

#: Contours of a plate: its outline and its holes.
_EACH = 5

_FATES = ("stays", "tips", "drops")


def many_layouts(layouts: int, contours: int) -> Plan:
    """Return a plan made by rule.

    Parameters
    ----------
    layouts : int
        How many.
    contours : int
        On all of them; each has a whole number of plates of five.
    """
    plates = contours // layouts // _EACH
    parts = tuple(_plate(i, plates) for i in range(layouts))
    sheet = Sheet("sheet", Contour.rectangle(3000, 1500), cost=100.0)
    steel = metal("mild-steel", "3 mm")
    job = Job("Many layouts", parts, (sheet,), steel, machine("co2-400"), Spacing(0.2, 3, 10))
    laid = tuple(_layout(part, sheet, plates) for part in parts)
    plan = Plan(job, laid, (), Bound(layouts, 100.0 * layouts, "by rule"))
    return Plan(job, laid, (), plan.bound, work=work(plan))


def _plate(number: int, quantity: int) -> Part:
    """A plate with rounded corners and a hole in each, no two of the same size."""
    width, corner = 120.0 + number, np.tan(np.pi / 8)
    outline = Contour(
        [(10, 0), (width - 10, 0), (width, 10), (width, 90), (width - 10, 100), (10, 100),
         (0, 90), (0, 10)],
        [0, corner, 0, corner, 0, corner, 0, corner],
    )  # fmt: skip
    middles = [(x, y) for x in (20.0, width - 20) for y in (20.0, 80.0)]
    holes = tuple(Contour.circle(middle, 6).reversed() for middle in middles)
    return Part(f"plate {number + 1}", outline, holes, quantity=quantity)


def _layout(part: Part, sheet: Sheet, plates: int) -> Layout:
    across = 2900 // 150
    spots = [(20 + 150 * (i % across), 20 + 120 * (i // across)) for i in range(plates)]
    placements = tuple(Placement(part.name, 0, False, x, y) for x, y in spots)
    cuts = tuple(c for i, p in enumerate(placements) for c in _cuts(part, i, p))
    return Layout(sheet, placements, path=CutPath(cuts))


def _cuts(part: Part, number: int, placement: Placement) -> list[Cut]:
    """Holes first, each contour from the waste."""
    fate = _FATES[number % len(_FATES)]
    cuts = []
    for i, hole in enumerate(part.inners):
        contour = placed(hole, placement)
        cuts.append(Cut(number, "inner", i, contour, _lead(contour, (-4, 0)), fate="drops"))
    contour = placed(part.outer, placement)
    return [*cuts, Cut(number, "outer", 0, contour, _lead(contour, (0, -4)), fate=fate)]


def _lead(contour: Contour, away: tuple[float, float]) -> Contour:
    start = contour.points[0]
    return Contour([start + np.array(away), start], closed=False)


#: Steps of the replay over which the time of a frame is averaged.
_STEPS = 100

_STEP = """async (steps) => {
  const slider = document.querySelector("input[type=range]");
  const frame = () => new Promise((done) => requestAnimationFrame(done));
  const began = performance.now();
  for (let i = 1; i <= steps; i += 1) {
    slider.value = (slider.max * i) / steps;
    slider.dispatchEvent(new Event("input"));
    await frame();
  }
  return (performance.now() - began) / steps;
}"""


def seconds_to_open(path: Path) -> tuple[float, float]:
    """Return the s in which a browser opens and draws a file, and the ms of a step of replay."""
    with browser() as opened:
        page = opened.new_page(viewport={"width": 1280, "height": 900})
        page.goto("about:blank")
        began = time.perf_counter()
        page.goto(path.as_uri())
        page.evaluate(
            "() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))"
        )
        opening = time.perf_counter() - began
        page.locator("section.layout .canvas").first.scroll_into_view_if_needed()
        page.wait_for_selector(".head-mark", state="attached")
        return opening, float(page.evaluate(_STEP, _STEPS))


@click.command("report-size")
@click.option("--layouts", default=20, show_default=True, help="How many.")
@click.option("--contours", default=5000, show_default=True, help="On all of them.")
@click.option("--times", default=3, show_default=True, help="How often it is opened.")
def command(layouts: int, contours: int, times: int) -> None:
    """Measure the size of a large report, and how fast a browser opens it.

    Example: python -m benchmarks report-size --layouts 20 --contours 5000
    """
    files = [f"sheet-{i:03d}.dxf" for i in range(1, layouts + 1)]
    html = report_html(many_layouts(layouts, contours), files)
    click.echo(f"{layouts} layouts, {contours} contours: {len(html.encode()) / 1e6:.1f} MB")
    if missing():
        raise click.ClickException(f"{missing()}, so it is not opened")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "report.html"
        path.write_text(html, encoding="utf-8")
        for _ in range(times):
            opening, step = seconds_to_open(path)
            click.echo(f"opened in {opening:.2f} s, a step of the replay {step:.0f} ms")
