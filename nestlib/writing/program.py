"""A layout as a machine program: plain ISO 6983 through a template.

What the language itself leaves to the control - units, what I and J count from, the words
for beam, gas and head - comes from the template; moves are G0, G1, G2 and G3 with absolute
X and Y. A full circle is one arc that ends where it starts. Each cut runs from the pierce
point along its lead and its contour; at a joint the beam goes off, and on again behind it.
With the slot in the path, closed contours are run half a slot beside the part; marks are
run on their line. So is a cut that two pieces share: it lies in the middle of its slot, and
whoever keeps half a slot elsewhere, the control keeps none there (G40).
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterable, Iterator, Sequence

import numpy as np

from nestlib.errors import InputError, Problem
from nestlib.geometry.along import Along, chained, cut_stretches, run_out
from nestlib.geometry.arcs import arc_bulge, arc_direction
from nestlib.geometry.beside import beside, place_on
from nestlib.model.contour import Contour, FloatArray
from nestlib.model.layout import Cut, Layout
from nestlib.model.plan import Plan
from nestlib.writing.program_moves import Grid, Move, moves
from nestlib.writing.program_template import ProgramTemplate

#: What a program says at its top while nobody has checked its template.
NOT_READY = (
    "LAYOUT-ORDER DRAWING FOR A POST - NOT A READY PROGRAM",
    "Words for beam, gas, head and pierce are PLACEHOLDERS.",
    "The owner of the machine has to put in the words of its control,",
    "check the whole and try it without the beam before anything is cut.",
)


#: An arc whose chord turns further from the tangent than this, in radians, is no quarter.
_MOST_TURN = math.radians(75)

#: Longer comments are broken: some controls read short lines only.
_COMMENT = 72


def program_files(plan: Plan) -> list[str]:
    """Return the name of the program of each layout: ``sheet-001.nc`` and so on."""
    return [f"sheet-{n:03d}.nc" for n in range(1, len(plan.layouts) + 1)]


def program_text(plan: Plan, number: int, template: ProgramTemplate) -> str:
    """Return the program of one layout.

    Parameters
    ----------
    plan : Plan
        With the cut paths of its layouts.
    number : int
        Index of the layout.
    template : ProgramTemplate
        How it is spelt.

    Returns
    -------
    str
        ASCII, with the line ends of the template.

    Raises
    ------
    InputError
        If a contour leaves no room for a path beside it.
    """
    lines = list(_Speller(plan, number, template).lines())
    if template.line_numbers:
        lines = list(_numbered(lines, template.line_numbers))
    return "".join(line + ("\r\n" if template.line_end == "CRLF" else "\n") for line in lines)


def program_record(plan: Plan, template: ProgramTemplate) -> dict[str, object]:
    """Return what ``plan.json`` says of the programs, so that they can be read again."""
    return {
        "files": program_files(plan),
        "template": template.name,
        "checked_by": template.checked_by,
        "units": template.units,
        "decimals": template.decimals,
        "centres": template.centres,
        "kerf": template.kerf,
        "dwell": template.dwell,
        "words": template.words.model_dump(),
    }


def never_raised(layout: Layout, template: ProgramTemplate) -> Iterator[str]:
    """Say so if the head shall be raised, and the template has no line for that."""
    lifted, lines = sum(cut.lifted for cut in layout.path.cuts), template.lines
    if lifted and not (lines.before_lifted or lines.before_rapid):
        yield (
            f"{lifted} of the rapids cross what may stand up and need the head raised: nothing "
            "in this template raises it (before_lifted)"
        )


def marked_as_failed(text: str, template: ProgramTemplate) -> str:
    """Return a program that says before all else that it must not be cut."""
    first, rest = "", text
    if text.startswith("%"):
        first, rest = text[: text.index("\n") + 1], text[text.index("\n") + 1 :]
    before, after = template.comment
    end = "\r\n" if template.line_end == "CRLF" else "\n"
    return f"{first}{before}NOT VERIFIED - DO NOT CUT{after}{end}{rest}"


def strokes(cut: Cut, slot: float) -> list[tuple[Contour, ...]] | None:
    """Return what the beam runs along from on to off: first the lead, then from joint to joint.

    Parameters
    ----------
    cut : Cut
        From a cut path: closed contours have the waste on their left.
    slot : float
        Width of the slot whose half is kept to the left, in mm; 0 for the contour itself.

    Returns
    -------
    list of tuple of Contour, or None
        One more than the cut has joints; None if there is no room for a path beside it.
    """
    lead, last = cut.lead_in, run_out(cut)
    if slot == 0 or cut.role == "mark" or not cut.contour.closed:
        run = cut_stretches(cut)
    else:
        path = beside(cut.contour, slot / 2)
        if path is None:
            return None
        lead = None if lead is None else _led_to(lead, path)
        run = _stretches_beside(cut, path, slot / 2)
        last = _run_out_beside(cut, path, slot / 2)
    chains: list[tuple[Contour, ...]] = [(stretch,) for stretch in run]
    chains[0] = chains[0] if lead is None else (lead, *chains[0])
    chains[-1] = chains[-1] if last is None else (*chains[-1], last)
    return chains


def _stretches_beside(cut: Cut, path: Contour, half: float) -> list[Contour]:
    """The path beside a contour, from joint to joint: it ends beside where the contour does."""
    if not cut.joints and not cut.end_gap:
        return [path]
    along, whole = Along(path), cut.contour.length
    inner = [at for j in cut.joints for at in (j.at - j.gap / 2, j.at + j.gap / 2)]
    last = [whole - cut.end_gap] if cut.end_gap else []
    marks = [0.0, *(_mark_beside(cut, path, half, at) for at in (*inner, *last))]
    marks += [] if cut.end_gap else [float(along.marks[-1])]
    return [along.stretch(a, b) for a, b in zip(marks[::2], marks[1::2], strict=True)]


def _mark_beside(cut: Cut, path: Contour, half: float, at: float) -> float:
    """How far along the path beside a contour lies what is so far along the contour."""
    points, headings = Along(cut.contour).places(np.array([at]))
    (x, y), heading = points[0].tolist(), float(headings[0])
    return place_on(path, (x - half * math.sin(heading), y + half * math.cos(heading)))


def _led_to(lead: Contour, path: Contour) -> Contour:
    """The lead from its pierce point to the start of the path beside its contour."""
    tangent = arc_direction(path.points[0], path.points[1], float(path.bulges[0]), 0.0)
    return _ended_at(lead, path.points[0], tangent)


def _ended_at(lead: Contour, end: FloatArray, tangent: tuple[float, float]) -> Contour:
    """A lead with another end.

    An arc stays an arc that runs in along the tangent: it turns by twice the angle between
    its chord and the tangent. Out of a corner, around which the path has turned already, it
    goes on smoothly from its straight piece instead.
    """
    bulges = lead.bulges.copy()
    if bulges[-2]:
        knee = lead.points[-2]
        angle = _angle(end - knee, np.array(tangent))
        if abs(angle) > _MOST_TURN and len(lead) > 2:
            angle = _angle(knee - lead.points[-3], end - knee)
        bulges[-2] = arc_bulge(2 * angle)
    return Contour([*lead.points[:-1], end], bulges, closed=False)


def _angle(one: FloatArray, other: FloatArray) -> float:
    """From one direction to another, in radians."""
    (ax, ay), (bx, by) = one.tolist(), other.tolist()
    return math.atan2(ax * by - ay * bx, ax * bx + ay * by)


def _run_out_beside(cut: Cut, path: Contour, half: float) -> Contour | None:
    """The over-cut along the path beside a contour, and the lead out from there."""
    along = Along(path)
    at = _mark_beside(cut, path, half, cut.over_cut) if cut.over_cut else 0.0
    over = along.stretch(0.0, at) if at else None
    if cut.lead_out is None:
        return over
    end = path.points[0] if over is None else over.points[-1]
    heading = along.headings[1][-1] if over is None else along.places(np.array([at]))[1][0]
    back = (-math.cos(heading), -math.sin(heading))
    out = _ended_at(cut.lead_out.reversed(), end, back).reversed()
    return out if over is None else chained(over, out)


class _Speller:
    """Spells one layout."""

    def __init__(self, plan: Plan, number: int, template: ProgramTemplate) -> None:
        self.plan, self.job, self.layout = plan, plan.job, plan.layouts[number]
        self.template = template
        self.grid = Grid(template.units, template.decimals)
        self.fixed = _fixed_names(plan, number, template)
        self.position = (0, 0)

    def lines(self) -> Iterator[str]:
        """The whole program."""
        yield from self._own(self.template.lines.first)
        for text in self._head():
            yield from map(self._comment, textwrap.wrap(_plain(text), _COMMENT))
        yield from self._own(self.template.lines.start)
        for number, cut in enumerate(self.layout.path.cuts, start=1):
            yield from self._cut(number, cut)
        yield from self._own(self.template.lines.end)

    def _head(self) -> Iterator[str]:
        names = self.fixed
        yield from [] if self.template.checked_by else NOT_READY
        if self.template.checked_by:
            yield f"template {self.template.name}, checked by {self.template.checked_by}"
        yield f"{names['title']}, layout {names['layout']}, sheet {names['sheet']}"
        yield f"{names['metal']} {names['thickness']} mm, drawing {names['file']}"
        yield f"units {self.template.units}, I and J {self.template.centres}"
        by_control = self.template.kerf == "by control"
        yield (
            f"slot {names['kerf']}, kept by the control: set half of it as its offset, switched "
            "on and off on the straight end of a lead"
            if by_control
            else f"slot {names['kerf']}, half of it is in the path"
        )
        yield from never_raised(self.layout, self.template)
        if by_control and self.layout.bundles:
            yield "Shared cuts are written without an offset (G40), on the middle of their slot."
        yield from self.plan.cautions
        yield "The maker's instructions, local codes and licensed practice come first."

    def _cut(self, number: int, cut: Cut) -> Iterator[str]:
        part = self.layout.placements[cut.placement].part if cut.of_piece else "sheet"
        mark = cut.role == "mark"
        by_control = self.template.kerf == "by control" and not mark and cut.contour.closed
        run = strokes(cut, 0.0 if by_control else self.job.spacing.kerf)
        if run is None:
            raise InputError(_no_room(part, cut))
        feed = _feed(self.job.machine.mark_feed, self.template) if mark else self.fixed["feed"]
        names = {"number": str(number), "part": _plain(part), "kind": cut.role, "feed": feed}
        yield self._comment(f"{number}: {part}, {cut.role} {cut.index + 1}")
        if cut.role == "shared":
            yield self._comment("shared cut: the beam runs on its line, without an offset")
            yield from ["G40"] if self.template.kerf == "by control" else []
        # Without a lead the beam begins on its path, which may lie beside the contour.
        begin = cut.pierce if cut.lead_in else _point(run[0][0])
        yield from self._rapid(cut, begin)
        yield from self._wait(cut)
        for i, chain in enumerate(run):
            steps = [move for contour in chain for move in moves(contour, self.grid)]
            yield from self._over_joint(steps[0]) if i else []
            yield from self._own(getattr(self.template.lines, "mark" if mark else "cut"), names)
            yield from self._switched_on(cut) if by_control and i == 0 else []
            off = by_control and i == len(run) - 1
            led = off and cut.lead_out is not None
            for k, move in enumerate(steps):
                yield from ["G40"] if led and k == len(steps) - 1 else []
                yield self._move(move) + (f" F{feed}" if k == 0 and feed != "?" else "")
            yield from ["G40"] if off and not led else []
            yield from self._own(self.template.lines.after, names)

    def _wait(self, cut: Cut) -> Iterator[str]:
        """Let the sheet cool, over the pierce point and before the beam goes on."""
        if cut.wait:
            names = {"wait": _dwell(cut.wait, self.template)}
            yield from self._own(self.template.lines.wait, names)

    def _switched_on(self, cut: Cut) -> Iterator[str]:
        """The control's own offset; without a lead there is no straight move to do it on."""
        if cut.lead_in is None:
            yield self._comment("no lead: see whether your control takes G41 on the contour itself")
        yield "G41"

    def _over_joint(self, move: Move) -> Iterator[str]:
        """Over what is left uncut, with the beam off and the head down."""
        self.position = move.start
        yield f"G0 {self._xy(move.start)}"

    def _rapid(self, cut: Cut, begin: tuple[float, float]) -> Iterator[str]:
        """The way to where the beam begins; the head is raised where it has to be."""
        way = [self.grid.point(xy) for xy in (*cut.via, begin)]
        if way == [self.position]:
            return
        lines = self.template.lines
        yield from self._own(lines.before_lifted if cut.lifted else lines.before_rapid)
        for to in way:
            yield f"G0 {self._xy(to)}"
        yield from self._own(lines.after_lifted if cut.lifted else lines.after_rapid)
        self.position = way[-1]

    def _move(self, move: Move) -> str:
        self.position = move.end
        text = f"{move.word} {self._xy(move.end)}"
        if move.centre is None:
            return text
        relative = self.template.centres == "from start"
        x0, y0 = move.start if relative else (0, 0)
        i, j = move.centre[0] - x0, move.centre[1] - y0
        return f"{text} I{self.grid.text(i)} J{self.grid.text(j)}"

    def _xy(self, point: tuple[int, int]) -> str:
        return f"X{self.grid.text(point[0])} Y{self.grid.text(point[1])}"

    def _own(self, lines: Sequence[str], names: dict[str, str] | None = None) -> Iterator[str]:
        """Lines of the template, filled in."""
        known = {"number": "", "part": "", "kind": "", "wait": "0", **self.fixed, **(names or {})}
        for line in lines:
            yield line.format(**known)

    def _comment(self, text: str) -> str:
        before, after = self.template.comment
        return f"{before}{_plain(text)}{after}"


