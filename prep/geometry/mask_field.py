"""`MaskField`: positive where a spray mask's plastic is, from distances to the part and to the window's edge."""

from __future__ import annotations

from dataclasses import dataclass

import igl
import numpy as np
from numpy.typing import NDArray

from prep.geometry.distance import Nearest
from prep.geometry.offset_grid import SignedDistance
from prep.geometry.patch import Patch
from prep.geometry.solid import Array

RAMP = 1.0
"""Slope from the land up to the relief, and from the lip up to the wall: 45 degrees, which prints without support."""

END_SHARE = 0.45
"""Radius at the end of reach, as a share of the wall."""


@dataclass(frozen=True)
class MaskForm:
    """Measures of a mask, mm and degrees.

    Attributes
    ----------
    land_mm : width of the contact along the window's edge
    gap_mm : between land and skin
    relief_mm : between skin and plastic behind the land
    lip_mm : thickness at the edge
    step_mm : how far back from the edge the lip begins to thicken
    wall_mm : thickness behind that
    flare_deg : how far the edge face leans back, from the skin's normal
    reach_mm : how far from the window's edge clean skin is covered
    """

    land_mm: float
    gap_mm: float
    relief_mm: float
    lip_mm: float
    wall_mm: float
    reach_mm: float
    step_mm: float = 3.2
    flare_deg: float = 30.0

    def underside(self, s: Array) -> Array:
        """Height of the underside behind the land at distances s from the edge; below `gap_mm` on the land."""
        return np.asarray(np.minimum(self.gap_mm + RAMP * (s - self.land_mm), self.relief_mm))

    def outside(self, s: Array) -> Array:
        """Height of the outside at distances s from the edge; parallel to the underside while the lip lasts."""
        lead = self.lip_mm * np.tan(np.arctan(RAMP) / 2.0)
        thickness = self.lip_mm + np.clip(RAMP * (s - self.step_mm), 0.0, self.wall_mm - self.lip_mm)
        return np.asarray(thickness + np.maximum(self.underside(s + lead), self.gap_mm))

    @property
    def top_mm(self) -> float:
        """Greatest height of the outside."""
        return max(self.relief_mm, self.gap_mm) + self.wall_mm

    @property
    def settled_mm(self) -> float:
        """How far from the edge lip and wall have their full measures."""
        return max(self.step_mm + self.wall_mm - self.lip_mm, self.land_mm + self.relief_mm)


