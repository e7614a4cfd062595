"""`Nearest`: the nearest point of a surface, and whether a point lies inside."""

from __future__ import annotations

from dataclasses import dataclass

import igl
import numpy as np
from numpy.typing import NDArray

from prep.geometry.solid import Array, Indices, Solid


@dataclass(frozen=True)
class NearestPoints:
    """Nearest points of a surface to a set of queries.

    Attributes
    ----------
    distance_mm : (n,) float64
        Never negative.
    triangle : (n,) int64
        Row in the triangles the tree was built on.
    point : (n, 3) float64, mm
    """

    distance_mm: Array
    triangle: NDArray[np.int64]
    point: Array


class Nearest:
    """A bounding-box tree over triangles, exact in double precision.

    Parameters
    ----------
    vertices : (n, 3) float64, mm
    triangles : (m, 3) integer
        At least one.

    Notes
    -----
    Cost: building O(m log m); a query O(log m) near the surface, more far from it.
    """

    def __init__(self, vertices: Array, triangles: Indices) -> None:
        self.vertices = vertices
        self.triangles = triangles
        self._tree = igl.AABB()
        self._tree.init(self.vertices, self.triangles)

    @classmethod
    def of(cls, solid: Solid) -> Nearest:
        """The tree over every triangle of a solid."""
        return cls(solid.vertices, solid.triangles)

    def query(self, points: Array) -> NearestPoints:
        """Nearest point of the surface to each of `points`, (n, 3) mm."""
        queries = np.ascontiguousarray(points, dtype=np.float64)
        if len(queries) == 0:
            return NearestPoints(np.empty(0), np.empty(0, dtype=np.int64), np.empty((0, 3)))
        squared, triangle, point = self._tree.squared_distance(self.vertices, self.triangles, queries)
        return NearestPoints(np.sqrt(np.maximum(squared, 0.0)), np.asarray(triangle, dtype=np.int64), np.asarray(point))
