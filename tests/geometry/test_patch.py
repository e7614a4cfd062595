"""`Patch`: area, loops, islands and distances of a region of a skin."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fixtures.drawn import blob, box, ico_sphere, tube
from prep.geometry.cut_skin import Skin, cut_half_spaces
from prep.geometry.patch import Patch
from prep.geometry.solid import Solid


def band(solid: Solid, *limits: tuple[int, float, float]) -> Patch:
    """The patch within some planes."""
    cut = cut_half_spaces(Skin.of(solid), list(limits))
    return Patch.of(cut.skin, cut.inside)


def length(line: np.ndarray) -> float:
    """Length once round."""
    return float(np.linalg.norm(np.roll(line, -1, axis=0) - line, axis=1).sum())


def test_a_zone_has_two_loops() -> None:
    """A ball's zone is bounded by two circles; the region lies on their left, so the two run opposite ways."""
    patch = band(Solid.of(*ico_sphere(10.0, 5)), (2, -2.0, 1.0), (2, 5.0, -1.0))
    low, high = patch.loops
    assert [length(low), length(high)] == pytest.approx(
        [2 * np.pi * np.sqrt(96.0), 2 * np.pi * np.sqrt(75.0)], rel=1e-3
    )
    assert patch.edge_length_mm == pytest.approx(length(low) + length(high), rel=1e-12)
    turns = [np.cross(line, np.roll(line, -1, axis=0))[:, 2].sum() / 2.0 for line in (low, high)]
    assert turns == pytest.approx([np.pi * 96.0, -np.pi * 75.0], rel=2e-3)
    assert np.abs(low[:, 2] + 2.0).max() < 1e-12
    assert (len(patch.islands), len(patch.rests)) == (1, 2)


def test_islands_come_largest_first() -> None:
    """Four walls cut from a tube by a slab are two islands; what is left beside them is two pieces too."""
    ring = Solid.of(*tube(10.0, 8.0, 20.0, 64))
    patch = band(ring, (0, -3.0, 1.0), (0, 3.0, -1.0))
    sizes = [patch.triangle_areas[rows].sum() for rows in patch.islands]
    assert len(sizes) == 2
    assert sizes[0] >= sizes[1]
    assert sum(sizes) == pytest.approx(patch.area_mm2, rel=1e-12)
    rest = sum(patch.triangle_areas[rows].sum() for rows in patch.rests)
    assert rest + patch.area_mm2 == pytest.approx(ring.area_mm2, rel=1e-9)


def test_corners_that_touch_at_a_point() -> None:
    """Two squares that share one corner are two loops, each around its own square."""
    block = Solid.of(*box((20.0, 20.0, 20.0)))
    cut = cut_half_spaces(Skin.of(block), [(0, 0.0, 1.0), (1, 0.0, 1.0), (2, 5.0, 1.0)])
    other = cut_half_spaces(cut.skin, [(0, 0.0, -1.0), (1, 0.0, -1.0), (2, 5.0, 1.0)])
    top = other.skin.vertices[other.skin.triangles][:, :, 2].min(axis=1) > 9.999
    patch = Patch.of(other.skin, (cut.inside[other.parent] | other.inside) & top)
    assert patch.area_mm2 == pytest.approx(200.0)
    assert sorted(length(line) for line in patch.loops) == pytest.approx([40.0, 40.0])
    assert len(patch.islands) == 2


def test_distance_to_the_edge() -> None:
    """On a flat square the distance to its edge is that to the nearest side, negative inside."""
    block = Solid.of(*box((40.0, 40.0, 10.0)))
    patch = band(block, (0, -5.0, 1.0), (0, 5.0, -1.0), (1, -5.0, 1.0), (1, 5.0, -1.0), (2, 0.0, 1.0))
    points = np.array([[0.0, 0, 5], [4, 0, 5], [7, 0, 5], [8, 9, 5], [0, 0, -5]])
    assert patch.edge_distance(points) == pytest.approx([-5.0, -1.0, 2.0, 5.0, np.sqrt(125.0)])
    assert patch.contains(points).tolist() == [True, True, False, False, False]
    assert patch.corners.shape == (int(patch.inside.sum()), 3, 3)


@settings(max_examples=12, deadline=None)
@given(seed=st.integers(0, 1000), scale=st.sampled_from([1e-3, 1.0, 1e3]), low=st.floats(-0.8, 0.0))
def test_stokes(seed: int, scale: float, low: float) -> None:
    """The loops are closed and hold the region on their left: the line integral is the region's own area vector."""
    drawn = blob(seed, 10.0, 0.3, 3)
    solid = Solid.of(drawn[0] * scale, drawn[1])
    patch = band(solid, (2, low * 10.0 * scale, 1.0), (0, 4.0 * scale, -1.0))
    corners = patch.corners
    area = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]).sum(axis=0) / 2.0
    around = sum(np.cross(line, np.roll(line, -1, axis=0)).sum(axis=0) / 2.0 for line in patch.loops)
    assert np.allclose(area, around, atol=1e-9 * solid.area_mm2)
    assert sum(len(line) for line in patch.loops) == len(patch.edge_sides)