class MaskField:
    """Positive inside the mask, as four surfaces that bound it: underside, outside, edge face, and the end of reach.

    Parameters
    ----------
    patch : the window to leave open
    turned : (m,) bool, clean triangles that are not covered
    dip_mm : how deep the land reaches into the part, from which it is cut afterwards

    Notes
    -----
    With d the signed distance to the skin and e the distance to the window's edge, s = sqrt(e^2 - d^2) is the distance
    along the skin from the edge; exact on flat skin, and off by a share d / 2R on skin of radius R. Its sign says on
    which side of the edge the nearest point of the skin lies.
    """

    def __init__(self, patch: Patch, turned: NDArray[np.bool_], form: MaskForm, dip_mm: float) -> None:
        self.form = form
        self.dip_mm = dip_mm
        self._inside = patch.inside
        self._turned = turned
        self.distance = SignedDistance(patch.vertices, patch.triangles)
        self._covered = Nearest(patch.vertices, np.ascontiguousarray(patch.triangles[~(patch.inside | turned)]))
        self._edge = EdgeDistance(patch.vertices, sides_between(patch.triangles, patch.inside, ~patch.inside))
        rim = sides_between(patch.triangles, turned, ~(turned | patch.inside))
        self._rim = EdgeDistance(patch.vertices, rim) if len(rim) else None

    def along(self, points: Array) -> tuple[Array, Array, NDArray[np.int64]]:
        """Distance d to the skin, distance s along it from the window's edge, and the nearest triangle, each (n,)."""
        d, triangle = self.distance.at(points)
        s = np.sqrt(np.maximum(self._edge.at(points) ** 2 - d**2, 0.0))
        return d, np.where(self._inside[triangle], -s, s), triangle

    def value(self, points: Array, from_mm: float, to_mm: float, fuller_mm: float) -> Array:
        """The field at points (n, 3), for the stretch of mask between two distances from the edge.

        Parameters
        ----------
        fuller_mm : how much nearer the part, and how much farther out, the mask's two sides are taken
        """
        form = self.form
        d, s, triangle = self.along(points)
        under = np.maximum(form.underside(s), form.gap_mm - self.dip_mm) - fuller_mm
        edge = s - np.tan(np.radians(form.flare_deg)) * (d - form.gap_mm)
        end = form.reach_mm - s
        if self._rim is not None:
            beyond = np.sqrt(np.maximum(self._rim.at(points) ** 2 - d**2, 0.0))
            end = np.minimum(end, np.where(self._turned[triangle], -beyond, beyond))
        radius = END_SHARE * form.wall_mm
        out = _rounded(form.outside(s) + fuller_mm - d, end, radius)
        found = np.minimum.reduce([_rounded(d - under, end, radius), out, edge, to_mm - s, s - from_mm])
        return np.asarray(found)

    def near(self, points: Array, reach_mm: float, from_mm: float, to_mm: float) -> NDArray[np.bool_]:
        """Whether that stretch of mask may have its surface within a distance of each point."""
        top = self.form.top_mm
        d, triangle = self.distance.at(points)
        kept: NDArray[np.bool_] = (d >= -self.dip_mm - reach_mm) & (d <= top + reach_mm)
        rows = np.flatnonzero(kept)
        e = self._edge.at(points[rows])
        kept[rows] = (e <= np.hypot(to_mm, max(top, self.dip_mm)) + reach_mm) & (e >= from_mm - reach_mm)
        rows = np.flatnonzero(kept & (self._inside | self._turned)[triangle])
        kept[rows] = self._covered.query(points[rows]).distance_mm <= top + reach_mm
        return kept


def _rounded(a: Array, b: Array, radius: float) -> Array:
    """The lesser of two fields, the corner between their zeros rounded."""
    inner = np.maximum(np.minimum(a, b), radius)
    return np.asarray(inner - np.hypot(np.maximum(radius - a, 0.0), np.maximum(radius - b, 0.0)))


class EdgeDistance:
    """Distance to a set of straight sides.

    Parameters
    ----------
    vertices : (n, 3) mm
    sides : (e, 2), at least one
    """

    def __init__(self, vertices: Array, sides: NDArray[np.int32]) -> None:
        self._vertices = np.ascontiguousarray(vertices)
        self._sides = np.ascontiguousarray(sides)
        self._tree = igl.AABB()
        self._tree.init(self._vertices, self._sides)

    def at(self, points: Array) -> Array:
        """Distance of each of `points`, (n, 3) mm."""
        if len(points) == 0:
            return np.empty(0)
        squared = self._tree.squared_distance(self._vertices, self._sides, np.ascontiguousarray(points))[0]
        return np.sqrt(np.maximum(np.asarray(squared, dtype=np.float64), 0.0))


def sides_between(triangles: NDArray[np.int32], one: NDArray[np.bool_], other: NDArray[np.bool_]) -> NDArray[np.int32]:
    """Sides shared by a triangle of `one` and one of `other`, (e, 2), as the first runs them; both are (m,) bool."""
    size = np.int64(triangles.max()) + 1

    def run(chosen: NDArray[np.bool_], *, forward: bool) -> NDArray[np.int64]:
        start = triangles[chosen].astype(np.int64)
        end = np.roll(start, -1, axis=1)
        return np.asarray((start * size + end if forward else end * size + start).ravel())

    shared = np.intersect1d(run(one, forward=True), run(other, forward=False))
    return np.stack([shared // size, shared % size], axis=1).astype(np.int32)
