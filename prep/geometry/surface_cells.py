"""`SurfaceCells`: the skin of a set of solids cut into small pieces, each with one point that stands for it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from prep.geometry.rays import RayScene
from prep.geometry.solid import SLIVER_MM, Array, Indices, Solid, refined

_FACING = 0.42
"""A normal's component beyond which it counts as facing that way; faces square or opposed never share a cell."""


@dataclass(frozen=True, eq=False)
class SurfaceCells:
    """Pieces of skin about as large as a spacing, none of them around a corner.

    Attributes
    ----------
    point, normal : (n, 3) float64
        The centroid of one triangle near the middle of the cell, in mm, and its outward unit normal.
    area_mm2 : (n,) float64
    solid : (n,) int32
        Which solid the cell belongs to.
    triangle : (n,) int32
        The triangle `point` lies on.
    of_triangle : (m,) int32
        The cell of every triangle of the scene.
    """

    point: Array
    normal: Array
    area_mm2: Array
    solid: Indices
    triangle: Indices
    of_triangle: Indices

    def __len__(self) -> int:
        return len(self.point)


def cut_fine(solids: Sequence[Solid], spacing_mm: float) -> tuple[Solid, ...]:
    """The same solids with triangles no larger than about the spacing, so that a cell is a handful of triangles."""
    return tuple(refined(solid, spacing_mm) if _coarse(solid, spacing_mm) else solid for solid in solids)


def surface_cells(scene: RayScene, spacing_mm: Array | float) -> SurfaceCells:
    """Cells of a scene: triangles that lie in one cube of the spacing, face the same way and are of one solid.

    Parameters
    ----------
    scene : RayScene
        Of solids whose triangles are no larger than the spacing (`cut_fine`).
    spacing_mm : float, or (m,) one for every triangle
        Where it changes, cells of either size never share a triangle.

    Notes
    -----
    Deterministic; the areas of all cells together are those of the triangles, exactly. Cost: O(m log m).
    """
    corners = scene.vertices[scene.triangles]
    middle = corners.mean(axis=1)
    area = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1) / 2.0
    size = np.broadcast_to(np.asarray(spacing_mm, dtype=np.float64), len(middle))
    # a flat wall that lies on a border of the cubes would fall into either by rounding; a cube's third of shift avoids
    # round figures
    place = np.floor((middle - scene.vertices.min(axis=0)) / size[:, None] + 0.3137).astype(np.int64)
    facing = np.where(scene.normals > _FACING, 2, np.where(scene.normals < -_FACING, 0, 1)) @ np.array([1, 3, 9])
    _, level = np.unique(size, return_inverse=True)
    key = np.column_stack([place, facing, scene.solid_of_triangle, level.ravel()])
    _, cell = np.unique(key, axis=0, return_inverse=True)
    cell = cell.ravel().astype(np.int32)
    count = int(cell.max()) + 1
    total = np.bincount(cell, area, count)
    weight = np.where(total[cell] > 0.0, area, 1.0)
    norm = np.bincount(cell, weight, count)
    mean = np.stack([np.bincount(cell, weight * middle[:, k], count) / norm for k in range(3)], axis=1)
    longest = np.linalg.norm(np.roll(corners, -1, axis=1) - corners, axis=2).max(axis=1)
    sliver = 2.0 * area <= SLIVER_MM * longest  # its normal may point anyhow: it stands for a cell only if it must
    off = np.linalg.norm(middle - mean[cell], axis=1) + np.where(sliver, 1e9, 0.0)
    order = np.lexsort((np.arange(len(off)), off, cell))
    first: NDArray[np.intp] = order[np.concatenate([[True], cell[order][1:] != cell[order][:-1]])]
    return SurfaceCells(
        middle[first],
        scene.normals[first],
        np.asarray(total, dtype=np.float64),
        np.asarray(scene.solid_of_triangle[first], dtype=np.int32),
        np.asarray(first, dtype=np.int32),
        np.asarray(cell, dtype=np.int32),
    )


def coarser(cells: SurfaceCells, onto: SurfaceCells) -> NDArray[np.int32]:
    """For every cell, the cell of a coarser cut of the same scene that holds its point, (n,)."""
    return np.asarray(onto.of_triangle[cells.triangle], dtype=np.int32)


def _coarse(solid: Solid, spacing_mm: float) -> bool:
    corners = solid.corners
    return bool((np.linalg.norm(np.roll(corners, -1, axis=1) - corners, axis=2).max(axis=1) > spacing_mm).any())
