"""A parallel view: what is in the frame, and that places and pixels agree."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fixtures import drawn
from prep.geometry.solid import Solid
from prep.report.camera import Camera, axes_seen_from

directions = st.tuples(*[st.floats(-1.0, 1.0)] * 3).filter(lambda v: float(np.dot(v, v)) > 0.05)


@settings(max_examples=40, deadline=None)
@given(directions, st.sampled_from([1e-3, 1.0, 1e3]))
def test_all_of_a_solid_is_in_the_frame(seen_from, scale):
    """From every side, at every scale, the solid reaches the margin of the frame and does not pass it."""
    vertices, triangles = drawn.box((30.0, 7.0, 12.0), (100.0, -40.0, 9.0))
    solid = Solid.of(vertices * scale, triangles)
    camera = Camera.fitted([solid], np.array(seen_from), width=300, height=200, margin=0.1)
    spots = camera.pixels(solid.vertices)
    low, high = spots.min(axis=0), spots.max(axis=0)
    assert (low > 19.99).all()
    assert (high < [280.01, 180.01]).all()
    assert low[0] == pytest.approx(20.0, abs=0.01) or low[1] == pytest.approx(20.0, abs=0.01)


@settings(max_examples=40, deadline=None)
@given(directions, st.floats(0.0, 300.0), st.floats(0.0, 200.0))
def test_a_ray_starts_over_the_pixel_it_is_for(seen_from, column, row):
    """A place along a ray is seen where the ray began, and the ray begins before the solid."""
    solid = Solid.of(*drawn.box())
    camera = Camera.fitted([solid], np.array(seen_from), width=300, height=200)
    origin = camera.origins(np.array([column]), np.array([row]))
    assert camera.pixels(origin - 3.0 * camera.out)[0] == pytest.approx([column, row], abs=1e-6)
    assert float((origin[0] - solid.vertices.max(axis=0)) @ camera.out) > -1e9
    assert ((solid.vertices - origin[0]) @ camera.out < 0.0).all()


@settings(max_examples=40, deadline=None)
@given(directions)
def test_the_axes_are_right_handed_and_unit(seen_from):
    """Right x up = out, all unit, and the z axis never hangs downward."""
    right, up, out = axes_seen_from(np.array(seen_from))
    assert np.cross(right, up) == pytest.approx(out, abs=1e-12)
    assert np.linalg.norm(right) == pytest.approx(1.0)
    assert up[2] >= -1e-12


def test_from_above_y_is_up():
    """Seen from above, x runs right and y up, as on a plan."""
    right, up, _ = axes_seen_from(np.array([0.0, 0.0, 5.0]))
    assert right == pytest.approx([1.0, 0.0, 0.0])
    assert up == pytest.approx([0.0, 1.0, 0.0])
