"""`self_crossings`: places where a surface runs through itself, which the solid kernel does not report."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from prep.geometry.rays import RayScene
from prep.geometry.solid import Array, Solid

CLEAR_SHARE = 1e-6
"""An edge crosses a triangle only if its ends stand this share of the part's diagonal off the triangle's plane."""


@dataclass(frozen=True)
class Crossings:
    """Edges that pass through a triangle they do not touch.

    Attributes
    ----------
    points : (n, 3) mm, where they pass
    """

    points: Array

    def __len__(self) -> int:
        return len(self.points)


def self_crossings(solid: Solid) -> Crossings:
    """Edges that cross a triangle of the same solid.

    Notes
    -----
    Every edge is cast as a ray; a hit within its length on a triangle that shares no corner with it is confirmed in
    double precision (the ends on opposite sides of the plane, the point inside). What is returned does cross; an edge
    whose first hit is a neighbour is not followed further, so a crossing of very few edges can be missed. Cost: 1.5
    rays a triangle.
    """
    t = solid.triangles
    pairs = np.concatenate([t[:, [0, 1]], t[:, [1, 2]], t[:, [2, 0]]])
    pairs = pairs[pairs[:, 0] < pairs[:, 1]]
    start, end = solid.vertices[pairs[:, 0]], solid.vertices[pairs[:, 1]]
    span = end - start
    length = np.linalg.norm(span, axis=1)
    real = length > 0.0
    pairs, start, end, span, length = pairs[real], start[real], end[real], span[real], length[real]
    way = span / length[:, None]
    skip = 0.02 * length
    hits = RayScene([solid]).cast(start + skip[:, None] * way, way)
    row = np.flatnonzero(hits.distance_mm < length - 2.0 * skip)
    corners = t[hits.triangle[row]]
    apart = ~(corners[:, :, None] == pairs[row][:, None, :]).any(axis=(1, 2))
    row, corners = row[apart], corners[apart]
    a, b, c = (solid.vertices[corners[:, k]] for k in range(3))
    normal = np.cross(b - a, c - a)
    size = np.linalg.norm(normal, axis=1)
    flat = size > 0.0
    row, a, b, c, normal = row[flat], a[flat], b[flat], c[flat], normal[flat] / size[flat, None]
    below = np.einsum("ij,ij->i", normal, start[row] - a)
    above = np.einsum("ij,ij->i", normal, end[row] - a)
    clear = CLEAR_SHARE * solid.diagonal_mm
    through = (below * above < 0.0) & (np.minimum(np.abs(below), np.abs(above)) > clear)
    share = np.divide(below, below - above, out=np.zeros_like(below), where=through)
    point = start[row] + share[:, None] * span[row]
    for first, second in ((a, b), (b, c), (c, a)):
        edge = second - first
        side = np.einsum("ij,ij->i", np.cross(edge, point - first), normal)
        through &= side > clear * np.linalg.norm(edge, axis=1)
    return Crossings(point[through])
