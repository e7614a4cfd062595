"""`RayScene`: where rays first meet a set of solids, with distances recomputed in double precision."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from embreex.mesh_construction import TriangleMesh
from embreex.rtcore_scene import EmbreeScene
from numpy.typing import NDArray

from prep.geometry.solid import Array, Indices, Solid


@dataclass(frozen=True)
class Hits:
    """First hits of a bundle of rays.

    Attributes
    ----------
    distance_mm : (n,) float64
        Along the ray; infinite where nothing is met.
    triangle : (n,) int32
        Row in the scene's triangles; -1 where nothing is met.
    """

    distance_mm: Array
    triangle: Indices


class RayScene:
    """Solids made ready for rays. The single-precision kernel works about the scene's own middle.

    The distance to the triangle hit is computed again in double precision from its plane; for grazing rays, where the
    plane says nothing, the kernel's own distance is kept.

    Notes
    -----
    Cost: building O(m log m), a ray O(log m). Hits on an edge shared by two triangles may name either.
    """

    def __init__(self, solids: Sequence[Solid]) -> None:
        offsets = np.cumsum([0] + [len(s.vertices) for s in solids])
        self.vertices: Array = np.concatenate([s.vertices for s in solids])
        self.triangles: Indices = np.concatenate(
            [s.triangles + o for s, o in zip(solids, offsets, strict=False)], dtype=np.int32
        )
        self.normals: Array = np.concatenate([s.triangle_normals for s in solids])
        self.solid_of_triangle: Indices = np.repeat(
            np.arange(len(solids), dtype=np.int32), [len(s.triangles) for s in solids]
        )
        self._middle = (self.vertices.min(axis=0) + self.vertices.max(axis=0)) / 2.0
        self.diagonal_mm = float(np.linalg.norm(np.ptp(self.vertices, axis=0)))
        self._scene = EmbreeScene(robust=True)
        TriangleMesh(
            self._scene,
            np.ascontiguousarray(self.vertices - self._middle, dtype=np.float32),
            np.ascontiguousarray(self.triangles, dtype=np.int32),
        )

    def cast(self, origins: Array, directions: Array) -> Hits:
        """First hit of every ray.

        Parameters
        ----------
        origins, directions : (n, 3) float64
            Starting points in mm and unit directions.
        """
        start = np.ascontiguousarray(origins - self._middle, dtype=np.float32)
        along = np.ascontiguousarray(directions, dtype=np.float32)
        found = self._scene.run(start, along, query="INTERSECT", output=True)
        triangle = np.asarray(found["primID"], dtype=np.int32)
        single = np.asarray(found["tfar"], dtype=np.float64)
        distance = np.full(len(start), np.inf)
        met = np.flatnonzero(triangle >= 0)
        normal = self.normals[triangle[met]]
        point = self.vertices[self.triangles[triangle[met], 0]]
        slope = np.einsum("ij,ij->i", normal, directions[met])
        height = np.einsum("ij,ij->i", normal, point - origins[met])
        steep = np.abs(slope) > 1e-3
        exact = np.divide(height, slope, out=single[met].copy(), where=steep)
        near = np.abs(exact - single[met]) < 1e-4 * (self.diagonal_mm + 1.0)
        distance[met] = np.where(near, exact, single[met])
        return Hits(distance, triangle)

    def blocked(self, origins: Array, directions: Array) -> NDArray[np.bool_]:
        """Whether anything at all is met, (n,)."""
        start = np.ascontiguousarray(origins - self._middle, dtype=np.float32)
        along = np.ascontiguousarray(directions, dtype=np.float32)
        return np.asarray(self._scene.run(start, along, query="OCCLUDED") >= 0) & True
