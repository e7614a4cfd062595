"""`cut_surface`: how a cutter's skin lies in a part: where it opens, which shells it joins, what wall it leaves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse
from numpy.typing import NDArray

from prep.geometry.distance import Nearest
from prep.geometry.inside import Inside
from prep.geometry.rays import RayScene
from prep.geometry.solid import Array, Indices, Solid, refined

Rows = NDArray[np.intp]

OPENS = 0.7
"""Faces turned within 45 degrees of a way the cut opens are openings, not walls."""


@dataclass(frozen=True, eq=False)
class CutSurface:
    """What a cut does to a part, read off the cutter's own skin.

    Attributes
    ----------
    openings : patches of the cutter's skin that lie in air
    shells_joined, voids_joined : shells and sealed voids of the part that the cut makes one with another
    wall_mm : least plastic between the cut and a face it does not open on; infinite where there is none
    wall_at_mm : (3,) where that is
    """

    openings: int
    shells_joined: int
    voids_joined: int
    wall_mm: float
    wall_at_mm: Array

    @property
    def genus(self) -> int:
        """Handles the cut adds."""
        return self.openings - 1 - self.shells_joined


def cut_surface(part: Solid, cutter: Solid, *, ways: Array, spacing_mm: float) -> CutSurface:
    """Read off the skin of a cutter without a handle how it will lie in a part.

    Parameters
    ----------
    ways : (k, 3)
        Unit directions along which the cut opens, either way round.
    spacing_mm : float
        Between the points looked at; an opening or a web narrower than that may be missed.

    Notes
    -----
    Of a ball cut from a body each curve in which the two skins meet bounds a disc of the body's skin that is lost.
    Then n patches of the ball in air mean n - 1 changes of shells and handles together (Euler's formula on both skins).
    A cut that swallows a whole rib is another matter. The wall is the lesser of two: straight out of the cut's sides,
    and the exact distance to walls that have their plastic on that side. Cost: O(points log triangles).
    """
    fine = refined(cutter, spacing_mm)
    nearest = Nearest.of(part).query(fine.vertices)
    held = Inside(part.vertices, part.triangles).test(fine.vertices, nearest)
    corners = held[fine.triangles]
    airy = ~corners.any(axis=1)
    openings = _patches(fine.triangles[airy], len(fine.vertices))
    mixed = ~airy & ~corners.all(axis=1)
    shells = np.unique(part.shell_of_triangle[nearest.triangle[np.unique(fine.triangles[mixed])]])
    voids = int((part.shell_volumes_mm3[shells] < 0.0).sum())
    walls = np.flatnonzero((_turned(part.triangle_normals, ways) <= OPENS) & ~part.slivers)
    found = [_aside(part, fine, np.flatnonzero(corners.all(axis=1)), ways)]
    if len(walls) and held.any():
        found.append(_beside(part, walls, fine.vertices[held]))
    wall, at = min(found, key=lambda one: one[0])
    joined = max(len(shells) - 1, 0)
    return CutSurface(openings, joined, min(voids, joined), wall, at)


def _aside(part: Solid, cutter: Solid, rows: Rows, ways: Array) -> tuple[float, Array]:
    """Least plastic straight out of the cut's sides, and where it ends."""
    normals = cutter.triangle_normals[rows]
    kept = (_turned(normals, ways) <= OPENS) & ~cutter.slivers[rows]
    start, way = cutter.corners[rows[kept]].mean(axis=1), normals[kept]
    if len(start) == 0:
        return np.inf, np.zeros(3)
    scene = RayScene([part])
    hits = scene.cast(start, way)
    slope = np.einsum("ij,ij->i", scene.normals[hits.triangle], way)
    walls = (hits.triangle >= 0) & (slope > 0.0) & (_turned(scene.normals[hits.triangle], ways) <= OPENS)
    reach = np.where(walls, hits.distance_mm, np.inf)
    row = int(reach.argmin())
    return float(reach[row]), start[row] + (reach[row] * way[row] if np.isfinite(reach[row]) else 0.0)


def _beside(part: Solid, walls: Rows, points: Array) -> tuple[float, Array]:
    """Least distance from points in plastic to walls whose plastic is on the points' side, and where."""
    found = Nearest(part.vertices, part.triangles[walls]).query(points)
    normals = part.triangle_normals[walls[found.triangle]]
    behind = np.einsum("ij,ij->i", points - found.point, normals) < -0.5 * found.distance_mm
    reach = np.where(behind, found.distance_mm, np.inf)
    row = int(reach.argmin())
    return float(reach[row]), found.point[row]


def _turned(normals: Array, ways: Array) -> Array:
    """Largest cosine to any way, either way round."""
    return np.asarray(np.abs(normals @ np.atleast_2d(ways).T).max(axis=1))


def _patches(triangles: Indices, vertices: int) -> int:
    """How many pieces triangles make that share corners."""
    if len(triangles) == 0:
        return 0
    start, end = triangles.ravel(), np.roll(triangles, -1, axis=1).ravel()
    graph = scipy.sparse.coo_matrix((np.ones(len(start), dtype=bool), (start, end)), shape=(vertices, vertices))
    _, labels = scipy.sparse.csgraph.connected_components(graph, directed=False)
    return len(np.unique(labels[np.unique(triangles)]))
