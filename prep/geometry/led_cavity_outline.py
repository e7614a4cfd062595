"""`Outline`: rounds, slots and rectangles about an axis, told by how far they reach in every direction."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from prep.geometry.solid import Array


@dataclass(frozen=True)
class Outline:
    """A rectangle with rounded corners about the origin; a round where the corner is as large as both halves.

    Attributes
    ----------
    half_u_mm, half_v_mm : half sizes along the first and the second axis
    corner_mm : radius of the corners, at most the smaller half
    """

    half_u_mm: float
    half_v_mm: float
    corner_mm: float

    @classmethod
    def round(cls, diameter_mm: float) -> Outline:
        """A circle."""
        return cls(diameter_mm / 2.0, diameter_mm / 2.0, diameter_mm / 2.0)

    @classmethod
    def slot(cls, long_mm: float, wide_mm: float) -> Outline:
        """A slot whose ends are half circles, along the first axis."""
        return cls(long_mm / 2.0, wide_mm / 2.0, min(long_mm, wide_mm) / 2.0)

    @classmethod
    def rectangle(cls, u_mm: float, v_mm: float) -> Outline:
        """A rectangle with sharp corners."""
        return cls(u_mm / 2.0, v_mm / 2.0, 0.0)

    @property
    def is_round(self) -> bool:
        """Whether it is a circle."""
        return self.half_u_mm == self.half_v_mm == self.corner_mm

    @property
    def farthest_mm(self) -> float:
        """From the middle to the farthest point."""
        c = self.corner_mm
        return math.hypot(self.half_u_mm - c, self.half_v_mm - c) + c

    @property
    def area_mm2(self) -> float:
        """Area inside."""
        return 4.0 * self.half_u_mm * self.half_v_mm - (4.0 - math.pi) * self.corner_mm**2

    @property
    def length_mm(self) -> float:
        """Length all round."""
        return 4.0 * (self.half_u_mm + self.half_v_mm) - (8.0 - 2.0 * math.pi) * self.corner_mm

    def grown(self, by_mm: float) -> Outline:
        """The outline moved outward by a length, corners rounded about their own middles."""
        return Outline(self.half_u_mm + by_mm, self.half_v_mm + by_mm, max(self.corner_mm + by_mm, 0.0))

    def around(self, other: Outline) -> Outline:
        """The smallest of its kind that holds both; its corners are the sharper ones."""
        if self.is_round and other.is_round:
            return max(self, other, key=lambda one: one.half_u_mm)
        half_u, half_v = max(self.half_u_mm, other.half_u_mm), max(self.half_v_mm, other.half_v_mm)
        return Outline(half_u, half_v, min(self.corner_mm, other.corner_mm))

    def holds(self, other: Outline) -> bool:
        """Whether the other lies within, edges allowed to touch."""
        angle = np.linspace(0.0, 2.0 * math.pi, 361)
        return bool((self.reach(angle) - other.reach(angle)).min() >= -1e-9)

    def reach(self, angle: Array) -> Array:
        """How far it reaches from the middle at each angle, (n,) mm."""
        a, b, c = self.half_u_mm, self.half_v_mm, self.corner_mm
        cos, sin = np.abs(np.cos(angle)), np.abs(np.sin(angle))
        with np.errstate(divide="ignore"):
            flat = np.minimum(a / cos, b / sin)
        middle = np.array([a - c, b - c])
        along = cos * middle[0] + sin * middle[1]
        rest = np.maximum(along**2 - (middle @ middle - c * c), 0.0)
        corner = along + np.sqrt(rest)
        in_corner = (flat * cos > middle[0] + 1e-12) & (flat * sin > middle[1] + 1e-12)
        return np.where(in_corner, corner, flat)

    def angles(self, spacing_mm: float) -> Array:
        """Angles of points evenly spread along the outline, (n,), n a multiple of 8 and at least 64."""
        count = max(64, 8 * math.ceil(self.length_mm / spacing_mm / 8.0))
        if self.is_round:
            return (np.arange(count) + 0.5) * 2.0 * math.pi / count
        fine = np.linspace(0.0, 2.0 * math.pi, 16 * count + 1)
        spots = self.reach(fine)[:, None] * np.stack([np.cos(fine), np.sin(fine)], axis=1)
        run = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(spots, axis=0), axis=1))])
        return np.asarray(np.interp((np.arange(count) + 0.5) / count * run[-1], run, fine))

    def ring(self, angle: Array) -> Array:
        """Points of a polygon with corners at these angles that lies nowhere inside the outline, (n, 2) mm.

        Notes
        -----
        The outline is moved outward by the sagitta that its longest chord would have within a corner, and a twentieth;
        a sharp corner is cut by at most half of that chord, so let corners be sharp only where that does no harm.
        """
        way = np.stack([np.cos(angle), np.sin(angle)], axis=1)
        if self.is_round:
            step = float(np.diff(np.concatenate([angle, [angle[0] + 2.0 * math.pi]])).max())
            return np.asarray(self.half_u_mm / math.cos(step / 2.0) * way)
        spots = self.reach(angle)[:, None] * way
        half = float(np.linalg.norm(np.roll(spots, -1, axis=0) - spots, axis=1).max()) / 2.0
        corner = self.corner_mm
        sag = 1.05 * (corner - math.sqrt(corner**2 - half**2)) if half < corner else 0.0
        return np.asarray(self.grown(sag).reach(angle)[:, None] * way)
