"""`mitred`: boxes, balls and edges in closed form."""

from __future__ import annotations

import manifold3d
import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from fixtures.drawn import box, ico_sphere, turned
from prep.geometry.mitre import corner_moves, mitred
from prep.geometry.solid import Solid


def test_box_stays_a_box():
    """A box of 30 x 20 x 10 mm grown by 1 mm is one of 32 x 22 x 12: the mitred wall is 2448 mm3."""
    grown = mitred(Solid.of(*box((30.0, 20.0, 10.0))), 1.0)
    assert trimesh.Trimesh(grown.vertices, grown.triangles).volume == pytest.approx(6000.0 + 2448.0)


@settings(max_examples=20, deadline=None)
@given(
    size=st.tuples(*[st.floats(1.0, 50.0)] * 3),
    by=st.floats(0.01, 0.3),
    angle=st.floats(0.0, 180.0),
    scale=st.sampled_from([1e-3, 1.0, 1e3]),
)
def test_turned_boxes(size, by, angle, scale):
    """Turned anyhow and at any scale, every face moves out by the offset."""
    solid = Solid.of(*turned(box(tuple(scale * side for side in size)), (1.0, 2.0, 3.0), angle))
    a, b, c = (side + 2.0 * by for side in size)
    assert mitred(solid, by * scale).volume_mm3 == pytest.approx(a * b * c * scale**3, rel=1e-6)


def test_ball():
    """A fine ball's corners move straight out, by very nearly the offset."""
    ball = Solid.of(*ico_sphere(10.0, 4))
    radius = np.linalg.norm(mitred(ball, 0.1).vertices, axis=1)
    assert radius == pytest.approx(10.1, abs=1e-3)


def test_inner_corner():
    """In a step's inner corner both faces keep their distance."""
    step = manifold3d.Manifold.cube([20, 10, 5]) + manifold3d.Manifold.cube([8, 10, 12])
    mesh = step.to_mesh64()
    solid = Solid.of(np.array(mesh.vert_properties)[:, :3], np.array(mesh.tri_verts))
    grown = mitred(solid, 0.5)
    inner = np.flatnonzero(np.isclose(solid.vertices[:, 0], 8.0) & np.isclose(solid.vertices[:, 2], 5.0))
    assert len(inner) >= 2
    assert grown.vertices[inner][:, [0, 2]] == pytest.approx(np.tile([8.5, 5.5], (len(inner), 1)))


def test_needle_is_blunted():
    """A corner sharper than the limit moves no farther than three offsets."""
    needle = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [0.3, 0.3, 40.0]])
    solid = Solid.of(needle, np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]]))
    assert np.linalg.norm(corner_moves(solid), axis=1).max() <= 3.0 + 1e-9


def test_nothing_to_do():
    """An offset of nothing hands back the solid itself."""
    solid = Solid.of(*box((1.0, 1.0, 1.0)))
    assert mitred(solid, 0.0) is solid
