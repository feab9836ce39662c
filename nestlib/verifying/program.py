"""What a machine program does, read from its text alone.

Understood is what ISO 6983 and its relatives share: G0 to G3 in one plane with absolute or
incremental X and Y, centres by I and J or radii by R, G4, G17, G40 to G42, units by G20 or
G70 (inch) and G21 or G71 (mm), work offsets that stay as they are, comments in brackets or
after a semicolon, % signs, N words. Words that switch the beam are told by the plan, and may be
placeholders without a number; words of the machine (F, S, P, D, H, Z and other M words)
move nothing here.

What the beam does is a list of strokes: from where it is switched on to where it is
switched off.

References
----------
ISO 6983-1:2009; NISTIR 6556 (RS274/NGC, 2000), section 3.5.3, for arcs: their radii at both
ends may differ by 0.002 mm (from memory).
"""

from __future__ import annotations

import cmath
import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from nestlib.errors import InputError, Problem
from nestlib.verifying.curves import Curve

#: Greatest difference of an arc's radii at both ends, in mm.
_RADII = 0.002

_INCH = 25.4
_COMMENT = re.compile(r"\([^()]*\)|;.*")
_WORD = re.compile(r"\s*([A-Za-z])\s*([+-]?(?:\d+\.?\d*|\.\d+))")
_PLACEHOLDER = re.compile(r"\s*([A-Z]+_[A-Z_]+)(?![A-Z0-9])")
_REMEDY = "Write the program again, or correct the line"

#: G words that change nothing that is read here.
_IDLE = {"4", "17", "40", "54", "55", "56", "57", "58", "59", "64", "61", "94"}


@dataclass(frozen=True)
class Dialect:
    """What a program cannot say itself.

    Parameters
    ----------
    beam_on, mark_on, beam_off : str
        Words that switch the beam.
    absolute_centres : bool
        Whether I and J are coordinates; else they count from the start of the arc.
    """

    beam_on: str = "M3"
    mark_on: str = "M4"
    beam_off: str = "M5"
    absolute_centres: bool = False

    @property
    def words(self) -> tuple[str, str, str]:
        """All words that switch the beam; some may be placeholders without a number."""
        return self.beam_on, self.mark_on, self.beam_off


@dataclass(frozen=True, eq=False)
class Stroke:
    """One way of the beam, from on to off.

    Parameters
    ----------
    path : Curve
        In mm.
    word : str
        The word that switched the beam on.
    side : str
        ``"left"`` or ``"right"`` of which the control keeps half a slot; empty for neither.
    line : int
        Where in the file it begins.
    way : tuple of complex
        Where the head went before it with the beam off, in mm.
    waited : float
        What the dwells before it count together, in the control's unit.
    """

    path: Curve
    word: str
    side: str
    line: int
    way: tuple[complex, ...] = ()
    waited: float = 0.0


@dataclass
class _State:
    """Where the head is, and what holds until it is changed."""

    dialect: Dialect
    file: str
    here: complex = 0j
    scale: float | None = None
    incremental: bool = False
    move: str = ""
    side: str = ""
    beam: str = ""
    begun: int = 0
    begun_side: str = ""
    rows: list[tuple[complex, complex, float]] = field(default_factory=list)
    way: list[complex] = field(default_factory=list)
    waited: float = 0.0
    strokes: list[Stroke] = field(default_factory=list)
    line: int = 0

    def wrong(self, problem: str, remedy: str = _REMEDY) -> InputError:
        """Return the error that says what is wrong with this line."""
        return InputError(Problem(self.file, f"line {self.line}", problem, remedy))


