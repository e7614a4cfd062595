"""`SeatRoom`: how much room a part has for round seats that open on its skin."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from prep.geometry.distance import Nearest
from prep.geometry.rays import RayScene
from prep.geometry.solid import Array, Solid

OPENS = 0.7
"""Faces turned within 45 degrees of a seat's axis belong to its opening, not to the walls around it."""

RIM_POINTS = 48
LOOK_MM = 3.0
"""How far out of the skin a footprint is looked at from."""


@dataclass(frozen=True)
class Footprint:
    """Height of the skin over a disc square to an axis, measured along it from the place, outward positive.

    Attributes
    ----------
    lowest_mm, highest_mm : (k,) float64
    covered : (k,) bool
        The whole disc lies over skin that faces out, with nothing in the way above it.
    """

    lowest_mm: Array
    highest_mm: Array
    covered: NDArray[np.bool_]


class SeatRoom:
    """A part made ready to be asked about many seats.

    Parameters
    ----------
    solid : Solid
    """

    def __init__(self, solid: Solid) -> None:
        self.solid = solid
        self.scene = RayScene([solid])
        self._walls: dict[tuple[tuple[int, int, int], bool], Nearest | None] = {}

    def footprint(self, points: Array, axes: Array, radius_mm: float | Array, *, look_mm: float = LOOK_MM) -> Footprint:
        """Skin over a disc about each place.

        Parameters
        ----------
        points, axes : (k, 3)
            Places on the skin in mm and unit directions out of it.
        radius_mm : float, or (k,) float64
        """
        disc = disc_points(1.0)
        size = np.broadcast_to(np.asarray(radius_mm, dtype=np.float64), len(points))[:, None, None]
        across, up = square_axes(axes)
        spots = points[:, None] + size * (disc[None, :, :1] * across[:, None] + disc[None, :, 1:] * up[:, None])
        starts = (spots + look_mm * axes[:, None]).reshape(-1, 3)
        down = np.repeat(-axes, len(disc), axis=0)
        hits = self.scene.cast(starts, down)
        height = (look_mm - hits.distance_mm).reshape(len(points), -1)
        met = np.isfinite(hits.distance_mm)
        facing = np.zeros(len(starts), dtype=bool)
        facing[met] = np.einsum("ij,ij->i", self.scene.normals[hits.triangle[met]], down[met]) < 0.0
        covered = (facing.reshape(height.shape) & (height > -look_mm)).all(axis=1)
        low = np.where(np.isfinite(height), height, -np.inf).min(axis=1)
        return Footprint(low, height.max(axis=1), np.asarray(covered))

    def clearance(
        self,
        tops: Array,
        axes: Array,
        *,
        radius_mm: float,
        depth_mm: float,
        rim_mm: float = 0.0,
        sides_only: bool = False,
    ) -> Array:
        """Least material between a round seat and every face but its opening, for each seat, (k,) mm.

        Parameters
        ----------
        tops, axes : (k, 3)
            Middle of the seat's mouth and unit direction out of it.
        radius_mm, depth_mm : float
        rim_mm : float
            How much wider the mouth is than the seat (its chamfer).
        sides_only : bool
            Leave out what lies beyond the floor (a declared skin).

        Notes
        -----
        Exact distance to the triangles from points on the seat's mouth, wall and floor; between points the least may be
        missed by about spacing^2 / (8 radius). Where the floor breaks out: how far it does, negative.
        """
        ring = _ring()
        across, up = square_axes(axes)
        heights = np.linspace(-depth_mm, -rim_mm, max(2, math.ceil(depth_mm / 1.0) + 1))
        rows = [(radius_mm, height) for height in heights] + ([(radius_mm + rim_mm, 0.0)] if rim_mm else [])
        floor = [(radius_mm * share, -depth_mm) for share in (0.0, 0.4, 0.75)]
        local = np.concatenate(
            [np.column_stack([ring * radius, np.full(len(ring), height)]) for radius, height in [*rows, *floor]]
        )
        samples = (
            tops[:, None]
            + local[None, :, :1] * across[:, None]
            + local[None, :, 1:2] * up[:, None]
            + local[None, :, 2:] * axes[:, None]
        )
        least = np.full(len(tops), np.inf)
        for key, chosen in _by_direction(axes):
            tree = self._tree(key, sides_only)
            if tree is None:
                continue
            found = tree.query(samples[chosen].reshape(-1, 3)).distance_mm.reshape(len(chosen), -1)
            least[chosen] = found.min(axis=1)
        below = self.material_below(tops, axes) - depth_mm
        return np.where(below > 0.0, least, below)

    def middle_clearance(self, middles: Array, axes: Array) -> Array:
        """Distance from a seat's middle to every face but its opening, (k,) mm; a quick first sieve."""
        least = np.full(len(middles), np.inf)
        for key, chosen in _by_direction(axes):
            tree = self._tree(key)
            if tree is not None:
                least[chosen] = tree.query(middles[chosen]).distance_mm
        return least

    def side_clearance(self, top: Array, axis: Array, radius_mm: float, depth_mm: float) -> Array:
        """Material beside one seat at `RIM_POINTS` angles about its axis, (RIM_POINTS,) mm."""
        across, up = square_axes(axis[None])
        ring = _ring() * radius_mm
        tree = self._tree(_direction_key(axis))
        if tree is None:
            return np.full(len(ring), np.inf)
        heights = np.linspace(-depth_mm, 0.0, 4)
        points = top + ring[:, :1] * across + ring[:, 1:] * up
        samples = (points[:, None] + heights[None, :, None] * axis).reshape(-1, 3)
        return np.asarray(tree.query(samples).distance_mm.reshape(len(ring), -1).min(axis=1))

    def material_below(self, points: Array, axes: Array) -> Array:
        """Thickness of material under each place, along the axis, (k,) mm."""
        hits = self.scene.cast(points - 2e-2 * axes, -axes)
        return hits.distance_mm + 2e-2

    def in_material(self, point: Array, axis: Array) -> bool:
        """Whether a point lies in material: the first surface along an axis (3,), one way or the other, leads out."""
        ways = np.stack([axis, -axis])
        hits = self.scene.cast(np.stack([point, point]), ways)
        met = hits.triangle >= 0
        outward = np.einsum("ij,ij->i", self.scene.normals[hits.triangle[met]], ways[met]) > 0.0
        return bool(outward.any())

    def travel(self, bottoms: Array, axes: Array, radius_mm: float) -> Array:
        """How far a disc can be drawn out of each seat along its axis before it meets the part, (k,) mm.

        Parameters
        ----------
        bottoms : (k, 3)
            Middle of the disc's leading face, in the open.
        """
        disc = disc_points(radius_mm)
        across, up = square_axes(axes)
        starts = bottoms[:, None] + disc[None, :, :1] * across[:, None] + disc[None, :, 1:] * up[:, None]
        hits = self.scene.cast(starts.reshape(-1, 3), np.repeat(axes, len(disc), axis=0))
        return np.asarray(hits.distance_mm.reshape(len(bottoms), -1).min(axis=1))

    def _tree(self, key: tuple[int, int, int], sides_only: bool = False) -> Nearest | None:
        if (key, sides_only) not in self._walls:
            axis = np.array(key, dtype=np.float64)
            axis /= np.linalg.norm(axis)
            turned = self.solid.triangle_normals @ axis
            walls = (np.abs(turned) if sides_only else turned) <= OPENS
            opening = np.zeros(len(self.solid.vertices), dtype=bool)
            opening[self.solid.triangles[~walls]] = True
            walls &= ~(self.solid.slivers & opening[self.solid.triangles].all(axis=1))
            chosen = np.flatnonzero(walls)
            tree = Nearest(self.solid.vertices, self.solid.triangles[chosen]) if len(chosen) else None
            self._walls[key, sides_only] = tree
        return self._walls[key, sides_only]


