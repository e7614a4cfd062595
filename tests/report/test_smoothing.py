"""Normals for the eye: curves rounded, edges left sharp."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from fixtures import drawn
from prep.geometry.solid import Solid
from prep.report.smoothing import corner_normals


def test_a_box_keeps_its_flat_faces():
    """Edges of 90 degrees are not rounded: every corner has the normal of its face."""
    box = Solid.of(*drawn.box())
    assert corner_normals(box) == pytest.approx(np.repeat(box.triangle_normals[:, None], 3, axis=1), abs=1e-6)


def test_a_ball_is_rounded_as_a_mesh_library_does():
    """Where nothing is sharp the normals are those of the vertices, weighted by angle."""
    ball = Solid.of(*drawn.uv_sphere(10.0, 48, 24))
    # outside route: trimesh 5, Trimesh.vertex_normals, which weighs faces by their angle at the vertex
    mesh = trimesh.Trimesh(ball.vertices, ball.triangles, process=False)
    assert corner_normals(ball) == pytest.approx(mesh.vertex_normals[ball.triangles], abs=2e-6)


def test_a_cylinder_is_round_on_its_side_and_sharp_at_its_rim():
    """Side normals point away from the axis, end normals along it; the rim between them stays."""
    rod = Solid.of(*drawn.prism_ngon(48, 10.0, 20.0))
    normals = corner_normals(rod)
    ends = np.abs(rod.triangle_normals[:, 2]) > 0.5
    assert np.abs(normals[ends][..., 2]) == pytest.approx(1.0, abs=1e-6)
    radial = rod.corners[~ends] * [1.0, 1.0, 0.0]
    assert normals[~ends] == pytest.approx(radial / np.linalg.norm(radial, axis=2, keepdims=True), abs=1e-3)


@pytest.mark.parametrize("scale", [1e-3, 1.0, 1e3])
def test_slivers_have_little_say(scale):
    """A mesh cut into triangles of very different size is rounded as the even one, at any scale."""
    vertices, triangles = drawn.irregular(drawn.uv_sphere(10.0, 24, 12), rounds=3)
    ball = Solid.of(vertices * scale, triangles)
    normals = corner_normals(ball)
    outward = ball.corners / np.linalg.norm(ball.corners, axis=2, keepdims=True)
    # the even mesh is up to 10.5 degrees off the true ball on its facets: half of 360 / 24, and half of 180 / 12
    assert np.einsum("ijk,ijk->ij", normals, outward).min() > np.cos(np.radians(11.0))
