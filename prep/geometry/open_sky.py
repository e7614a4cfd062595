"""`open_sky`: how much of the space before a point of a skin is free."""

from __future__ import annotations

import numpy as np

from prep.geometry.rays import RayScene
from prep.geometry.solid import Array

OFF = 2e-5
"""Share of the scene's diagonal by which a ray starts off the skin."""

_GOLDEN = (1.0 + 5.0**0.5) / 2.0


def open_sky(scene: RayScene, points: Array, normals: Array, rays: int = 64) -> Array:
    """Share of rays from each point that meet nothing, (n,): weighted by the cosine to the normal, 1 on a convex skin.

    Parameters
    ----------
    points, normals : (n, 3), mm and unit outward
    rays : how many from each point

    Notes
    -----
    The directions are a golden-angle spiral, the same at every call, with a density that follows the cosine; the share
    is the view factor of the open sky. Error about 1 / rays. Cost: n * rays rays.
    """
    turn = 2.0 * np.pi * np.arange(rays) / _GOLDEN
    out = (np.arange(rays) + 0.5) / rays
    spiral = np.stack([np.sqrt(out) * np.cos(turn), np.sqrt(out) * np.sin(turn), np.sqrt(1.0 - out)], axis=1)
    hint = np.eye(3)[np.argmin(np.abs(normals), axis=1)]
    across = np.cross(hint, normals)
    across /= np.linalg.norm(across, axis=1, keepdims=True)
    frame = np.stack([across, np.cross(normals, across), normals], axis=1)
    directions = np.einsum("rk,nkj->nrj", spiral, frame)
    start = np.repeat(points + OFF * scene.diagonal_mm * normals, rays, axis=0)
    free = ~scene.blocked(start, directions.reshape(-1, 3))
    return np.asarray(free.reshape(-1, rays).mean(axis=1))


def spread_points(corners: Array, count: int) -> tuple[Array, Array]:
    """Points spread evenly by area over triangles (m, 3, 3), (count, 3), and the unit normals there."""
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    cross = np.cross(b - a, c - a)
    double = np.linalg.norm(cross, axis=1)
    ends = np.cumsum(double)
    at = np.searchsorted(ends, (np.arange(count) + 0.5) / count * ends[-1])
    at = np.minimum(at, len(corners) - 1)
    u, v = np.modf(np.arange(1, count + 1)[:, None] * np.array([0.7548776662466927, 0.5698402909980532]))[0].T
    over = u + v > 1.0
    u, v = np.where(over, 1.0 - u, u), np.where(over, 1.0 - v, v)
    points = a[at] + u[:, None] * (b - a)[at] + v[:, None] * (c - a)[at]
    return points, cross[at] / double[at, None]