def disc_points(radius_mm: float) -> Array:
    """Points over a disc, (n, 2): the middle and four rings, the outermost on the rim."""
    rings = [np.zeros((1, 2))]
    for share, count in ((0.3, 6), (0.6, 12), (0.85, 18), (1.0, RIM_POINTS)):
        angle = np.arange(count) * 2.0 * math.pi / count
        rings.append(np.stack([np.cos(angle), np.sin(angle)], axis=1) * radius_mm * share)
    return np.concatenate(rings)


def square_axes(axes: Array) -> tuple[Array, Array]:
    """Two unit directions square to each axis and to one another, (k, 3) each."""
    unit = np.eye(3)[np.argmin(np.abs(axes), axis=1)]
    across = unit - axes * np.einsum("ij,ij->i", unit, axes)[:, None]
    across /= np.linalg.norm(across, axis=1)[:, None]
    return across, np.cross(axes, across)


def _ring() -> Array:
    angle = np.arange(RIM_POINTS) * 2.0 * math.pi / RIM_POINTS
    return np.stack([np.cos(angle), np.sin(angle)], axis=1)


def _direction_key(axis: Array) -> tuple[int, int, int]:
    x, y, z = np.rint(np.asarray(axis) * 8.0).astype(int)
    return (int(x), int(y), int(z))


def _by_direction(axes: Array) -> list[tuple[tuple[int, int, int], NDArray[np.intp]]]:
    keys = np.rint(axes * 8.0).astype(int)
    distinct, inverse = np.unique(keys, axis=0, return_inverse=True)
    return [
        ((int(key[0]), int(key[1]), int(key[2])), np.flatnonzero(inverse.ravel() == row))
        for row, key in enumerate(distinct)
    ]
