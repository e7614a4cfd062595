"""`Inside`: on which side of a surface a point lies, told by the nearest point of the surface."""

from __future__ import annotations

import igl
import numpy as np
from numpy.typing import NDArray

from prep.geometry.distance import NearestPoints
from prep.geometry.solid import Array, Indices

_ON_EDGE = 1e-7
"""Barycentric share below which the nearest point counts as on the edge or corner."""

_DOUBTFUL = 0.05
"""Cosine between pseudonormal and the way to the point below which the winding number is asked."""


class Inside:
    """Sides of points whose nearest surface points are known.

    Parameters
    ----------
    vertices : (n, 3) float64, mm
    triangles : (m, 3) integer
        Closed, consistently wound, counter-clockwise seen from outside.

    Attributes
    ----------
    face_normals : (m, 3) float64
        Unit, outward; zero for a triangle without area.

    Notes
    -----
    The way from the nearest point to the query is compared with the normal there: of the face, of both faces on an
    edge, angle-weighted of all faces at a corner, which is right for every closed surface. Where triangles without
    area leave that in doubt, the winding number decides. Cost: a few operations a point.

    References
    ----------
    J. A. Baerentzen, H. Aanaes, Signed distance computation using the angle weighted pseudonormal, IEEE Trans. Vis.
    Comput. Graph. 11 (2005) 243.
    G. Barill, N. Dickson, R. Schmidt, D. I. W. Levin, A. Jacobson, Fast winding numbers for soups and clouds,
    ACM Trans. Graph. 37 (2018) 43.
    """

    def __init__(self, vertices: Array, triangles: Indices) -> None:
        self._vertices = vertices
        self._triangles = triangles
        corners = vertices[triangles]
        sides = np.roll(corners, -1, axis=1) - corners
        cross = np.cross(sides[:, 0], sides[:, 1])
        self.face_normals = _unit(cross)
        self._dual = _barycentric_gradients(sides, cross)
        along = _unit(sides)
        angles = np.arccos(np.clip(-np.einsum("mij,mij->mi", along, np.roll(along, 1, axis=1)), -1, 1))
        flat = triangles.ravel()
        weighted = (angles[:, :, None] * self.face_normals[:, None, :]).reshape(-1, 3)
        self._corner = np.stack(
            [np.bincount(flat, weights=weighted[:, k], minlength=len(vertices)) for k in range(3)], axis=1
        )
        ends = np.sort(np.stack([flat, np.roll(triangles, -1, axis=1).ravel()], axis=1), axis=1).astype(np.int64)
        _, edge = np.unique(ends[:, 0] * len(vertices) + ends[:, 1], return_inverse=True)
        face = np.repeat(self.face_normals, 3, axis=0)
        of_edge = np.stack([np.bincount(edge, weights=face[:, k]) for k in range(3)], axis=1)
        self._edge = of_edge[edge].reshape(-1, 3, 3)

    def test(self, points: Array, nearest: NearestPoints) -> NDArray[np.bool_]:
        """Whether each of `points`, (n, 3) mm, lies inside; `nearest` as `Nearest.query` gave it for them."""
        triangle = nearest.triangle
        way = points - nearest.point
        offset = nearest.point - self._vertices[self._triangles[triangle, 0]]
        share = np.einsum("nij,nj->ni", self._dual[triangle], offset)
        share[:, 0] += 1.0
        zero = share < _ON_EDGE
        normal = self.face_normals[triangle]
        zeros = zero.sum(axis=1)
        on_edge = np.flatnonzero(zeros == 1)
        side = (np.argmax(zero[on_edge], axis=1) + 1) % 3
        normal[on_edge] = self._edge[triangle[on_edge], side]
        on_corner = np.flatnonzero(zeros >= 2)
        at = np.argmax(share[on_corner], axis=1)
        normal[on_corner] = self._corner[self._triangles[triangle[on_corner], at]]
        height = np.einsum("ij,ij->i", way, normal)
        reach = nearest.distance_mm * np.linalg.norm(normal, axis=1)
        inside: NDArray[np.bool_] = height < 0.0
        doubtful = np.flatnonzero(np.abs(height) <= _DOUBTFUL * reach)
        if len(doubtful):
            winding = igl.fast_winding_number(self._vertices, self._triangles, np.ascontiguousarray(points[doubtful]))
            inside[doubtful] = np.asarray(winding) > 0.5
        return inside


def _barycentric_gradients(sides: Array, cross: Array) -> Array:
    """Gradient of each corner's barycentric share, (m, 3, 3); zero for a triangle without area."""
    square = np.einsum("ij,ij->i", cross, cross)
    scale = np.divide(1.0, square, out=np.zeros_like(square), where=square > 0.0)
    opposite = np.roll(sides, -1, axis=1)
    return np.asarray(np.cross(cross[:, None, :], opposite) * scale[:, None, None])


def _unit(vectors: Array) -> Array:
    length = np.linalg.norm(vectors, axis=-1, keepdims=True)
    return np.asarray(np.divide(vectors, length, out=np.zeros_like(vectors), where=length > 0.0))
