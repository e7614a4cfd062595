"""Which surface of a finished part is new."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fixtures import drawn
from prep.geometry.solid import Solid, subtract, unite
from prep.report.changed import changed_triangles


def cut_box(depth=4.0, scale=1.0, sides=32):
    """A box of 20 with a round pocket of radius 3 cut into its top, and the box."""
    vertices, triangles = drawn.box((20.0, 20.0, 10.0))
    cutter, faces = drawn.prism_ngon(sides, 3.0, 20.0)
    before = Solid.of(vertices * scale, triangles)
    return before, subtract(before, [Solid.of((cutter + np.array([1.0, 2.0, 5.0 - depth])) * scale, faces)])


@settings(max_examples=12, deadline=None)
@given(st.floats(0.5, 9.0), st.sampled_from([1e-3, 1.0, 1e3]))
def test_the_new_surface_is_the_wall_and_floor_of_the_pocket(depth, scale):
    """Area of what is new: n-sided wall and floor; the face around the mouth, though cut anew, is not new."""
    before, after = cut_box(depth, scale)
    new = after.triangle_areas[changed_triangles(before, after)].sum()
    # closed form of an inscribed 32-gon of radius 3
    floor = 32 / 2 * np.sin(2 * np.pi / 32) * 9.0
    wall = 32 * 2 * np.sin(np.pi / 32) * 3.0 * depth
    assert new == pytest.approx((floor + wall) * scale**2, rel=1e-6)


def test_nothing_is_new_where_nothing_was_done():
    """The same triangles in another order, and the very same solid, have nothing new."""
    mesh = drawn.torus(20.0, 5.0, 32, 16)
    before = Solid.of(*mesh)
    assert not changed_triangles(before, before).any()
    assert not changed_triangles(before, Solid.of(*drawn.shuffled(mesh))).any()
    assert not changed_triangles(before, Solid.of(*drawn.subdivided(mesh))).any()


def test_what_is_added_is_new_too():
    """A boss on a box is new, all of it that stands free."""
    box = Solid.of(*drawn.box((20.0, 20.0, 10.0)))
    boss = Solid.of(*drawn.box((4.0, 4.0, 6.0), (0.0, 0.0, 6.0)))
    after = unite([box, boss])
    assert after.triangle_areas[changed_triangles(box, after)].sum() == pytest.approx(4 * 4 * 4.0 + 16.0, rel=1e-9)
