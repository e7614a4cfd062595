"""`core_points`: points spread evenly through the sparse core of a print, for quick sums over parts of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from prep.geometry.distance import Nearest
from prep.geometry.inside import Inside
from prep.geometry.solid import Array, Solid

MOST_POINTS = 120_000


@dataclass(frozen=True)
class CorePoints:
    """Points of the core of a print.

    Attributes
    ----------
    points : (n, 3) mm
    each_mm3 : volume that each stands for
    side_mm : how deep the shell reaches sideways
    stretch : (3, 3) symmetric; in the frame stretched by it the shell is `side_mm` thick in all directions
    """

    points: Array
    each_mm3: float
    side_mm: float
    stretch: Array


def core_points(solid: Solid, side_mm: float, skin_mm: float, up: Array) -> CorePoints:
    """A lattice of points deeper than `side_mm` sideways and `skin_mm` along the build direction.

    Parameters
    ----------
    up : (3,) build direction

    Notes
    -----
    For estimates only: a sum over k points is off by about sqrt(k) of them; `core_of` measures the whole core. Cost:
    at most `MOST_POINTS` nearest-point queries.
    """
    axis = np.asarray(up, dtype=np.float64) / np.linalg.norm(up)
    stretch = np.eye(3) + (side_mm / skin_mm - 1.0) * np.outer(axis, axis)
    low, high = solid.bounds_mm
    pitch = max(0.5 * side_mm, float(np.prod(high - low) / MOST_POINTS) ** (1.0 / 3.0))
    rows = [
        start + pitch * (np.arange(int((end - start) / pitch) + 1) + 0.5) for start, end in zip(low, high, strict=True)
    ]
    lattice = np.stack(np.meshgrid(*rows, indexing="ij"), axis=-1).reshape(-1, 3)
    nearest = Nearest(np.ascontiguousarray(solid.vertices @ stretch), solid.triangles)
    found = nearest.query(lattice @ stretch)
    deep = np.flatnonzero(found.distance_mm > side_mm)
    subset = type(found)(found.distance_mm[deep], found.triangle[deep], found.point[deep])
    within = Inside(nearest.vertices, solid.triangles).test(lattice[deep] @ stretch, subset).inside
    return CorePoints(lattice[deep[within]], pitch**3, side_mm, stretch)
