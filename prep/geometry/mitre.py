"""`mitred`: a solid grown by moving its corners, so that flat faces stay flat and edges sharp."""

from __future__ import annotations

import numpy as np

from prep.geometry.solid import Array, Solid

FLAT_SHARE = 0.02
"""Spread of the normals about a corner, as a share of the largest, below which it counts as one smooth surface."""
SLIVER_SHARE = 1e-7
"""Height of a triangle, as a share of the part's diagonal, below which its normal is not trusted."""
LONGEST = 3.0
"""How far a corner may move, in offsets: an edge sharper than 39 degrees is blunted."""


def mitred(solid: Solid, by_mm: float) -> Solid:
    """The solid with every face moved outward by a distance, edges mitred.

    Notes
    -----
    Each corner moves to where the planes of its triangles, weighted by their angles there, meet in the sense of least
    squares: exact where up to three planes meet, and on smooth skin to second order in the turn from one triangle to
    the next. Meant for offsets that are small beside the part's features: slots narrower than twice the offset close.
    Cost: linear.

    References
    ----------
    Least squares over the planes of a corner: M. Garland, P. S. Heckbert, Surface simplification using quadric error
    metrics, SIGGRAPH (1997) 209.
    """
    if by_mm == 0.0:
        return solid
    return Solid.of(solid.vertices + by_mm * corner_moves(solid), solid.triangles)


def corner_moves(solid: Solid) -> Array:
    """How each corner moves, (n, 3), when every face moves outward by one."""
    corners, normals, t = solid.corners, solid.triangle_normals, solid.triangles
    sides = np.roll(corners, -1, axis=1) - corners
    length = np.linalg.norm(sides, axis=2, keepdims=True)
    along = np.divide(sides, length, out=np.zeros_like(sides), where=length > 0.0)
    cosine = -np.einsum("mij,mij->mi", along, np.roll(along, 1, axis=1))
    angle = np.arccos(np.clip(cosine, -1.0, 1.0))
    angle[2.0 * solid.triangle_areas <= SLIVER_SHARE * solid.diagonal_mm * length[:, :, 0].max(axis=1)] = 0.0
    count = len(solid.vertices)
    flat = t.ravel()
    weight = angle.ravel()
    normal = np.repeat(normals, 3, axis=0)
    total = np.maximum(np.bincount(flat, weights=weight, minlength=count), 1e-12)
    mean: Array = np.stack(
        [np.bincount(flat, weights=weight * normal[:, k], minlength=count) for k in range(3)], axis=1
    )
    mean = mean / total[:, None]
    spread = np.empty((count, 3, 3))
    for i in range(3):
        for j in range(i, 3):
            entry = np.bincount(flat, weights=weight * normal[:, i] * normal[:, j], minlength=count) / total
            spread[:, i, j] = spread[:, j, i] = entry
    size, axes = np.linalg.eigh(spread)
    kept = size > FLAT_SHARE * np.maximum(size[:, 2:], 1e-12)
    inverse = np.divide(1.0, size, out=np.zeros_like(size), where=kept)
    moves = np.einsum("nij,nj->ni", axes, inverse * np.einsum("nji,nj->ni", axes, mean))
    reach = np.linalg.norm(moves, axis=1, keepdims=True)
    return np.asarray(moves * np.minimum(1.0, LONGEST / np.maximum(reach, 1e-12)))
