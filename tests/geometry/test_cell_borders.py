"""Lines midway between neighbours."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import Voronoi

from prep.geometry.cell_borders import cell_borders


def test_two_points_part_in_the_middle_without_end() -> None:
    """Two points have one endless border halfway, square to their line."""
    (border,) = cell_borders(np.array([(0.0, 0.0), (6.0, 8.0)]), 1.0)
    assert border.middle == pytest.approx((3.0, 4.0))
    assert border.normal == pytest.approx((0.6, 0.8))
    assert border.along == pytest.approx((-0.8, 0.6))
    assert (border.low_mm, border.high_mm) == (-np.inf, np.inf)


def test_square_has_four_borders_and_no_diagonal() -> None:
    """Opposite corners of a square meet in a point only; the four sides' borders end there."""
    found = cell_borders(np.array([(0.0, 0.0), (10.0, 0.0), (0.0, 10.0), (10.0, 10.0)]), 0.5)
    assert [border.pair for border in found] == [(0, 1), (0, 2), (1, 3), (2, 3)]
    assert sorted(min(abs(border.low_mm), abs(border.high_mm)) for border in found) == pytest.approx([5.0] * 4)
    assert all(np.isinf(border.low_mm) != np.isinf(border.high_mm) for border in found)


def test_row_leaves_out_those_not_next() -> None:
    """In a row the first and third have no border, though their middle line is parallel to the others."""
    found = cell_borders(np.array([(0.0, 0.0), (10.0, 0.0), (20.0, 0.0)]), 0.5)
    assert [border.pair for border in found] == [(0, 1), (1, 2)]


@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 10_000), scale=st.sampled_from([1e-3, 1.0, 1e3]))
def test_borders_are_those_of_another_library(seed: int, scale: float) -> None:
    """Neighbours and finite lengths agree with scipy's Voronoi diagram (Qhull), at any size."""
    points = np.random.default_rng(seed).uniform(0.0, 100.0, (8, 2)) * scale
    ours = {border.pair: border.high_mm - border.low_mm for border in cell_borders(points, 0.0)}
    diagram = Voronoi(points)
    pairs = [tuple(sorted(map(int, pair))) for pair in diagram.ridge_points]
    assert set(ours) == set(pairs)
    for pair, ends in zip(pairs, diagram.ridge_vertices, strict=True):
        if -1 in ends:
            assert np.isinf(ours[pair])
        else:
            first, second = diagram.vertices[ends]
            assert ours[pair] == pytest.approx(float(np.linalg.norm(first - second)), rel=1e-6, abs=1e-6 * scale)
