"""Pictures of pixels against the areas that shapely measures."""

from __future__ import annotations

from dataclasses import replace
from io import BytesIO

import numpy as np
import shapely
from PIL import Image
from shapely import affinity

from nestlib.reporting import layout_png


def test_a_picture_shows_the_pieces_where_they_lie(plan):
    """Pixels of the arm's colour: as many as two stadiums with a hole, around their middle."""
    layout = replace(plan.layouts[0], placements=plan.layouts[0].placements[:2])
    # The outline of the arm: 80 x 20 with round ends; its hole has radius 4.
    arm = shapely.LineString([(10, 10), (90, 10)]).buffer(10, quad_segs=64)
    arm = arm.difference(shapely.Point(20, 10).buffer(4, quad_segs=64))
    turned = affinity.translate(affinity.rotate(affinity.scale(
        arm, -1, 1, origin=(0, 0)), 90, origin=(0, 0)), 200, 150)  # fmt: skip
    there = affinity.translate(arm, 40, 40).union(turned)
    picture = np.array(Image.open(BytesIO(layout_png(layout, plan.job, 2000))).convert("RGB"))
    # 784 of 800 points are the sheet's 400 mm.
    scale = 784 / 400 * 2000 / 800
    blue = (picture == (0x77, 0xAA, 0xDD)).all(axis=2)
    # Letters, marks and contours cover some of it.
    assert 0.85 < blue.sum() / scale**2 / there.area < 1.0
    rows, columns = np.nonzero(blue)
    x = (columns + 0.5 - 2000 * 8 / 800) / scale
    y = (len(picture) - rows - 0.5 - 2000 * 8 / 800) / scale
    inside = shapely.contains_xy(there.buffer(0.3), x, y)
    assert inside.all()
    assert np.abs([x.mean() - there.centroid.x, y.mean() - there.centroid.y]).max() < 1.0
