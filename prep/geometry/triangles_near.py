"""Which triangles of a solid come near a point: a tree of centroids for every size of triangle."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from prep.geometry.solid import Array, Solid


class TrianglesNear:
    """Triangles by place, whatever their sizes.

    Triangles are sorted into classes by the power of two of their radius about the centroid; a query looks in each
    class as far as that class can reach.

    Notes
    -----
    A superset: every triangle that meets the ball asked for, and some within twice its own radius of it.
    Cost: building O(m log m); a query O(classes log m) and what it returns.
    """

    def __init__(self, solid: Solid) -> None:
        corners = solid.corners
        self.centroid: Array = corners.mean(axis=1)
        self.radius: Array = np.sqrt(((corners - self.centroid[:, None]) ** 2).sum(axis=2).max(axis=1))
        sizes = np.ceil(np.log2(np.maximum(self.radius, 1e-9 * solid.diagonal_mm))).astype(np.int64)
        self._classes = [
            (2.0 ** float(size), rows, cKDTree(self.centroid[rows], balanced_tree=False, compact_nodes=False))
            for size in np.unique(sizes)
            for rows in (np.flatnonzero(sizes == size),)
        ]

    def within(self, point: Array, radius_mm: float) -> NDArray[np.int64]:
        """Triangles whose own sphere meets the ball about `point`, in rising order."""
        found = [rows[tree.query_ball_point(point, radius_mm + reach)] for reach, rows, tree in self._classes]
        rows = np.sort(np.concatenate(found)).astype(np.int64)
        away = np.linalg.norm(self.centroid[rows] - point, axis=1)
        return np.asarray(rows[away <= radius_mm + self.radius[rows]])
