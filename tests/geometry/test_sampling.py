"""Samples of a surface."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import cKDTree

from prep.geometry.creases import creases
from prep.geometry.sampling import sample_inward_corners, sample_inward_creases, sample_surface
from tests.geometry.walled import ball, box, rod, solid, torus, wedge, without

SHAPES = {
    "box": box(30, 20, 2),
    "wedge": wedge(8),
    "fine ball": ball(5, 200),
    "coarse ball": ball(5, 12),
    "ring": torus(8, 1, 48),
    "slivers": rod(40, 3, 160),
}


@settings(max_examples=12, deadline=None)
@given(st.sampled_from(sorted(SHAPES)), st.floats(0.2, 3.0), st.sampled_from([1e-3, 1.0, 1e3]))
def test_no_point_is_farther_than_the_reach(name: str, spacing: float, scale: float) -> None:
    """Every point of the surface has a sample within the stated reach, on a face turned the same way."""
    body = solid(SHAPES[name].scale([scale] * 3))
    samples = sample_surface(body, spacing * scale)
    rng = np.random.default_rng(5)
    rows = rng.choice(len(body.triangles), 3000, p=body.triangle_areas / body.area_mm2)
    share = rng.dirichlet([1, 1, 1], 3000)
    points = np.einsum("ik,ikj->ij", share, body.corners[rows])
    near = cKDTree(samples.point).query_ball_point(points, samples.reach_mm * (1 + 1e-9))
    assert all(
        (samples.normal[some] @ body.triangle_normals[row] > -1e-9).any() for some, row in zip(near, rows, strict=True)
    )
    assert samples.reach_mm <= 1.6 * spacing * scale or name == "slivers"


def test_small_triangles_share_samples() -> None:
    """A surface of far more triangles than cells gets samples by its area, not by its triangles."""
    body = solid(ball(5, 400))
    samples = sample_surface(body, 0.8)
    assert len(samples.point) < 4 * body.area_mm2 / 0.8**2 < len(body.triangles) / 4


def test_inward_crease_is_looked_at_between_its_faces() -> None:
    """The vertical corners of a square hole get samples that look out along the diagonals."""
    body = solid(without(box(20, 20, 4), box(6, 6, 10)))
    samples = sample_inward_creases(body, creases(body, 25.0), 1.0)
    assert len(samples.point) > 0
    assert np.abs(samples.point[:, :2]) == pytest.approx(3.0)
    assert (np.einsum("ij,ij->i", samples.normal[:, :2], samples.point[:, :2]) < 0).all()
    one = samples.normal[(samples.point[:, 0] > 0) & (samples.point[:, 1] > 0)]
    turned = np.unique(np.degrees(np.arctan2(-one[:, 1], -one[:, 0])).round(6))
    assert np.diff([0.0, *turned, 90.0]).max() <= 20.0


def test_drilled_tip_is_looked_at() -> None:
    """The tip of a conical pocket gets one sample looking along its axis; a box's outer corners get none."""
    body = solid(without(box(20, 20, 10), rod(6, 3, 32, 0).translate([0, 0, -2])))
    samples = sample_inward_corners(body)
    assert samples.point == pytest.approx(np.array([[0, 0, 1.0]]))
    assert samples.normal == pytest.approx(np.array([[0, 0, -1.0]]))
    assert len(sample_inward_corners(solid(box(1, 2, 3))).point) == 0