def interpret(text: str, dialect: Dialect, file: str = "program") -> tuple[Stroke, ...]:
    """Return what a program does with the beam.

    Parameters
    ----------
    text : str
        The whole program.
    dialect : Dialect
        What it cannot say itself.
    file : str
        Its name, for messages.

    Returns
    -------
    tuple of Stroke
        In the order of the program.

    Raises
    ------
    InputError
        At the first line that cannot be understood, or that would burn where nothing should.

    Examples
    --------
    >>> (stroke,) = interpret("G21 G90\\nG0 X1 Y2\\nM3\\nG1 X4\\nM5", Dialect())
    >>> stroke.path.start.tolist(), stroke.path.end.tolist()
    ([(1+2j)], [(4+2j)])
    """
    state = _State(dialect, file)
    for number, line in enumerate(text.splitlines(), start=1):
        state.line = number
        words = _words(line, state)
        _settings(words, state)
        _dwell(words, state)
        _switch(words, state, (dialect.beam_on, dialect.mark_on))
        _motion(words, state)
        _switch(words, state, (dialect.beam_off,))
        if _ends(words):
            break
    if state.beam:
        raise state.wrong("the program ends with the beam on")
    return tuple(state.strokes)


def _words(line: str, state: _State) -> list[tuple[str, str]]:
    """Letters and numbers of a line, without comments; numbers spelt the shortest way."""
    bare = _COMMENT.sub(" ", line).strip()
    if bare.startswith("%"):
        return []
    if "(" in bare or ")" in bare:
        raise state.wrong("a comment is not closed, or was never opened")
    found, at = [], 0
    while at < len(bare):
        named = _PLACEHOLDER.match(bare, at)
        match = named or _WORD.match(bare, at)
        if match is None or (named and named[1] not in state.dialect.words):
            raise state.wrong(f'"{bare[at : at + 20]}" is no word of a program')
        found.append((match[1].upper(), "0" if named else match[2]))
        at = match.end() + len(bare[match.end() :]) - len(bare[match.end() :].lstrip())
    return found


def _codes(words: list[tuple[str, str]], letter: str) -> list[str]:
    """Numbers of all words of one letter, as "3" or "90.1"."""
    return [f"{float(n):g}" for found, n in words if found == letter]


def _settings(words: list[tuple[str, str]], state: _State) -> None:
    """Everything that holds until it is changed."""
    for code in _codes(words, "G"):
        if code in ("0", "1", "2", "3"):
            state.move = code
        elif code in ("20", "70"):
            state.scale = _INCH
        elif code in ("21", "71"):
            state.scale = 1.0
        elif code in ("90", "91"):
            state.incremental = code == "91"
        elif code in ("41", "42"):
            state.side = "left" if code == "41" else "right"
            state.begun_side = state.side if state.beam and not state.rows else state.begun_side
        elif code not in _IDLE:
            raise state.wrong(f"G{code} is not understood, so nobody can say what it moves")
        if code == "40":
            state.side = ""


def _dwell(words: list[tuple[str, str]], state: _State) -> None:
    """Count how long the head waits before the beam goes on."""
    if "4" in _codes(words, "G") and not state.beam:
        state.waited += sum(float(number) for letter, number in words if letter == "P")


def _switch(words: list[tuple[str, str]], state: _State, wanted: tuple[str, ...]) -> None:
    """Switch the beam, if one of the words does."""
    for letter, number in words:
        word = letter if letter in wanted else f"{letter}{float(number):g}"
        if word not in wanted:
            continue
        if word == state.dialect.beam_off:
            _finish(state)
        elif state.beam:
            raise state.wrong("the beam is switched on and was on before")
        else:
            state.beam, state.begun, state.begun_side = word, state.line, state.side


def _finish(state: _State) -> None:
    """The beam goes off: what it did is a stroke, if it moved at all."""
    if state.beam and not state.rows:
        raise state.wrong("the beam is switched on and off without a move")
    if state.rows:
        start, end, bulge = (np.array(column) for column in zip(*state.rows, strict=True))
        path = Curve(start, end, bulge, False)
        way, waited = tuple(state.way), state.waited
        stroke = Stroke(path, state.beam, state.begun_side, state.begun, way, waited)
        state.strokes.append(stroke)
        state.way, state.waited = [], 0.0
    state.rows, state.beam = [], ""


