"""`core_points`: points spread evenly through the sparse core of a print, for quick sums over parts of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from prep.geometry.distance import Nearest
from prep.geometry.inside import Inside
from prep.geometry.solid import Array, Solid

POINTS = 100_000
_RATIO = 1.22074408460575947536
"""Root of x^4 = x + 1: its powers spread points evenly in three dimensions (M. Roberts, 2018; constant from memory)."""


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
    """Points spread evenly through what is deeper than `side_mm` sideways and `skin_mm` along the build direction.

    Parameters
    ----------
    up : (3,) build direction

    Notes
    -----
    For estimates only: a sum over k points is off by less than sqrt(k) of them; `core_of` measures the whole core.
    Cost: at most `POINTS` nearest-point queries.
    """
    axis = np.asarray(up, dtype=np.float64) / np.linalg.norm(up)
    stretch = np.eye(3) + (side_mm / skin_mm - 1.0) * np.outer(axis, axis)
    low, high = solid.bounds_mm
    volume = float(np.prod(high - low))
    count = min(POINTS, int(volume / (0.3 * side_mm) ** 3) + 1)
    shares = (0.5 + np.arange(1, count + 1)[:, None] / _RATIO ** np.arange(1, 4)) % 1.0
    scattered = low + shares * (high - low)
    nearest = Nearest(np.ascontiguousarray(solid.vertices @ stretch), solid.triangles)
    found = nearest.query(scattered @ stretch)
    deep = np.flatnonzero(found.distance_mm > side_mm)
    subset = type(found)(found.distance_mm[deep], found.triangle[deep], found.point[deep])
    within = Inside(nearest.vertices, solid.triangles).test(scattered[deep] @ stretch, subset)
    return CorePoints(scattered[deep[within]], volume / count, side_mm, stretch)
