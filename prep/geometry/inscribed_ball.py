"""The largest ball inside a solid that touches its surface at a given point."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from prep.geometry.distance import Nearest
from prep.geometry.solid import Array

_ROUNDS = 8
_OWN_SIDE_DEG = 20.0
"""A second touch turned less than this from the first is the same skin's faceting, not another face."""


@dataclass(frozen=True)
class Balls:
    """Inscribed balls, and where each one touches the far side.

    Attributes
    ----------
    diameter_mm : (n,) float64
        Of the largest ball tangent at the point, up to the diameter it was started with.
    opposed_mm : (n,) float64
        Diameter of the smallest ball met on the way whose second touch was opposed; infinite if none was. It is the
        inscribed ball itself unless an outward edge beside the point cut that one smaller still.
    touch : (n, 3) float64, mm
        Where the opposed ball touches the far side.
    triangle : (n,) int64
        Triangle of that touch; -1 if there is none.
    wedge_deg : (n,) float64
        180 degrees less the angle between the two radii to the touches of the opposed ball: 0 between parallel faces,
        the wedge's own angle inside a wedge.
    """

    diameter_mm: Array
    opposed_mm: Array
    touch: Array
    triangle: NDArray[np.int64]
    wedge_deg: Array


def inscribed_balls(
    nearest: Nearest,
    normals: Array,
    point: Array,
    normal: Array,
    start_mm: Array,
    widest_wedge_deg: float,
    exact_below_mm: float = np.inf,
) -> Balls:
    """Shrink a ball tangent at each point until no surface is left inside it.

    Parameters
    ----------
    normals : (m, 3) float64
        Unit outward normals of the triangles that `nearest` was built on.
    point, normal : (n, 3) float64
        Surface points in mm and unit outward normals.
    start_mm : (n,) float64
        Diameters to start from, no smaller than the answer or the cap on it.
    widest_wedge_deg : float
        A touch counts as opposed up to this wedge angle.
    exact_below_mm : float
        A larger ball that shrinks by less than a fortieth of its radius is taken as it then is, without asking again.

    Notes
    -----
    Each round asks for the nearest surface point q of every centre not yet free, and takes the ball through q that is
    tangent at p: radius |p - q|^2 / (2 n.(p - q)). The radius falls strictly and the iteration ends at the inscribed
    ball; it stops early where q is turned less than 20 degrees from p, which is faceting of the same skin.
    Cost: one nearest-point query a point, and one more for every round a ball still shrinks; at most 8.

    References
    ----------
    J. Ma, S. W. Bae, S. Choi, "3D medial axis point approximation using nearest neighbors and the normal field",
    The Visual Computer 28 (2012).
    """
    count = len(point)
    radius = np.array(start_mm) / 2.0
    opposed = np.full(count, np.inf)
    touch = np.zeros((count, 3))
    triangle = np.full(count, -1, dtype=np.int64)
    wedge = np.full(count, 180.0)
    size = float(np.abs(nearest.vertices).max()) if len(nearest.vertices) else 1.0
    squarely = np.cos(np.radians(widest_wedge_deg))
    rows = np.arange(count)
    last = _Touches.none()
    for _ in range(_ROUNDS):
        found = nearest.query(point[rows] - radius[rows, None] * normal[rows])
        within = found.distance_mm < radius[rows] * (1.0 - 1e-6) - 1e-12 * size
        free = last.of(~within) if len(last.turn) else last
        tangent = free.of(180.0 - free.turn <= widest_wedge_deg)
        _note(opposed, touch, triangle, wedge, tangent)
        rows = rows[within]
        if len(rows) == 0:
            break
        q = found.point[within]
        owner = found.triangle[within]
        apart = point[rows] - q
        depth = np.einsum("ij,ij->i", normal[rows], apart)
        square = np.einsum("ij,ij->i", apart, apart)
        with np.errstate(divide="ignore", invalid="ignore"):
            smaller = square / (2.0 * depth)
            turn = np.degrees(np.arccos(np.clip(1.0 - depth / smaller, -1.0, 1.0)))
        fair = (depth > 0.0) & (smaller < radius[rows]) & (turn > _OWN_SIDE_DEG)
        hardly = (found.distance_mm[within] > 0.975 * radius[rows]) & (2.0 * smaller > exact_below_mm)
        rows = rows[fair]
        last = _Touches(rows, smaller[fair], q[fair], owner[fair], turn[fair])
        radius[rows] = last.radius
        facing = -np.einsum("ij,ij->i", normal[rows], normals[last.triangle])
        closing = 180.0 - last.turn <= widest_wedge_deg
        _note(opposed, touch, triangle, wedge, last.of(closing & ((facing >= squarely) | hardly[fair])))
        rows, last = rows[~hardly[fair]], last.of(~hardly[fair])
    return Balls(2.0 * radius, opposed, touch, triangle, wedge)


@dataclass(frozen=True)
class _Touches:
    rows: NDArray[np.intp]
    radius: Array
    point: Array
    triangle: NDArray[np.int64]
    turn: Array

    @classmethod
    def none(cls) -> _Touches:
        return cls(np.empty(0, dtype=np.intp), np.empty(0), np.empty((0, 3)), np.empty(0, dtype=np.int64), np.empty(0))

    def of(self, some: NDArray[np.bool_]) -> _Touches:
        return _Touches(self.rows[some], self.radius[some], self.point[some], self.triangle[some], self.turn[some])


def _note(opposed: Array, touch: Array, triangle: NDArray[np.int64], wedge: Array, seen: _Touches) -> None:
    opposed[seen.rows] = 2.0 * seen.radius
    touch[seen.rows] = seen.point
    triangle[seen.rows] = seen.triangle
    wedge[seen.rows] = 180.0 - seen.turn
