"""Progress of a run of jobs: a table that changes in place, or lines where nobody looks on.

On a terminal each job has a row: how long it has taken and may still take, what is placed,
on how many sheets, how much of them is used, what they cost, how far that is from what no
plan can beat, and how the use has grown. A pipe or a file gets the lines of `ProgressLine`.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from typing import TextIO

from rich import box
from rich.console import Console, JustifyMethod
from rich.live import Live
from rich.table import Table
from rich.text import Text

from nestlib.model import Plan, Progress
from nestlib.reporting.progress_line import ProgressLine
from nestlib.reporting.screen import add_row
from nestlib.reporting.sparkline import sparkline
from nestlib.reporting.texts import plain

#: The table is drawn again that often, in seconds.
_EVERY = 0.1

#: Rows that are shown of those that are done or under way; characters of a trend.
_ROWS, _TREND = 8, 6

#: Smaller changes of the use are not seen in the column of its share.
_SEEN = 5e-4

#: Columns besides the name of the job, and how wide they are: they fit in 80 characters.
_COLUMNS = {
    "Time": 5, "Left": 5, "Placed": 9, "Sheets": 6, "Used": 7, "Cost": 9, "Gap": 6, "Trend": _TREND
}  # fmt: skip

#: No wider than this, however wide the terminal is.
_WIDEST = 100


@dataclass
class _Row:
    """What is known of a job."""

    title: str
    began: float = 0.0
    ended: float | None = None
    phase: str = ""
    latest: Progress = field(default_factory=lambda: Progress(0.0, ""))
    trend: list[float] = field(default_factory=list)

    def learn(self, told: Progress) -> None:
        """Take over what is said; figures that are not said are as they were.

        Where other pieces are wanted, another search has begun, and its figures are its own.
        """
        self.phase = told.phase
        if told.wanted != self.latest.wanted:
            self.latest, self.trend = Progress(0.0, ""), []
        if told.utilisation is None:
            placed = max(told.placed, self.latest.placed)
            told = replace(
                self.latest, seconds=told.seconds, phase=told.phase, placed=placed,
                wanted=told.wanted, left=told.left,
            )  # fmt: skip
        elif not self.trend or abs(told.utilisation - self.trend[-1]) > _SEEN:
            self.trend.append(told.utilisation)
        self.latest = told


class ProgressTable:
    """Shows `Progress` of several jobs on the standard error stream.

    Parameters
    ----------
    titles : sequence of str
        Of the jobs, in the order in which they are done.
    quiet : bool
        Whether to show nothing.
    stream : text file, optional
        Where to write; standard error by default.
    console : rich.console.Console, optional
        Where to draw the table, instead of on the stream.

    Examples
    --------
    >>> import io
    >>> stream = io.StringIO()
    >>> with ProgressTable(["frame"], stream=stream) as table, table.job() as told:
    ...     told(Progress(0.0, "placing", 0.5, 2, 3, 10, cost=25.0, gap=0.1))
    >>> stream.getvalue()
    'frame:    0.0 s · placing · 3 of 10 placed · 2 sheets, 50.0% used · cost 25.00 · 10.0% above the bound\\n'
    """  # noqa: E501

    def __init__(
        self,
        titles: Sequence[str],
        *,
        quiet: bool = False,
        stream: TextIO | None = None,
        console: Console | None = None,
    ) -> None:
        self._stream, self._quiet = stream or sys.stderr, quiet
        self._rows = [_Row(plain(title)) for title in titles]
        # Who wants colours in a pipe gets them of rich, but a table would be in the way there.
        self._watched = console is not None or self._stream.isatty()
        self._begun = 0
        self._drawn = 0.0
        self._console = console or Console(
            file=self._stream, markup=False, emoji=False, highlight=False
        )
        self._live: Live | None = None

    @property
    def live(self) -> bool:
        """Whether it is a table that changes, and not a log."""
        return self._watched and self._console.is_terminal and not self._console.is_dumb_terminal

    def __enter__(self) -> ProgressTable:
        if self.live and not self._quiet:
            # No thread draws it: workers may be forked at any time.
            self._live = Live(
                self._table(),
                console=self._console,
                auto_refresh=False,
                redirect_stdout=False,
            )
            self._live.start()
        return self

    def __exit__(self, *_: object) -> None:
        if self._live is not None:
            self._draw()
            self._live.stop()
            self._console.print()

    @contextmanager
    def job(self) -> Iterator[ProgressLine | _LiveRow]:
        """Show the next job for as long as the context lasts; yields what is told."""
        row = self._rows[self._begun]
        self._begun += 1
        row.began = time.monotonic()
        if self._live is None:
            with ProgressLine(row.title, quiet=self._quiet, stream=self._stream) as line:
                yield line
            return
        try:
            yield _LiveRow(self, row)
        finally:
            row.ended = time.monotonic()
            self._draw()

    def _draw(self) -> None:
        if self._live is not None:
            self._drawn = time.monotonic()
            self._live.update(self._table(), refresh=True)

    def changed(self, row: _Row, told: Progress) -> None:
        """Draw what is told of a row, unless it was drawn just now."""
        new = told.phase != row.phase
        row.learn(told)
        if new or time.monotonic() - self._drawn >= _EVERY:
            self._draw()

    def _table(self) -> Table:
        wide = min(self._console.width, _WIDEST)
        table = Table(box=box.SIMPLE_HEAD, show_edge=False, padding=0, width=wide)
        table.add_column("Job", no_wrap=True, overflow="ellipsis", ratio=1)
        for name, width in _COLUMNS.items():
            justify: JustifyMethod = "left" if name == "Trend" else "right"
            table.add_column(name, width=width, justify=justify, no_wrap=True)
        begun = self._rows[: self._begun]
        for row in begun[-_ROWS:]:
            add_row(table, *_cells(row, self._trend(row)))
        table.caption, table.caption_justify = Text(self._below(begun)), "left"
        return table

    def _below(self, begun: Sequence[_Row]) -> str:
        """What is being done, and how many jobs have no row."""
        now = [row.phase for row in begun[-1:] if row.ended is None and row.phase]
        left, earlier = len(self._rows) - len(begun), len(begun[:-_ROWS])
        more = [f"{n} {words}" for n, words in ((earlier, "done before"), (left, "to come")) if n]
        return plain(" · ".join([*now, *more]))

    def _trend(self, row: _Row) -> str:
        """The trend, where the terminal can show it."""
        shown = "utf" in self._console.encoding.lower()
        return sparkline(row.trend, _TREND) if shown else ""


class _LiveRow:
    """What a job tells of itself; called as `ProgressLine` is."""

    live = True

    def __init__(self, table: ProgressTable, row: _Row) -> None:
        self._table, self._row = table, row

    def __call__(self, progress: Progress) -> None:
        """Show a glance."""
        self._table.changed(self._row, progress)

    def phase(self, words: str) -> None:
        """Say what is being done after the search."""
        row = self._row
        placed, wanted = row.latest.placed, row.latest.wanted
        seconds = time.monotonic() - row.began
        self._table.changed(row, Progress(seconds, words, placed=placed, wanted=wanted))

    def result(self, plan: Plan) -> None:
        """Show what has come out."""
        cost, placed = plan.cost, sum(plan.placed.values())
        gap = plan.bound.gap(plan.sheets_used, cost, sum(u.quantity for u in plan.unplaced))
        wanted = sum(part.quantity for part in plan.job.parts)
        told = Progress(
            plan.seconds, "done", plan.utilisation, plan.sheets_used, placed, wanted,
            cost=cost, gap=gap,
        )  # fmt: skip
        self._table.changed(self._row, told)


def _cells(row: _Row, trend: str) -> tuple[str, ...]:
    told = row.latest
    seconds = (row.ended or time.monotonic()) - row.began
    used = "" if told.utilisation is None else f"{100 * told.utilisation:.1f} %"
    left = "" if told.left is None or row.ended is not None else _clock(told.left)
    return (
        row.title,
        _clock(seconds),
        left,
        f"{told.placed}/{told.wanted}" if told.wanted else "",
        "" if told.sheets is None else str(told.sheets),
        used,
        "" if told.cost is None else f"{told.cost:.2f}",
        "" if told.gap is None else f"{100 * told.gap:.1f} %",
        trend,
    )


def _clock(seconds: float) -> str:
    """Minutes and seconds, as on a clock."""
    whole = int(seconds)
    return f"{whole // 60}:{whole % 60:02d}"
