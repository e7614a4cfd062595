"""The shortest way through a wall near a first guess: nearest points of its two skins, to the last triangle."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from prep.geometry.creases import turn_inward_deg
from prep.geometry.solid import Array, Solid
from prep.geometry.triangle_gap import Gaps, nearest_on_triangles, triangle_gaps
from prep.geometry.triangles_near import TrianglesNear

_ROUNDS = 8
_PAIRS = 500
_BATCHES = 4
_TRIES = 12
_LOOKS_DEG = 80.0
_SQUARE_DEG = 3.0
"""How far from square a shortest way may stand on two skins that are parallel on the whole."""


@dataclass(frozen=True)
class Way:
    """A shortest way through material.

    Attributes
    ----------
    start, end : (3,) float64, mm
        On one skin and on the other.
    length_mm : float
    wedge_deg : float
        How far the two skins are from facing each other squarely, inward creases allowed for.
    closes : bool
        The two skins run together there: the length is zero and the wedge is that of a sharp edge.
    """

    start: Array
    end: Array
    length_mm: float
    wedge_deg: float
    closes: bool


class ShortestWays:
    """Shortest ways through the walls of one solid.

    Notes
    -----
    Exact for the triangles as they stand wherever the two skins are flat, or bulge into the material; on two skins
    that both bulge outward (a pin) within 0.14 % of the width across. Cost: some milliseconds a way.
    """

    def __init__(self, solid: Solid) -> None:
        self._solid = solid
        self._near = TrianglesNear(solid)
        self._edge_turn, self._inward_corner = turn_inward_deg(solid)
        self._tiny = 1e-7 * solid.diagonal_mm

    def refine(self, start: Array, end: Array, wedge_deg: float, reach_mm: float) -> Way | None:
        """The shortest way near a guess; None where no pair of triangles faces squarely enough.

        Parameters
        ----------
        start, end : (3,) mm
            The guess: a surface point and the point opposite.
        wedge_deg : float
            How far from parallel the two skins are at the guess.
        reach_mm : float
            How far about each end to look before looking again about the ends found.
        """
        best: Way | None = None
        p, q = start, end
        for _ in range(_ROUNDS):
            found = self._shortest(p, q, max(_SQUARE_DEG, wedge_deg / 2.0 + 1.0), reach_mm)
            if found is None:
                break
            moved = max(np.linalg.norm(found.start - p), np.linalg.norm(found.end - q))
            shorter = best is None or found.length_mm < best.length_mm * (1.0 - 1e-9)
            if shorter:
                best = found
            if found.closes or not shorter or moved < reach_mm / 4.0:
                break
            p, q = found.start, found.end
        return best

    def _shortest(self, p: Array, q: Array, square_deg: float, reach_mm: float) -> Way | None:
        span = float(np.linalg.norm(q - p))
        if span <= self._tiny:
            return None
        along = (q - p) / span
        first = self._skin(p, -along, reach_mm)
        second = self._skin(q, along, reach_mm)
        if len(first) == 0 or len(second) == 0:
            return None
        centroid, radius = self._near.centroid, self._near.radius
        away = np.linalg.norm(centroid[first][:, None] - centroid[second][None], axis=2)
        bound = np.maximum(away - radius[first][:, None] - radius[second][None], 0.0)
        bound[self._hopeless(first, second, square_deg)] = np.inf
        bound = bound.ravel()
        order = np.argsort(bound, kind="stable")
        limit = span * (1.0 + 1e-6) + self._tiny
        best: Way | None = None
        for batch in range(_BATCHES):
            some = order[batch * _PAIRS : (batch + 1) * _PAIRS]
            some = some[bound[some] <= limit]
            if len(some) == 0:
                break
            found = self._best_pair(first[some // len(second)], second[some % len(second)], square_deg)
            if found is not None and found.length_mm < limit:
                best, limit = found, found.length_mm
                if found.closes:
                    break
        return best

    def _skin(self, point: Array, facing: Array, reach_mm: float) -> NDArray[np.int64]:
        rows = self._near.within(point, reach_mm)
        toward = self._solid.triangle_normals[rows] @ facing
        return np.asarray(rows[toward > np.cos(np.radians(_LOOKS_DEG))])

    def _hopeless(self, first: NDArray[np.int64], second: NDArray[np.int64], square_deg: float) -> NDArray[np.bool_]:
        """Pairs without an inward corner whose faces look too far past each other, (len(first), len(second))."""
        triangles, normals = self._solid.triangles, self._solid.triangle_normals
        plain, bare = (np.asarray(~self._inward_corner[triangles[rows]].any(axis=1)) for rows in (first, second))
        past = normals[first] @ normals[second].T > -np.cos(np.radians(2.0 * square_deg))
        return np.asarray(past & plain[:, None] & bare[None])

    def _best_pair(self, first: NDArray[np.int64], second: NDArray[np.int64], square_deg: float) -> Way | None:
        solid = self._solid
        one, other = (solid.vertices[solid.triangles[rows]] for rows in (first, second))
        gaps = triangle_gaps(one, other)
        n, m = solid.triangle_normals[first], solid.triangle_normals[second]
        closes = gaps.distance_mm <= self._tiny
        with np.errstate(invalid="ignore", divide="ignore"):
            along = (gaps.on_second - gaps.on_first) / gaps.distance_mm[:, None]
        raw_one, raw_other = _angle_deg(n, -along), _angle_deg(m, along)
        lean_one = raw_one - self._allowed(first, one, gaps.on_first)
        lean_other = raw_other - self._allowed(second, other, gaps.on_second)
        looks = np.maximum(raw_one, raw_other) <= _LOOKS_DEG
        wedge = np.where(closes, _angle_deg(n, -m), np.maximum(lean_one, 0.0) + np.maximum(lean_other, 0.0))
        square = np.where(closes, wedge <= 2.0 * square_deg, looks & (np.maximum(lean_one, lean_other) <= square_deg))
        rows = np.flatnonzero(square)
        for row in rows[np.argsort(gaps.distance_mm[rows], kind="stable")][:_TRIES]:
            way = _way(gaps, row, wedge, closes)
            if way.closes or (
                (raw_one[row] <= square_deg or self._stands_out(way.start, way.end, square_deg))
                and (raw_other[row] <= square_deg or self._stands_out(way.end, way.start, square_deg))
            ):
                return way
        return None

    def _stands_out(self, point: Array, seen_from: Array, square_deg: float) -> bool:
        """Whether no triangle about a point comes nearer to where it is seen from than the point does itself."""
        rows = self._near.within(point, self._tiny)
        corners = self._solid.vertices[self._solid.triangles[rows]]
        touching = np.linalg.norm(nearest_on_triangles(np.tile(point, (len(rows), 1)), corners) - point, axis=1)
        corners = corners[touching <= self._tiny]
        away = np.linalg.norm(nearest_on_triangles(np.tile(seen_from, (len(corners), 1)), corners) - seen_from, axis=1)
        own = float(np.linalg.norm(point - seen_from))
        return bool(away.min(initial=own) >= own * np.cos(np.radians(square_deg)))

    def _allowed(self, rows: NDArray[np.int64], corners: Array, point: Array) -> Array:
        """How far a normal may lean because the point lies on an inward crease or corner of its triangle."""
        allowed = np.zeros(len(rows))
        for k in range(3):
            a, b = corners[:, k], corners[:, (k + 1) % 3]
            at = np.linalg.norm(point - a, axis=1) <= self._tiny
            allowed = np.where(at & self._inward_corner[self._solid.triangles[rows, k]], 90.0, allowed)
            side = b - a
            length = np.linalg.norm(side, axis=1)
            off = np.linalg.norm(np.cross(point - a, side), axis=1)
            on = off <= self._tiny * np.maximum(length, self._tiny)
            allowed = np.where(on, np.maximum(allowed, self._edge_turn[rows, k]), allowed)
        return allowed


def _way(gaps: Gaps, row: int, wedge: Array, closes: NDArray[np.bool_]) -> Way:
    return Way(
        gaps.on_first[row], gaps.on_second[row], float(gaps.distance_mm[row]), float(wedge[row]), bool(closes[row])
    )


def _angle_deg(a: Array, b: Array) -> Array:
    return np.asarray(np.degrees(np.arccos(np.clip(np.einsum("ij,ij->i", a, b), -1.0, 1.0))))
