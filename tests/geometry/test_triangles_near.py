"""Which triangles come near a point."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from prep.geometry.triangle_gap import nearest_on_triangles
from prep.geometry.triangles_near import TrianglesNear
from tests.geometry.walled import ball, box, solid, without

MIXED = solid(without(box(30, 30, 30), ball(4, 64), box(0.1, 0.1, 40)))


@settings(max_examples=20, deadline=None)
@given(st.tuples(*[st.floats(-18, 18)] * 3), st.floats(0.01, 12))
def test_every_triangle_that_meets_the_ball_is_given(point: tuple[float, float, float], radius: float) -> None:
    """Large and small triangles alike: none that comes within the radius is missed."""
    near = TrianglesNear(MIXED).within(np.array(point), radius)
    corners = MIXED.corners
    away = np.linalg.norm(nearest_on_triangles(np.tile(point, (len(corners), 1)), corners) - point, axis=1)
    assert set(np.flatnonzero(away <= radius)) <= set(near)
    assert np.array_equal(near, np.unique(near))