def _point(path: Contour) -> tuple[float, float]:
    """Where a path begins."""
    x, y = path.points[0].tolist()
    return x, y


def _fixed_names(plan: Plan, number: int, template: ProgramTemplate) -> dict[str, str]:
    """What the lines of a template may name, the same for the whole program."""
    job, layout = plan.job, plan.layouts[number]
    row = job.machine.setting(job.metal.material.family, job.metal.thickness)
    scale = 25.4 if template.units == "inch" else 1.0
    return {
        "title": _plain(job.title),
        "layout": str(number + 1),
        "file": f"sheet-{number + 1:03d}.dxf",
        "sheet": _plain(layout.sheet.name),
        "metal": _plain(job.metal.material.title),
        "thickness": f"{job.metal.thickness:g}",
        "power": f"{job.machine.power:g}",
        "gas": row.gas if row else "?",
        "pierce": _dwell(row.pierce, template) if row else "?",
        "feed": _feed(row.feed, template) if row else "?",
        "kerf": f"{job.spacing.kerf / scale:.6g} {template.units}",
        "units_word": template.units_word,
        **template.words.model_dump(),
    }


def _dwell(seconds: float, template: ProgramTemplate) -> str:
    """A time as P counts it in a line that waits."""
    return f"{seconds * (1000 if template.dwell == 'milliseconds' else 1):.6g}"


def _feed(feed: float, template: ProgramTemplate) -> str:
    """A feed per minute; a control's F word may mean something else, so it is in the head."""
    return f"{feed / 25.4:.2f}" if template.units == "inch" else f"{feed:.0f}"


def _plain(text: str) -> str:
    """A text that cannot end a comment or confuse a control."""
    changed = text.translate(str.maketrans("()[]{};%\t\r\n", "<><><>,/   "))
    return "".join(c if c.isascii() and c.isprintable() else "?" for c in changed)


def _numbered(lines: Iterable[str], step: int) -> Iterator[str]:
    """Give every line but % signs and comments its number."""
    number = 0
    for line in lines:
        if line.startswith("%"):
            yield line
        else:
            number += step
            yield f"N{number} {line}"


def _no_room(part: str, cut: Cut) -> Problem:
    x, y = cut.contour.points[0].tolist()
    which = "outer contour" if cut.role == "outer" else f"{cut.role} contour {cut.index + 1}"
    problem = f"{part}: the {which} at ({x:.1f}, {y:.1f}) leaves no room for a path beside it"
    remedy = (
        'Write kerf = "by control" in the template, or open what is narrower than the slot '
        "in the drawing"
    )
    return Problem("", "", problem, remedy)
