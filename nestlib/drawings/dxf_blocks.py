"""Walks through a DXF drawing and all the blocks in it, down to single entities.

On the way it is settled what an entity inherits (layer and linetype), where it lies, and
whether it is drawn at all.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from ezdxf.document import Drawing as Document
from ezdxf.xclip import XClip

from nestlib.drawings.expansion import MOST, unfolded
from nestlib.drawings.rules import Rules
from nestlib.drawings.sketch import Notes, Style
from nestlib.errors import DrawingError, Problem
from nestlib.model.contour import FloatArray

TEXTS = {"TEXT", "MTEXT", "ATTRIB", "SHAPE"}
TEXT_REASON = "text is never cut; convert it to curves to have it etched"

_MODEL = "*model space*"
_DEEPEST = 100


@dataclass(frozen=True)
class Found:
    """One entity, ready to be drawn.

    Parameters
    ----------
    entity : ezdxf entity
        As it stands in the file.
    style : Style
        With what it inherits.
    matrix : ndarray, shape (4, 4)
        From its surroundings to the drawing.
    mark : bool
        Whether it is etched.
    """

    entity: Any
    style: Style
    matrix: FloatArray
    mark: bool


class Walk:
    """One walk through a document.

    Parameters
    ----------
    document : ezdxf document
        Read and audited.
    scale : float
        Millimetres in one unit of the drawing.
    rules : Rules
        What is cut, etched or ignored.
    notes : Notes
        Takes what is noticed.
    file : str
        Named in messages.
    """

    def __init__(
        self, document: Document, scale: float, rules: Rules, notes: Notes, file: str
    ) -> None:
        self._document, self._rules, self._notes, self._file = document, rules, notes, file
        self._scale = np.diag([scale, scale, scale, 1.0])
        self._layers = {layer.dxf.name.lower(): layer for layer in document.layers}
        self._barred = self._check_size()

    def __iter__(self) -> Iterator[Found]:
        """Go through everything that is drawn, in the order of the file."""
        yield from self._walk(self._document.modelspace(), self._scale, Style("", "0", ""), 0)

    def _walk(
        self, entities: Any, matrix: FloatArray, around: Style, depth: int
    ) -> Iterator[Found]:
        for entity in entities:
            if not entity.is_alive or entity.dxftype() in ("ATTDEF", "SEQEND", "VERTEX"):
                continue
            style = self._style(entity, around)
            if self._hidden(entity, style):
                continue
            if style.kind in TEXTS:
                self._notes.leave_out(style.kind, style.layer, TEXT_REASON)
                self._notes.repeat("text-not-cut", f"{style.kind} is not cut", None, style)
                continue
            rule = self._rules.first(style)
            if rule is not None and rule.action == "ignore":
                self._notes.leave_out(style.kind, style.layer, str(rule))
            elif style.kind == "INSERT":
                yield from self._insert(entity, matrix, style, depth)
            elif style.kind == "MLINE":
                yield from self._walk(entity.virtual_entities(), matrix, style, depth)
            else:
                yield Found(entity, style, matrix, rule is not None and rule.action == "mark")

    def _style(self, entity: Any, around: Style) -> Style:
        """Layer 0 inside a block is the layer of the block; BYBLOCK is its linetype."""
        layer = _readable(_attribute(entity, "layer", "0"))
        if layer == "0":
            layer = around.layer
        linetype = _readable(_attribute(entity, "linetype", "BYLAYER")).upper()
        if linetype == "BYBLOCK":
            linetype = around.linetype
        if linetype in ("BYLAYER", ""):
            known = self._layers.get(layer.lower())
            linetype = _readable(known.dxf.get("linetype", "")) if known else ""
        handle = str(_attribute(entity, "handle", "") or around.handle)
        return Style(entity.dxftype(), layer, linetype.upper() or "CONTINUOUS", handle)

    def _hidden(self, entity: Any, style: Style) -> bool:
        """Whether an entity is not shown; if so, note it."""
        layer = self._layers.get(style.layer.lower())
        why = ""
        if layer is not None and layer.is_frozen():
            why = "layer is frozen"
        elif layer is not None and layer.is_off() and style.kind != "INSERT":
            why = "layer is off"
        elif _attribute(entity, "invisible", 0):
            why = "entity is invisible"
        if why:
            self._notes.leave_out(style.kind, style.layer, why)
            if "layer" in why:
                self._notes.repeat("hidden-layer", f"not cut, because its {why}", None, style)
        return bool(why)

    def _insert(self, insert: Any, matrix: FloatArray, style: Style, depth: int) -> Iterator[Found]:
        self._notes.leave_out("ATTRIB", style.layer, TEXT_REASON, len(insert.attribs))
        name = insert.dxf.get("name") or ""
        block = self._document.blocks.get(name) if name else None
        if block is None:
            message = f'the block "{_readable(name)}" does not exist'
            self._notes.repeat("missing-block", message, None, style)
            return
        if block.block_record.is_xref:
            message = f'the block "{_readable(name)}" is kept in another file'
            self._notes.repeat("external-reference", message, None, style)
            return
        if block.name.lower() in self._barred:
            return
        if depth >= _DEEPEST:
            problem = f"blocks are nested more than {_DEEPEST} deep"
            raise DrawingError(Problem(self._file, "", problem, "Explode the blocks"))
        if insert.has_extension_dict and XClip(insert).has_clipping_path:
            self._notes.repeat(
                "clipped-block", "the clipping of a block was not applied", None, style
            )
        for placed in _placements(insert):
            yield from self._walk(block, placed @ matrix, style, depth + 1)

    def _check_size(self) -> set[str]:
        """Refuse drawings that unfold to far too much; return blocks that hold themselves."""
        plain: dict[str, int] = {}
        references: dict[str, list[tuple[str, int]]] = {}
        spaces: list[tuple[str, Any]] = [(_MODEL, self._document.modelspace())]
        spaces += [(b.name.lower(), b) for b in self._document.blocks]
        names = {b.name.lower(): b.name for b in self._document.blocks}
        for name, space in spaces:
            plain[name], references[name] = _contents(space)
        barred: set[str] = set()
        while True:
            try:
                total = unfolded(_MODEL, plain, references)
                break
            except RecursionError as error:
                name = str(error)
                barred.add(name)
                self._notes.add("recursive-block", f'the block "{name}" contains itself')
                for inner in references.values():
                    inner[:] = [(n, times) for n, times in inner if n != name]
        if total > MOST:
            most = [(unfolded(n, plain, references) * k, n) for n, k in references[_MODEL]]
            worst = names.get(max(most)[1], "") if most else ""
            block = f'with the block "{worst}" ' if worst else ""
            problem = f"{block}it unfolds to {total} entities, and {MOST} is the limit"
            remedy = "Check the arrays of blocks in the drawing"
            raise DrawingError(Problem(self._file, "", problem, remedy))
        return barred


def _contents(space: Any) -> tuple[int, list[tuple[str, int]]]:
    """How many plain entities a space holds, and which blocks how often."""
    plain = 0
    inserts: Counter[str] = Counter()
    for entity in space:
        if entity.dxftype() == "INSERT":
            inserts[str(entity.dxf.get("name", "")).lower()] += _columns(entity) * _rows(entity)
        else:
            plain += 1
    return plain, list(inserts.items())


def _columns(insert: Any) -> int:
    return max(int(insert.dxf.column_count), 1) if insert.dxf.column_spacing else 1


def _rows(insert: Any) -> int:
    return max(int(insert.dxf.row_count), 1) if insert.dxf.row_spacing else 1


def _placements(insert: Any) -> Iterator[FloatArray]:
    """Matrices of all the places of a block reference, which may be an array.

    The grid turns with the reference, but is not scaled.
    """
    base = np.array(list(insert.matrix44()), dtype=np.float64).reshape(4, 4)
    ocs = insert.ocs()
    turn = np.radians(float(insert.dxf.rotation))
    for row in range(_rows(insert)):
        for column in range(_columns(insert)):
            x, y = column * insert.dxf.column_spacing, row * insert.dxf.row_spacing
            step = (x * np.cos(turn) - y * np.sin(turn), x * np.sin(turn) + y * np.cos(turn), 0)
            moved = base.copy()
            moved[3, :3] += np.array(ocs.to_wcs(step).xyz if (x or y) else (0.0, 0.0, 0.0))
            yield moved


def _attribute(entity: Any, name: str, default: object) -> object:
    """An attribute, even of an entity of an unknown kind, which has none."""
    return entity.dxf.get(name, default) if entity.dxf.is_supported(name) else default


def _readable(text: object) -> str:
    """Text without bytes that could not be decoded."""
    return str(text).encode("utf-8", "replace").decode("utf-8")
