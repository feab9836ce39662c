"""Numbers and contours as JSON has them."""

from __future__ import annotations

import math
from typing import Any

from nestlib.model.contour import Contour


def number(value: float | None) -> float | None:
    """Return a finite number, or None."""
    return float(value) if value is not None and math.isfinite(value) else None


def contour_record(contour: Contour) -> dict[str, Any]:
    """Return a contour: its vertices and their bulges."""
    return {
        "points": contour.points.tolist(),
        "bulges": contour.bulges.tolist(),
        "closed": contour.closed,
    }
