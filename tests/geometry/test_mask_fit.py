"""`seated_fit`: gap and edge of rings drawn by hand at known places."""

from __future__ import annotations

from functools import cache

import manifold3d
import numpy as np
import pytest

from prep.geometry.mask_fit import EdgeSpots, seated_fit
from tests.geometry.masked import kernel_solid, window

CUBE = manifold3d.Manifold.cube


@cache
def plate():
    """A plate with a window of 10 x 8 mm in its top, and the spots along the window's edge."""
    solid = kernel_solid(CUBE([24, 20, 6]))
    patch = window(solid, (0, 7.0, 1.0), (0, 17.0, -1.0), (1, 6.0, 1.0), (1, 14.0, -1.0), (2, 3.0, 1.0))
    return patch, EdgeSpots.of(patch)


def ring(gap, back):
    """A flat ring over the plate's top, its inner edge standing back from the window's."""
    hole = CUBE([10 + 2 * back, 8 + 2 * back, 8]).translate([7 - back, 6 - back, 2])
    return kernel_solid(CUBE([20, 16, 2]).translate([2, 2, 6 + gap]) - hole)


def test_spots():
    """Spots cover the whole edge, look up, and lead away from the window along the top."""
    patch, spots = plate()
    assert spots.length_mm.sum() == pytest.approx(36.0)
    assert spots.normal == pytest.approx(np.tile([0.0, 0.0, 1.0], (len(spots.at_mm), 1)))
    assert not patch.contains(spots.behind(0.5)).any()
    assert patch.contains(spots.behind(-0.5)).all()
    assert np.abs(np.einsum("ij,ij->i", spots.away, spots.normal)).max() < 1e-12


@pytest.mark.parametrize(("gap", "back"), [(0.05, 0.0), (0.1, 0.12), (0.02, 0.3)])
def test_gap_and_back(gap, back):
    """A ring that stands back shows its gap and how far it stands back, at the corners most."""
    patch, spots = plate()
    fit = seated_fit([ring(gap, back)], patch, spots, 1.2, gap)
    assert fit.gap_mm == pytest.approx((gap,) * 3, abs=1e-9)
    assert fit.edge_back_mm == pytest.approx(back, abs=0.02)
    assert fit.edge_over_mm == 0.0
    assert fit.bare_share == 0.0


def test_over_the_window():
    """A ring that hangs over the window shows by how much."""
    patch, spots = plate()
    fit = seated_fit([ring(0.05, -0.2)], patch, spots, 1.2, 0.05)
    assert fit.edge_over_mm == pytest.approx(0.2, abs=1e-6)


def test_half_a_ring():
    """Where half of the ring is missing, half of the edge has no land."""
    patch, spots = plate()
    half = ring(0.05, 0.0)
    cut = manifold3d.Manifold(manifold3d.Mesh64(np.array(half.vertices), half.triangles.astype(np.uint64)))
    fit = seated_fit([kernel_solid(cut - CUBE([12, 40, 20]))], patch, spots, 1.2, 0.05)
    assert fit.bare_share == pytest.approx(0.5, abs=0.03)
    assert fit.edge_back_mm > 4.0
