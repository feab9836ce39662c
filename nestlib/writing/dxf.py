"""A layout as a DXF file that a cutting machine's programmer can open.

What is written are the exact contours: circles as CIRCLE, everything else as one
polyline with bulges, in full floating-point precision. Contours stay whole; what is left
uncut of them lies as a piece of the contour on the layer of the joints, and what is cut
beyond their start, over-cut and lead-out, on a layer of its own. Rapids are
dashed, and dotted where the head is lifted. Of pieces that share cuts the outer contours lie
on a layer of their own, which is not to be cut: the shared cuts, with the beam on their
line, and the way around all of them, with the slot outside, take their place. Every
contour, label, lead and joint carries extended data under the application name ``NESTLIB``:
role, placement, index.

References
----------
DXF Reference: LWPOLYLINE and POLYLINE (bulge, group code 42), CIRCLE, HEADER
($INSUNITS 4 is millimetres, $MEASUREMENT 1 is metric).
"""

from __future__ import annotations

import io
import threading
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from itertools import pairwise
from pathlib import Path
from typing import Literal

import ezdxf
from ezdxf.document import Drawing as Document
from ezdxf.entities.dxfgfx import DXFGraphic
from ezdxf.enums import TextEntityAlignment
from ezdxf.layouts.layout import Modelspace

from nestlib.geometry.along import joint_contours, run_out
from nestlib.geometry.transform import placed
from nestlib.model.contour import Contour
from nestlib.model.job import Job
from nestlib.model.layout import Layout
from nestlib.model.part import Part
from nestlib.writing.failures import writing_to
from nestlib.writing.labels import Label, dxf_text, part_label
from nestlib.writing.layers import LAYERS

Version = Literal["R12", "R2010"]

#: Name under which entities carry extended data.
APPLICATION = "NESTLIB"

_ORDER_HEIGHT = 2.5
_TITLE_HEIGHT = 20.0
_META_DATA = threading.Lock()


def write_layout(
    layout: Layout, job: Job, path: str | Path, *, version: Version = "R2010", title: str = ""
) -> None:
    """Write one layout as a DXF file.

    The same layout gives the same bytes each time: no date and no random number is
    written.

    Parameters
    ----------
    layout : Layout
        Parts placed on a sheet; its cut path decides the order of the entities and
        where each contour starts.
    job : Job
        Holds the parts.
    path : str or Path
        The file; one that exists is replaced.
    version : {"R2010", "R12"}
        DXF version.
    title : str
        A line of text below the sheet; none if empty.

    Raises
    ------
    OutputError
        If the file cannot be written.
    ValueError
        If the version is not one of the two.
    """
    if version not in ("R12", "R2010"):
        raise ValueError(f"a layout is written as R12 or R2010, not {version}")
    data = layout_bytes(layout, job, version=version, title=title)
    with writing_to(Path(path)):
        Path(path).write_bytes(data)


def layout_bytes(layout: Layout, job: Job, *, version: Version = "R2010", title: str = "") -> bytes:
    """Return the DXF file of one layout; parameters as in `write_layout`."""
    with _fixed_meta_data():
        document = _new_document(version)
        _Drawer(document.modelspace(), version).layout(layout, job, title)
        _show_whole_sheet(document, layout)
        stream = io.StringIO()
        document.write(stream)
    text = stream.getvalue()
    return document.encode(_with_units(text) if version == "R12" else text)


def _show_whole_sheet(document: Document, layout: Layout) -> None:
    """Let viewers open the drawing on the sheet, not on nothing."""
    x0, y0, x1, y1 = layout.sheet.outline.bounds
    document.header["$EXTMIN"], document.header["$EXTMAX"] = (x0, y0, 0), (x1, y1, 0)
    document.modelspace().reset_extents((x0, y0, 0), (x1, y1, 0))
    document.set_modelspace_vport(1.1 * (y1 - y0), ((x0 + x1) / 2, (y0 + y1) / 2))


