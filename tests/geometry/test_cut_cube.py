"""Cubes cut by planes."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from prep.geometry.cut_cube import cut_cubes


def one(size, level, normal):
    """Volume and moment of one cut cube."""
    way = np.array([normal], dtype=float) / np.linalg.norm(normal)
    volume, moment = cut_cubes(size, np.array([level]), way)
    return volume[0], moment[0]


def test_a_plane_square_to_an_axis_cuts_exactly():
    """A level plane leaves a slab, to the last digit, whichever way it looks."""
    for axis in range(3):
        for sign in (-1, 1):
            normal = sign * np.eye(3)[axis]
            volume, moment = one(2.0, 0.3, normal)
            assert volume == pytest.approx(4 * 1.3, rel=1e-14)
            assert moment == pytest.approx(4 * 1.3 * normal * 0.35, abs=1e-14)


def test_a_diagonal_plane_halves_and_a_corner_is_a_tetrahedron():
    """Through the middle every plane halves the cube; near a corner it leaves a tetrahedron."""
    diagonal = np.ones(3) / np.sqrt(3)
    assert one(2.0, 0.0, diagonal)[0] == pytest.approx(4.0, rel=1e-12)
    leg = 0.8  # corner (1, 1, 1) cut off at this length along its edges
    volume, moment = one(2.0, -(3 - leg) / np.sqrt(3), diagonal)
    assert volume == pytest.approx(leg**3 / 6, abs=4e-4 * 8)
    assert moment / volume == pytest.approx(np.full(3, 1 - leg / 4), abs=0.02)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    st.tuples(st.floats(-1, 1), st.floats(-1, 1), st.floats(-1, 1)).filter(lambda n: np.linalg.norm(n) > 0.1),
    st.floats(-1, 1),
    st.sampled_from([1e-3, 1.0, 1e3]),
)
def test_both_sides_make_the_cube(normal, level, size):
    """What the plane leaves and what it takes make the whole cube, balanced about its middle, at any scale."""
    kept, kept_moment = one(size, level * size, normal)
    gone, gone_moment = one(size, -level * size, [-n for n in normal])
    assert 0.0 <= kept <= size**3 * (1 + 1e-9)
    assert kept + gone == pytest.approx(size**3, rel=1e-6)
    assert kept_moment + gone_moment == pytest.approx(np.zeros(3), abs=1e-4 * size**4)


def test_counting_points_gives_the_same():
    """Thirty planes drawn at random leave what counting a million points says, within 0.4 % of the cube."""
    rng = np.random.default_rng(5)
    grid = (np.arange(100) + 0.5) / 100 - 0.5
    points = np.stack(np.meshgrid(grid, grid, grid, indexing="ij"), axis=-1).reshape(-1, 3)
    normal = rng.normal(size=(30, 3))
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    level = rng.uniform(-0.7, 0.7, 30)
    volume, moment = cut_cubes(1.0, level, normal)
    for k in range(30):
        kept = points[level[k] + points @ normal[k] > 0]
        assert volume[k] == pytest.approx(len(kept) * 1e-6, abs=4e-3)
        assert moment[k] == pytest.approx(kept.sum(axis=0) * 1e-6, abs=4e-3)
