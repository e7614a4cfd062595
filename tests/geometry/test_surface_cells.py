"""Cells of skin."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fixtures.drawn import blob, box, spherical_shell
from prep.geometry.rays import RayScene
from prep.geometry.solid import Solid
from prep.geometry.surface_cells import coarser, cut_fine, surface_cells


@settings(max_examples=8, deadline=None)
@given(st.integers(0, 500), st.sampled_from([1e-3, 1.0, 1e3]))
def test_cells_cover_the_skin_once(seed: int, scale: float) -> None:
    """Areas add up to the whole, every triangle has a cell, and no point is farther from its cell's than its cube."""
    vertices, triangles = blob(seed)
    solids = cut_fine([Solid.of(vertices * scale, triangles)], 1.0 * scale)
    scene = RayScene(solids)
    cells = surface_cells(scene, 1.5 * scale)
    assert cells.area_mm2.sum() == pytest.approx(solids[0].area_mm2, rel=1e-9)
    assert len(np.unique(cells.of_triangle)) == len(cells)
    middle = scene.vertices[scene.triangles].mean(axis=1)
    away = np.linalg.norm(middle - cells.point[cells.of_triangle], axis=1)
    assert away.max() <= 1.5 * scale * np.sqrt(3.0)
    assert (cells.of_triangle[cells.triangle] == np.arange(len(cells))).all()


def test_no_cell_goes_round_a_corner_or_through_a_wall() -> None:
    """On a thin shell the inner and outer skin never share a cell; on a box no two faces do."""
    scene = RayScene(cut_fine([Solid.of(*spherical_shell(10.0, 9.8))], 1.0))
    cells = surface_cells(scene, 2.0)
    out = np.einsum("ij,ij->i", scene.vertices[scene.triangles].mean(axis=1), scene.normals) > 0.0
    assert all(len(np.unique(out[cells.of_triangle == cell])) == 1 for cell in range(0, len(cells), 7))
    scene = RayScene(cut_fine([Solid.of(*box((10.0, 10.0, 10.0)))], 1.0))
    cells = surface_cells(scene, 3.0)
    cosine = np.einsum("ij,ij->i", scene.normals, cells.normal[cells.of_triangle])
    assert cosine.min() == pytest.approx(1.0)


def test_coarse_cells_hold_fine_ones() -> None:
    """Every fine cell's point lies on a triangle of the coarse cell it is given to."""
    scene = RayScene(cut_fine([Solid.of(*box((10.0, 8.0, 6.0)))], 0.7))
    fine, coarse = surface_cells(scene, 0.7), surface_cells(scene, 2.8)
    onto = coarser(fine, coarse)
    assert len(coarse) < len(fine)
    assert (np.einsum("ij,ij->i", fine.normal, coarse.normal[onto]) > 0.99).all()
    assert np.linalg.norm(fine.point - coarse.point[onto], axis=1).max() < 2.8 * np.sqrt(3.0)