class _Drawer:
    """Draws on one modelspace in the entities of one DXF version."""

    def __init__(self, space: Modelspace, version: Version) -> None:
        self.space = space
        self.version = version

    def layout(self, layout: Layout, job: Job, title: str) -> None:
        """Draw everything, from the sheet to the order of the cuts."""
        self.sheet(layout, title)
        for key, contour in contours(layout, job):
            self.contour(contour, key[0], _tags(*key))
        self.order(layout)
        labels: dict[str, Label] = {}
        for number, placement in enumerate(layout.placements):
            if placement.part not in labels:
                labels[placement.part] = part_label(job.part(placement.part))
            label = labels[placement.part].on_sheet(placement)
            self.text(label, "label", _tags("label", number, 0))

    def sheet(self, layout: Layout, title: str) -> None:
        """Draw outline, holes and keep-out zones, and the remnants with their names."""
        sheet = layout.sheet
        for contour in (sheet.outline, *sheet.holes):
            self.contour(contour, "sheet")
        for contour in sheet.keep_outs:
            self.contour(contour, "keep_out")
        for remnant in layout.remnants:
            self.contour(remnant.outline, "remnant")
            self.text(part_label(Part(remnant.name, remnant.outline)), "label")
        if title:
            x0, y0, x1, _ = sheet.outline.bounds
            below = y0 - 2 * _TITLE_HEIGHT
            self.text(Label(dxf_text(title), (x0 + x1) / 2, below, _TITLE_HEIGHT), "label")

    def order(self, layout: Layout) -> None:
        """Draw leads, joints, the number of each cut and the rapids between them."""
        for number, (cut, way) in enumerate(layout.path.rapids, start=1):
            for here, there in pairwise(way):
                if here != there:
                    rapid = self.space.add_line(here, there, self._style("order"))
                    rapid.dxf.linetype = "DOTTED" if cut.lifted else "DASHED"
            for contour in joint_contours(cut):
                self.contour(contour, "joint", _tags("joint", cut.placement, cut.index))
            if cut.lead_in is not None:
                self.contour(cut.lead_in, "lead", _tags("lead", cut.placement, cut.index))
            last = run_out(cut)
            if last is not None:
                self.contour(last, "lead_out", _tags("lead_out", cut.placement, cut.index))
            self.text(Label(str(number), *cut.pierce, _ORDER_HEIGHT), "order")

    def contour(self, contour: Contour, role: str, tags: Iterable[tuple[int, object]] = ()) -> None:
        """Draw one contour on its role's layer."""
        entity = self._curve(contour, self._style(role))
        if tags:
            entity.set_xdata(APPLICATION, tags)

    def _curve(self, contour: Contour, style: dict[str, object]) -> DXFGraphic:
        if contour.is_circle:
            (x0, y0), (x1, y1) = contour.points.tolist()
            radius = ((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5 / 2
            return self.space.add_circle(((x0 + x1) / 2, (y0 + y1) / 2), radius, style)
        vertices = [
            (x, y, bulge)
            for (x, y), bulge in zip(contour.points.tolist(), contour.bulges.tolist(), strict=True)
        ]
        if self.version == "R12":
            return self.space.add_polyline2d(
                vertices, format="xyb", close=contour.closed, dxfattribs=style
            )
        return self.space.add_lwpolyline(
            vertices, format="xyb", close=contour.closed, dxfattribs=style
        )

    def text(self, label: Label, role: str, tags: Iterable[tuple[int, object]] = ()) -> None:
        """Draw a line of text, centred on its point."""
        text = self.space.add_text(label.text, height=label.height, dxfattribs=self._style(role))
        text.set_placement((label.x, label.y), align=TextEntityAlignment.MIDDLE_CENTER)
        if tags:
            text.set_xdata(APPLICATION, tags)

    @staticmethod
    def _style(role: str) -> dict[str, object]:
        return {"layer": LAYERS[role].name}


def contours(layout: Layout, job: Job) -> Iterator[tuple[tuple[str, int, int], Contour]]:
    """Return every contour of a layout, those of the cut path first and in its order.

    Parameters
    ----------
    layout : Layout
        With or without a cut path.
    job : Job
        Holds the parts.

    Yields
    ------
    key : (str, int, int)
        Role, index of the placement, index among the part's contours of that role.
    contour : Contour
        Where it lies on the sheet.
    """
    done = {(c.role, c.placement, c.index): c.contour for c in layout.path.cuts}
    sharing = {number for cut in layout.path.cuts for number in cut.pieces}
    yield from done.items()
    for number, placement in enumerate(layout.placements):
        part = job.part(placement.part)
        for role, group in (("mark", part.marks), ("inner", part.inners), ("outer", (part.outer,))):
            for index, contour in enumerate(group):
                if (role, number, index) not in done:
                    shown = "bundled" if role == "outer" and number in sharing else role
                    yield (shown, number, index), placed(contour, placement)


def _tags(role: str, placement: int, index: int) -> list[tuple[int, object]]:
    return [(1000, role), (1071, placement), (1071, index)]


def _new_document(version: Version) -> Document:
    document = Document.new(version)
    document.header["$MEASUREMENT"] = 1
    if version != "R12":
        document.units = 4
    document.appids.add(APPLICATION)
    document.linetypes.add("DASHED", pattern=[15.0, 10.0, -5.0], description="Dashed __ __ __")
    document.linetypes.add("DOTTED", pattern=[5.0, 1.0, -4.0], description="Dotted . . . . .")
    for layer in LAYERS.values():
        document.layers.add(layer.name, color=layer.colour, linetype=layer.linetype)
    return document


@contextmanager
def _fixed_meta_data() -> Iterator[None]:
    """Keep dates and random numbers out of the file; the switch is one for all threads."""
    with _META_DATA:
        options = ezdxf.options  # type: ignore[attr-defined]
        before = options.write_fixed_meta_data_for_testing
        options.write_fixed_meta_data_for_testing = True
        try:
            yield
        finally:
            options.write_fixed_meta_data_for_testing = before


def _with_units(text: str) -> str:
    """Add millimetres and metric to the header of an R12 text, where ezdxf drops them."""
    # $ACADVER has to stay the first variable: readers choose the version by it.
    end = text.index("  9\n", text.index("$ACADVER"))
    return text[:end] + "  9\n$INSUNITS\n 70\n4\n  9\n$MEASUREMENT\n 70\n1\n" + text[end:]
