"""`Pocket`: a flat-bottomed round or rounded slot sunk straight into a face, and the cutter that makes it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from prep.geometry.lathe import outline_area, prism, slot_outline
from prep.geometry.solid import Array, Solid


@dataclass(frozen=True, eq=False)
class Pocket:
    """Where a pocket may be sunk, its form in plan, and how deep it may go.

    Attributes
    ----------
    axes : (3, 3)
        Rows: two unit directions across the opening, and the direction in which it opens.
    middle : (2,) mm
        Middle of the mouth, measured along the two directions across.
    radius_mm, length_mm : float
        Of the half circles, and between their centres; length 0 for a round.
    turn_rad : float
        Of the slot, from the first direction across.
    rim_mm, crest_mm : float
        Lowest and highest skin over the mouth, measured along the opening direction.
    deepest_mm : float
        Greatest depth below the rim that keeps the wall.
    above_mm3 : float
        Material over the mouth that stands higher than the rim.
    """

    axes: Array
    middle: Array
    radius_mm: float
    length_mm: float = 0.0
    turn_rad: float = 0.0
    rim_mm: float = 0.0
    crest_mm: float = 0.0
    deepest_mm: float = math.inf
    above_mm3: float = 0.0

    @property
    def out(self) -> Array:
        """Direction in which it opens, (3,)."""
        return np.asarray(self.axes[2])

    @property
    def along(self) -> Array:
        """Direction of the slot, (3,)."""
        cosine, sine = math.cos(self.turn_rad), math.sin(self.turn_rad)
        return np.asarray(cosine * self.axes[0] + sine * self.axes[1])

    @property
    def ends(self) -> Array:
        """Centres of the two half circles in plan, (2, 2)."""
        half = self.length_mm / 2.0 * np.array([math.cos(self.turn_rad), math.sin(self.turn_rad)])
        return np.stack([self.middle - half, self.middle + half])

    @cached_property
    def outline(self) -> Array:
        """The mouth about its own middle with the slot along x, (k, 2); facets stand outside the half circles."""
        return slot_outline(self.radius_mm, self.length_mm)

    @cached_property
    def area_mm2(self) -> float:
        """Area of the faceted mouth."""
        return outline_area(self.outline)

    @property
    def frame(self) -> Array:
        """(4, 4) from the pocket's axes (slot, across it, out; origin in the rim's plane) to the part's."""
        matrix = np.eye(4)
        matrix[:3, 0] = self.along
        matrix[:3, 1] = np.cross(self.out, self.along)
        matrix[:3, 2] = self.out
        matrix[:3, 3] = self.at(0.0)
        return matrix

    @property
    def volume_mm3(self) -> float:
        """Material taken at the greatest depth."""
        return self.area_mm2 * self.deepest_mm + self.above_mm3

    def at(self, height_mm: float) -> Array:
        """The point of the pocket's axis so high above the rim (negative below), (3,) mm."""
        u, v = self.middle
        return np.asarray(u * self.axes[0] + v * self.axes[1] + (self.rim_mm + height_mm) * self.out)

    def cutter(self, depth_mm: float) -> Solid:
        """The solid to take away: it goes on past the highest skin by a share of the cut."""
        top = self.crest_mm - self.rim_mm + max(0.2, 0.1 * depth_mm)
        return prism(self.outline, -depth_mm, top, self.frame)

    def beside(self, plan: Array) -> Array:
        """How far points in plan, (n, 2) mm, lie outside the mouth; negative within, (n,)."""
        start, end = self.ends
        way = end - start
        square = float(way @ way)
        share = np.clip((plan - start) @ way / square, 0.0, 1.0) if square > 0.0 else np.zeros(len(plan))
        return np.asarray(np.linalg.norm(plan - start - share[:, None] * way, axis=1) - self.radius_mm)

    def nearest_to(self, points: Array, depth_mm: float) -> Array:
        """Nearest points of the pocket's room, floor to crest, to points (n, 3), in the frame of `axes`, (n, 3)."""
        local = points @ self.axes.T
        start, end = self.ends
        way = end - start
        square = float(way @ way)
        share = np.clip((local[:, :2] - start) @ way / square, 0.0, 1.0) if square > 0.0 else np.zeros(len(local))
        spine = start + share[:, None] * way
        off = local[:, :2] - spine
        reach = np.linalg.norm(off, axis=1)
        pull = np.minimum(1.0, self.radius_mm / np.maximum(reach, 1e-300))
        level = np.clip(local[:, 2], self.rim_mm - depth_mm, self.crest_mm)
        return np.column_stack([spine + off * pull[:, None], level])

    def distance_to(self, points: Array, depth_mm: float) -> Array:
        """Distance from the pocket's room to points, (n, 3) mm; 0 within, (n,)."""
        return np.asarray(np.linalg.norm(points @ self.axes.T - self.nearest_to(points, depth_mm), axis=1))

    def plan_points(self, rim_mm: float, floor_mm: float) -> tuple[Array, Array]:
        """Points in plan on the mouth's outline and within it, (n, 2) and (m, 2) mm, at about these spacings."""
        corners = self.outline
        loop = np.concatenate([corners, corners[:1]])
        way = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(loop, axis=0), axis=1))])
        places = np.linspace(0.0, way[-1], math.ceil(way[-1] / rim_mm), endpoint=False)
        spaced = np.stack([np.interp(places, way, loop[:, k]) for k in range(2)], axis=1)
        rim = np.concatenate([spaced, corners[:: max(1, len(corners) // len(places))]])
        size = np.abs(corners).max(axis=0)
        across = [np.linspace(-s, s, max(3, 2 * math.ceil(s / floor_mm) + 1)) for s in size]
        lattice = np.stack(np.meshgrid(*across, indexing="ij"), axis=-1).reshape(-1, 2)
        over = np.maximum(np.abs(lattice[:, 0]) - self.length_mm / 2.0, 0.0)
        within = lattice[np.hypot(over, lattice[:, 1]) < self.radius_mm]
        cosine, sine = math.cos(self.turn_rad), math.sin(self.turn_rad)
        turn = np.array([[cosine, sine], [-sine, cosine]])
        return rim @ turn + self.middle, within @ turn + self.middle


def segment_distances(first: Array, second: Array) -> Array:
    """Distance between the segments of each pair in a plane, (n, 2, 2) mm each; 0 where they cross, (n,)."""
    ends = [_to_segment(first[:, k], second) for k in range(2)] + [_to_segment(second[:, k], first) for k in range(2)]
    apart = _side(first, second[:, 0]) * _side(first, second[:, 1])
    across = _side(second, first[:, 0]) * _side(second, first[:, 1])
    return np.where((apart < 0.0) & (across < 0.0), 0.0, np.min(ends, axis=0))


def _to_segment(points: Array, segments: Array) -> Array:
    start, way = segments[:, 0], segments[:, 1] - segments[:, 0]
    square = np.einsum("ij,ij->i", way, way)
    along = np.einsum("ij,ij->i", points - start, way)
    share = np.clip(np.divide(along, square, out=np.zeros_like(along), where=square > 0.0), 0.0, 1.0)
    return np.asarray(np.linalg.norm(points - start - share[:, None] * way, axis=1))


def _side(segments: Array, points: Array) -> Array:
    """Which side of each segment a point lies on, by sign."""
    way, off = segments[:, 1] - segments[:, 0], points - segments[:, 0]
    return np.asarray(way[:, 0] * off[:, 1] - way[:, 1] * off[:, 0])
