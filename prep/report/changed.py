"""`changed_triangles`: which triangles of a finished part are not surface of the part as it came."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from prep.geometry.distance import Nearest
from prep.geometry.solid import Array, Solid

SAME_MM = 1e-4
"""Surfaces nearer than this are the same surface; also scaled to the part."""


def changed_triangles(before: Solid, after: Solid) -> NDArray[np.bool_]:
    """For every triangle of `after`, whether its middle lies off the surface of `before`, (m,).

    Notes
    -----
    Triangles found corner for corner in both are left aside; what remains of `after` is measured against what remains
    of `before`. Faces cut anew along a seat's rim stay unchanged surface, because their middle lies on the old face.
    Cost O(m log m) for the comparison, and little for the distances.
    """
    if after is before:
        return np.zeros(len(after.triangles), dtype=bool)
    low = before.bounds_mm[0]
    grain = before.diagonal_mm * 1e-9
    now, then = _keys(after, low, grain), _keys(before, low, grain)
    changed = ~np.isin(now, then)
    gone = ~np.isin(then, now)
    if changed.any() and gone.any():
        middles = after.vertices[after.triangles[changed]].mean(axis=1)
        away = Nearest(before.vertices, before.triangles[gone]).query(middles).distance_mm
        changed[changed] = away > max(SAME_MM, 1e-6 * before.diagonal_mm)
    return changed


def _keys(solid: Solid, low: Array, grain_mm: float) -> NDArray[np.uint64]:
    """One number for the three corners of a triangle in any order, (m,); two may share it by rare chance."""
    spots = np.round((solid.vertices - low) / grain_mm).astype(np.int64).view(np.uint64)
    mixed = spots @ np.array([0x9E3779B97F4A7C15, 0xC2B2AE3D27D4EB4F, 0x165667B19E3779F9], dtype=np.uint64)
    mixed ^= mixed >> np.uint64(29)
    mixed *= np.uint64(0xBF58476D1CE4E5B9)
    mixed ^= mixed >> np.uint64(32)
    return np.asarray(mixed[solid.triangles].sum(axis=1, dtype=np.uint64))
