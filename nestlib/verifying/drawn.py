"""What a layout's DXF file shows, sorted by the roles of its layers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import ezdxf
import numpy as np
from ezdxf.entities.circle import Circle
from ezdxf.entities.dxfentity import DXFEntity
from ezdxf.entities.lwpolyline import LWPolyline
from ezdxf.entities.polyline import Polyline
from ezdxf.lldxf.const import DXFError

from nestlib.errors import InputError, Problem
from nestlib.model import Contour
from nestlib.verifying.curves import Curve

#: A coordinate beyond this is a mistake, in mm.
_LARGEST = 1e9

_MILLIMETRES = 4


@dataclass(frozen=True)
class DrawnLayout:
    """The contours of one DXF file.

    Parameters
    ----------
    file : str
        Name of the file.
    curves : dict of str to list of Curve
        Role -> what is drawn on its layer.
    foreign : tuple of str
        What lies on those layers but is no contour, or cannot be used.
    millimetres : bool
        Whether the file says that its unit is the millimetre.
    """

    file: str
    curves: dict[str, list[Curve]] = field(default_factory=dict)
    foreign: tuple[str, ...] = ()
    millimetres: bool = True


def read_drawn(path: Path, layers: Mapping[str, str]) -> DrawnLayout:
    """Read the contours that lie on a plan's layers.

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
        document = ezdxf.readfile(path)  # type: ignore[attr-defined]
    except (OSError, DXFError, ValueError, UnicodeError, AttributeError, KeyError, IndexError) as e:
        problem = Problem(str(path), "", f"the layout cannot be read: {e}", "Write the plan again")
        raise InputError(problem) from e
    roles = {name.upper(): role for role, name in layers.items()}
    curves: dict[str, list[Curve]] = {role: [] for role in layers}
    foreign = []
    for entity in document.modelspace():
        role = roles.get(str(entity.dxf.layer).upper())
        if role is None:
            continue
        contour = _contour(entity)
        if contour is None:
            foreign.append(f"{entity.dxftype()} {entity.dxf.handle} on layer {entity.dxf.layer}")
        else:
            curves[role].append(Curve.of(contour))
    units = document.header.get("$INSUNITS", 0)
    return DrawnLayout(path.name, curves, tuple(foreign), units == _MILLIMETRES)


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