def _motion(words: list[tuple[str, str]], state: _State) -> None:
    """Move, if the line has a place to go to."""
    places = {letter: float(number) for letter, number in words if letter in "XYIJR"}
    if not places:
        return
    if _codes(words, "G") and set(_codes(words, "G")) & {"4"}:
        raise state.wrong("a dwell with a place to go to is not understood")
    if state.scale is None:
        raise state.wrong("the head moves before the units are said", "Put G21 or G20 first")
    if not state.move:
        raise state.wrong("the head moves before G0, G1, G2 or G3 is said")
    target = _target(places, state)
    if state.move in ("2", "3"):
        segments = list(_arc(places, target, state))
    else:
        if places.keys() & {"I", "J", "R"}:
            raise state.wrong("a straight move has a centre or a radius")
        segments = [(state.here, target, 0.0)]
    if state.beam:
        if state.move == "0":
            raise state.wrong("a rapid is run with the beam on")
        state.rows += [s for s in segments if s[0] != s[1] or s[2]]
    elif state.here != target:
        state.way.append(target)
    state.here = target


def _target(places: dict[str, float], state: _State) -> complex:
    scale, here = state.scale or 1.0, state.here
    if state.incremental:
        return here + scale * complex(places.get("X", 0.0), places.get("Y", 0.0))
    x = scale * places["X"] if "X" in places else here.real
    y = scale * places["Y"] if "Y" in places else here.imag
    return complex(x, y)


def _arc(
    places: dict[str, float], target: complex, state: _State
) -> Iterator[tuple[complex, complex, float]]:
    """An arc as one segment, or as two for half a turn and more."""
    here, sign = state.here, -1.0 if state.move == "2" else 1.0
    centre = _centre(places, target, state, sign)
    radius, other = abs(here - centre), abs(target - centre)
    if abs(radius - other) > _RADII:
        text = f"the radii of an arc differ by {abs(radius - other):.4f} mm at its ends"
        raise state.wrong(text)
    if min(radius, other) < 1e-9:
        raise state.wrong("an arc has no radius")
    turn = 2 * math.pi
    if here != target:
        turn = sign * cmath.phase((target - centre) / (here - centre)) % (2 * math.pi)
    pieces = 2 if turn > 3 else 1
    bulge = sign * math.tan(turn / pieces / 4)
    middle = centre + (here - centre) * cmath.exp(1j * sign * turn / 2)
    yield from (
        [(here, target, bulge)]
        if pieces == 1
        else [
            (here, middle, bulge),
            (middle, target, bulge),
        ]
    )


def _centre(places: dict[str, float], target: complex, state: _State, sign: float) -> complex:
    scale, here = state.scale or 1.0, state.here
    if "R" in places:
        return _centre_by_radius(scale * places["R"], target, state, sign)
    if not places.keys() & {"I", "J"}:
        raise state.wrong("an arc has neither I and J nor R")
    if not state.dialect.absolute_centres:
        return here + scale * complex(places.get("I", 0.0), places.get("J", 0.0))
    i = scale * places["I"] if "I" in places else here.real
    j = scale * places["J"] if "J" in places else here.imag
    return complex(i, j)


def _centre_by_radius(radius: float, target: complex, state: _State, sign: float) -> complex:
    """A positive R is the arc of half a turn at most, a negative one the other."""
    chord = target - state.here
    if chord == 0:
        raise state.wrong("a full circle cannot be given by R")
    square = radius**2 - abs(chord) ** 2 / 4
    if square < -_RADII * abs(radius):
        raise state.wrong("the ends of an arc are farther apart than twice its R")
    height = math.sqrt(max(0.0, square)) * math.copysign(1.0, radius) * sign
    return (state.here + target) / 2 + 1j * chord / abs(chord) * height


def _ends(words: list[tuple[str, str]]) -> bool:
    return bool(set(_codes(words, "M")) & {"2", "30"})
