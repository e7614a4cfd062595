"""The distance between two triangles."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from prep.geometry.triangle_gap import nearest_on_triangles, triangle_gaps
from tests.geometry.walled import dense_gap

corners = st.integers(0, 10_000).map(lambda seed: np.random.default_rng(seed).uniform(-1.0, 1.0, (3, 3)))


@settings(max_examples=12, deadline=None)
@given(corners, corners, st.sampled_from([1e-3, 1.0, 1e3]))
def test_gap_agrees_with_dense_points(one: np.ndarray, other: np.ndarray, scale: float) -> None:
    """Triangles that a plane keeps apart are as far apart as their densely taken points."""
    first, second = one[None] * scale, (other + np.array([0.0, 0.0, 2.5]))[None] * scale
    found = triangle_gaps(first, second)
    dense = dense_gap(first, second, 40)
    assert found.distance_mm[0] <= dense * (1.0 + 1e-9)
    assert found.distance_mm[0] == pytest.approx(dense, rel=2e-3)
    assert np.linalg.norm(found.on_first[0] - found.on_second[0]) == pytest.approx(found.distance_mm[0])


def test_triangles_that_share_a_corner_touch() -> None:
    """Triangles that share a corner or an edge are at distance zero, at the point they share."""
    a = np.array([[[0, 0, 0], [1, 0, 0], [0, 1, 0]]], dtype=float)
    b = np.array([[[0, 0, 0], [-1, 0, 1], [0, -1, 1]]], dtype=float)
    found = triangle_gaps(a, b)
    assert found.distance_mm[0] == 0.0
    assert found.on_first[0] == pytest.approx([0, 0, 0])


def test_parallel_edges_meet_in_the_middle_of_their_overlap() -> None:
    """Of all nearest points of two parallel edges the middle ones are given."""
    a = np.array([[[0, 0, 0], [4, 0, 0], [2, -1, 0]]], dtype=float)
    b = np.array([[[1, 1, 0], [3, 1, 0], [2, 2, 0]]], dtype=float)
    found = triangle_gaps(a, b)
    assert found.distance_mm[0] == pytest.approx(1.0)
    assert found.on_first[0] == pytest.approx([2, 0, 0])


def test_triangles_without_area_count_as_segments() -> None:
    """A triangle folded into a segment or a point still has a nearest point."""
    flat = np.array([[[0, 0, 0], [1, 0, 0], [2, 0, 0]], [[1, 1, 1], [1, 1, 1], [1, 1, 1]]], dtype=float)
    query = np.array([[1.5, 1.0, 0.0], [1.0, 1.0, 3.0]])
    assert nearest_on_triangles(query, flat) == pytest.approx(np.array([[1.5, 0, 0], [1, 1, 1]]))
