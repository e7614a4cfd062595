"""A mesh that carries its wall thickness."""

from __future__ import annotations

import numpy as np
import pytest

from prep.geometry.solid import refined
from prep.geometry.thickness_map import thickness_map, vertex_thickness
from prep.geometry.wall_thickness import wall_thickness
from tests.geometry.walled import box, solid, without


def test_stepped_plate_shows_both_thicknesses() -> None:
    """A plate of 3 mm with a pocket that leaves 1 mm carries both, each where it is."""
    plate = solid(without(box(40, 30, 3), box(12, 12, 3).translate([8, 0, 1.0])))
    dense, value = thickness_map(plate, wall_thickness(plate, limit_mm=1.2))
    v = dense.vertices
    under = (np.abs(v[:, 0] - 8) < 4) & (np.abs(v[:, 1]) < 4) & (v[:, 2] < -1.4)
    aside = (v[:, 0] < -4) & (v[:, 0] > -18) & (np.abs(v[:, 1]) < 12) & (np.abs(v[:, 2]) > 1.4)
    assert under.sum() > 20
    assert aside.sum() > 20
    assert np.allclose(value[under], 1.0, atol=1e-6)
    assert np.allclose(value[aside], 3.0, atol=1e-6)


def test_the_shape_stays() -> None:
    """Finer triangles enclose the same volume, and none of their edges is twice as long as asked."""
    plate = solid(box(40, 30, 3))
    dense = refined(plate, 2.0)
    edges = dense.corners - np.roll(dense.corners, 1, axis=1)
    assert np.linalg.norm(edges, axis=2).max() <= 4.0
    assert dense.volume_mm3 == pytest.approx(3600.0, rel=1e-12)


def test_no_wall_is_not_a_number() -> None:
    """Where no face is opposed there is no value."""
    block = solid(box(10, 10, 10))
    found = wall_thickness(block, limit_mm=1.0)
    assert np.isfinite(vertex_thickness(refined(block, 1.0), found)).any()
    lone = type(found)(**{**found.__dict__, "thickness_mm": np.full(len(found.point), np.inf)})
    assert np.isnan(vertex_thickness(block, lone)).all()
