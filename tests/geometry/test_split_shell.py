"""Planes that part a mask."""

from __future__ import annotations

import numpy as np
import pytest

from prep.geometry.split_shell import Parting, edge_crossings, part_at, parting_planes
from tests.places.masked import as_solid, between, block


def test_halves_fill_the_whole() -> None:
    """Both sides of a plane together have the whole's volume, and the plane divides it in closed form."""
    body = as_solid(block((0, 0, 0), (10, 4, 6)))
    above, below = part_at(body, Parting((3.0, 0.0, 0.0), (1.0, 0.0, 0.0)))
    assert above.volume_mm3 == pytest.approx(7.0 * 24.0)
    assert below.volume_mm3 == pytest.approx(3.0 * 24.0)


def test_nothing_on_one_side() -> None:
    """A plane beside the body leaves it whole on one side and nothing on the other."""
    body = as_solid(block((0, 0, 0), (10, 4, 6)))
    above, below = part_at(body, Parting((20.0, 0.0, 0.0), (1.0, 0.0, 0.0)))
    assert above is None
    assert below.volume_mm3 == pytest.approx(240.0)


@pytest.mark.parametrize("scale", [1e-3, 1.0, 1e3])
def test_planes_cut_the_mask(scale) -> None:
    """Every plane goes through the mask, at any scale, and one along each axis through the part's middle is there."""
    mask = as_solid(block((0, 0, 0), (10, 4, 6)).scale((scale,) * 3))
    part = as_solid(block((2, 1, 1), (5, 3, 4)).scale((scale,) * 3))
    planes = parting_planes(mask, part)
    for plane in planes:
        heights = plane.heights(mask.vertices)
        assert heights.min() < 0.0 < heights.max()
    for axis in range(3):
        ways = [plane for plane in planes if abs(plane.normal[axis]) == pytest.approx(1.0)]
        assert any(plane.origin_mm[axis] == pytest.approx(part.bounds_mm.mean(axis=0)[axis]) for plane in ways)


def test_crossings_of_a_square_window() -> None:
    """A plane through a square crosses its edge twice, squarely along a side and at 45 degrees along the diagonal."""
    part = as_solid(block((-20, -20, 0), (20, 20, 5)))
    limits = [(axis, sense * 5.0, -sense) for axis in (0, 1) for sense in (1.0, -1.0)]
    patch = between(part, *limits, (2, 4.0, 1.0))
    near = np.ones(len(patch.edge_sides), dtype=bool)
    assert edge_crossings(patch, Parting((0.3, 0.0, 0.0), (1.0, 0.0, 0.0)), near) == (2, pytest.approx(0.0))
    slant = (1.0 / np.sqrt(2.0), 1.0 / np.sqrt(2.0), 0.0)
    count, skew = edge_crossings(patch, Parting((0.3, 0.0, 0.0), slant), near)
    assert count == 2
    assert skew == pytest.approx(1.0 - 1.0 / np.sqrt(2.0))
    assert edge_crossings(patch, Parting((9.0, 0.0, 0.0), (1.0, 0.0, 0.0)), near) == (0, 0.0)
