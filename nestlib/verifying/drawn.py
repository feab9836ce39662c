"""What a layout's DXF file shows, sorted by the roles of its layers."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import ezdxf
import numpy as np
from ezdxf.document import Drawing as Document
from ezdxf.entities.circle import Circle
from ezdxf.entities.dxfentity import DXFEntity
from ezdxf.entities.insert import Insert
from ezdxf.entities.line import Line
from ezdxf.entities.lwpolyline import LWPolyline
from ezdxf.entities.polyline import Polyline
from ezdxf.entities.text import Text
from ezdxf.lldxf.const import DXFError

from nestlib.errors import InputError, Problem
from nestlib.model import Contour
from nestlib.verifying.curves import Curve
from nestlib.verifying.written import ROLES

#: A coordinate beyond this is a mistake, in mm.
_LARGEST = 1e9

_MILLIMETRES = 4


#: What one misses when reading a file that is damaged, besides `DXFError` and `OSError`.
_DAMAGE = (ValueError, AttributeError, LookupError, TypeError, ArithmeticError, RecursionError)


@dataclass(frozen=True)
class DrawnLayout:
    """The content of one DXF file.

    Parameters
    ----------
    file : str
        Name of the file.
    curves : dict of str to list of Curve
        Role -> what is drawn on its layer.
    numbers : list of (str, complex)
        Texts on the layer of the cutting order, and where they stand.
    rapids : list of (complex, complex)
        Lines on that layer.
    faults : tuple of (str, str)
        What has no place in such a file: codes of violations, and messages.
    """

    file: str
    curves: dict[str, list[Curve]] = field(default_factory=dict)
    numbers: list[tuple[str, complex]] = field(default_factory=list)
    rapids: list[tuple[complex, complex]] = field(default_factory=list)
    faults: tuple[tuple[str, str], ...] = ()

    @property
    def outers(self) -> list[Curve]:
        """Outer contours of all pieces, those that share cuts last."""
        return [*self.curves["outer"], *self.curves["bundled"]]


def read_drawn(path: Path, layers: Mapping[str, str]) -> DrawnLayout:
    """Read what a layout's file shows, wherever it lies in it.

    Parameters
    ----------
    path : Path
        A DXF file of any version that a layout is written in.
    layers : mapping of str to str
        Role -> name of the layer.

    Returns
    -------
    DrawnLayout

    Raises
    ------
    InputError
        If the file cannot be read.
    """
    try:
        return _read(path, layers)
    except OSError as error:
        what = f"the layout cannot be read ({error.strerror or 'it is no DXF file'})"
    except (DXFError, *_DAMAGE):
        what = "the layout is damaged, or no DXF file"
    raise InputError(Problem(str(path), "", what, "Write the plan again"))


def _read(path: Path, layers: Mapping[str, str]) -> DrawnLayout:
    document = ezdxf.readfile(path)  # type: ignore[attr-defined]
    roles = {name.upper(): role for role, name in layers.items()}
    drawn = DrawnLayout(path.name, {role: [] for role in ROLES})
    faults = [*_hidden_layers(document, layers), *_paper(document)]
    for entity in document.modelspace():
        fault = _sort(entity, roles.get(str(entity.dxf.layer).upper()), drawn)
        if fault is not None:
            code, problem = fault
            faults.append((code, f"{_named(entity)} {problem}"))
        if entity.dxf.get("invisible", 0):
            faults.append(("hidden", f"{_named(entity)} cannot be seen, but a machine may cut it"))
    if document.header.get("$INSUNITS", 0) != _MILLIMETRES:
        faults.append(("unit-missing", "the file does not say that its unit is mm"))
    return replace(drawn, faults=tuple(faults))


def _sort(entity: DXFEntity, role: str | None, drawn: DrawnLayout) -> tuple[str, str] | None:
    """Put an entity where it belongs; return code and problem if it belongs nowhere."""
    if isinstance(entity, Insert):
        return "block-reference", "shows a block: what is in it is not checked, and may be cut"
    if role is None:
        return "unknown-layer", "lies on a layer that the plan does not name: a machine may cut it"
    if role == "label":
        return None if isinstance(entity, Text) else ("not-a-label", "is no text")
    if role == "order":
        return _order(entity, drawn)
    contour = _contour(entity)
    if contour is None:
        return "not-a-contour", "is no contour that can be checked"
    drawn.curves[role].append(Curve.of(contour))
    return None


def _order(entity: DXFEntity, drawn: DrawnLayout) -> tuple[str, str] | None:
    if isinstance(entity, Text) and entity.dxf.get("extrusion", (0, 0, 1)) == (0, 0, 1):
        place = entity.get_placement()[1]
        drawn.numbers.append((entity.dxf.text, complex(place.x, place.y)))
    elif isinstance(entity, Line):
        start, end = entity.dxf.start, entity.dxf.end
        drawn.rapids.append((complex(start.x, start.y), complex(end.x, end.y)))
    else:
        return "not-a-rapid", "is neither the number of a cut nor a straight rapid"
    return None


def _hidden_layers(document: Document, layers: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    for name in layers.values():
        if name in document.layers:
            layer = document.layers.get(name)
            if layer.is_off() or layer.is_frozen():
                yield "hidden", f"the layer {name} is off or frozen: nobody sees what lies on it"


def _paper(document: Document) -> Iterator[tuple[str, str]]:
    for layout in document.layouts:
        if not layout.is_modelspace:
            for entity in layout:
                # A window to the model space draws nothing of its own.
                if entity.dxftype() != "VIEWPORT":
                    yield "paper-space", f"{_named(entity)} lies in the paper space {layout.name}"


def _named(entity: DXFEntity) -> str:
    return f"{entity.dxftype()} {entity.dxf.handle} on layer {entity.dxf.get('layer', '0')}"


def _contour(entity: DXFEntity) -> Contour | None:
    """The contour that an entity draws, None if it draws none that can be used."""
    if entity.dxf.get("extrusion", (0, 0, 1)) != (0, 0, 1):
        return None
    if isinstance(entity, Circle):
        x, y, _ = entity.dxf.center
        return _checked([(x + entity.dxf.radius, y, 1.0), (x - entity.dxf.radius, y, 1.0)], True)
    if isinstance(entity, LWPolyline):
        return _checked(entity.get_points("xyb"), entity.closed)
    if isinstance(entity, Polyline) and entity.is_2d_polyline:
        vertices = [
            (v.dxf.location.x, v.dxf.location.y, v.dxf.get("bulge", 0.0)) for v in entity.vertices
        ]
        return _checked(vertices, entity.is_closed)
    return None


def _checked(vertices: Sequence[Sequence[float]], closed: bool) -> Contour | None:
    rows = np.array(vertices, dtype=np.float64).reshape(-1, 3)
    if len(rows) < 2 or not np.all(np.abs(rows) <= _LARGEST):
        return None
    return Contour(rows[:, :2], rows[:, 2], closed)
