"""`Nearest`: the nearest point of a surface."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from fixtures.drawn import blob, box, scaled
from prep.geometry.distance import Nearest
from prep.geometry.solid import Solid


def test_distance_to_a_box_in_closed_form() -> None:
    """Inside, beside, over an edge and over a corner of a box, the distance is Pythagoras'."""
    found = Nearest.of(Solid.of(*box())).query(
        np.array([[0.0, 0, 0], [3.0, 0, 0], [8.0, 0, 0], [8.0, 9.0, 0], [6.0, 7.0, 7.0], [5.0, 1.0, 1.0]])
    )
    assert found.distance_mm == pytest.approx([5.0, 2.0, 3.0, 5.0, 3.0, 0.0])
    assert found.point[2] == pytest.approx([5.0, 0.0, 0.0])
    assert found.point[4] == pytest.approx([5.0, 5.0, 5.0])


def test_the_triangle_named_holds_the_point() -> None:
    """The nearest point lies in the plane of the triangle named, at the distance told."""
    one = Solid.of(*blob(3))
    points = np.random.default_rng(1).normal(size=(200, 3)) * 10.0
    found = Nearest.of(one).query(points)
    corner = one.vertices[one.triangles[found.triangle, 0]]
    height = np.einsum("ij,ij->i", one.triangle_normals[found.triangle], found.point - corner)
    assert np.abs(height).max() < 1e-9
    assert np.linalg.norm(points - found.point, axis=1) == pytest.approx(found.distance_mm)


@settings(max_examples=6, deadline=None)
@given(seed=st.integers(0, 99), scale=st.sampled_from([1e-3, 1.0, 1e3]))
def test_distances_agree_with_another_library(seed, scale) -> None:
    """Distances to a random lump are trimesh's, at every scale."""
    one = Solid.of(*scaled(blob(seed, subdivisions=2), scale))
    points = np.random.default_rng(seed).normal(size=(30, 3)) * 8.0 * scale
    other = trimesh.Trimesh(one.vertices, one.triangles, process=False)
    _, distance, _ = trimesh.proximity.closest_point_naive(other, points)
    assert Nearest.of(one).query(points).distance_mm == pytest.approx(distance, rel=1e-7, abs=1e-9 * scale)


def test_no_points_give_no_answers() -> None:
    """An empty query is answered empty."""
    found = Nearest.of(Solid.of(*box())).query(np.empty((0, 3)))
    assert len(found.distance_mm) == len(found.triangle) == len(found.point) == 0
