"""`WireRoom`: where the middle line of a wire channel may run in a part, and how much room it has there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy import ndimage

from prep.geometry.air_grid import AirGrid, Mask, air_grid, outer_skin
from prep.geometry.distance import Nearest
from prep.geometry.inside import Inside
from prep.geometry.solid import Array, Solid
from prep.geometry.wire_section import WireSection

MOST_MARGIN_MM = 3.0
"""Room beyond what is needed that still counts as better."""

OPPOSED = -0.7
"""Skin turned within 45 degrees against the wire's way in is its mouth, not a wall beside it."""

SLANT = 0.7
"""How fast, at least, the way from an end leaves what the end stands on, in mm a mm."""

AIR_SHARE = 0.4
"""What a millimetre through hidden air costs against one cut through material."""


@dataclass(frozen=True)
class WireEnd:
    """One end of a wire's way.

    Attributes
    ----------
    at_mm : (3,) mm, on the surface
    into : (3,) unit, from there into the material
    """

    at_mm: Array
    into: Array


@dataclass(frozen=True)
class Along:
    """Points of a way with the lengths of way from its start and to its end, (n, 3), (n,), (n,) mm."""

    points: Array
    from_start: Array
    to_end: Array


class Side:
    """A solid ready to be asked how far outside it points are."""

    def __init__(self, solid: Solid) -> None:
        self.solid = solid
        self.tree = Nearest.of(solid)
        self._inside = Inside(solid.vertices, solid.triangles)

    def height(self, points: Array) -> Array:
        """Distance of each of `points`, (n, 3) mm, from the surface, negative within, (n,)."""
        found = self.tree.query(points)
        return np.where(self._inside.test(points, found), -found.distance_mm, found.distance_mm)


class WireRoom:
    """A part, the parts about it and what the wire must keep clear of, made ready for one section and wall.

    Parameters
    ----------
    others : the other parts, covers on
    blocked : solids to keep the wall from, as they are
    wall_mm : plastic left to the skin one sees and to `blocked`
    side_mm : of the grid's cells
    open_toward : as in `air_grid`

    Attributes
    ----------
    need_mm : how far the middle line keeps from that skin and from `blocked`
    reach_mm : how far it keeps from other parts
    margin : (i, j, k) mm, room at each cell beyond what is needed, at most `MOST_MARGIN_MM`; -inf outside the part
        and its hidden air
    """

    def __init__(
        self,
        host: Solid,
        others: Sequence[Solid],
        blocked: Sequence[Solid],
        section: WireSection,
        wall_mm: float,
        side_mm: float,
        open_toward: Array | None = None,
    ) -> None:
        self.grid: AirGrid = air_grid(host, others, side_mm, open_toward)
        self.section = section
        self.reach_mm = section.reach_mm
        self.need_mm = section.reach_mm + wall_mm
        self.host = Side(host)
        self.others = [Side(other) for other in others]
        self.blocked = [Side(solid) for solid in blocked]
        self._skin = outer_skin(host, self.grid)
        self._skin_normals = _normals(self._skin)
        self.margin = self._margins()

    @cached_property
    def cost(self) -> Array:
        """What a millimetre costs at each cell, (i, j, k): 1 in material, less in hidden air with room about it."""
        side = self.grid.side
        room = ndimage.distance_transform_edt(~self.grid.host, sampling=side) - side / 2.0
        return np.where(self.grid.host, 1.0, np.where(room > self.reach_mm + 0.3, AIR_SHARE, 1.2))

    @cached_property
    def finite_margin(self) -> Array:
        """`margin` with -`need_mm` where there is none at all."""
        return np.maximum(self.margin, -self.need_mm)

    def at(self, points: Array, values: Array) -> Array:
        """Values of the cells between their middles, at `points`, (n, 3) mm."""
        place = ((points - self.grid.low) / self.grid.side - 0.5).T
        return np.asarray(ndimage.map_coordinates(values, place, order=1, mode="nearest"))

    def spare(self, way: Along, start: WireEnd, end: WireEnd) -> Array:
        """Room at points of a way beyond what is asked, (n,) mm, exactly; negative where it may not run.

        Notes
        -----
        At an end the skin turned against it is its mouth, and of what the end stands on the line need only draw away.
        """
        near = np.minimum(way.from_start, way.to_end)
        spare = self._beside_skin(way, start, end) - self.need_mm
        drawn_away = np.minimum(self.need_mm, SLANT * near - 0.05)
        for side, own in zip(self.blocked, self._own(way, start, end), strict=True):
            spare = np.minimum(spare, side.height(way.points) - np.where(own, drawn_away, self.need_mm))
        for side in self.others:
            height = np.where(near >= self.reach_mm / SLANT, side.height(way.points), np.inf)
            spare = np.minimum(spare, height - self.reach_mm)
        seen = self.grid.is_outer(way.points) & (near >= self.need_mm / SLANT)
        return np.where(seen, np.minimum(spare, -self.reach_mm), spare)

    def wall(self, way: Along, start: WireEnd, end: WireEnd) -> Array:
        """From the section's corners to the skin one sees and to what is blocked, mouths left out, (n,) mm, exactly."""
        nearest = self._beside_skin(way, start, end)
        for side, own in zip(self.blocked, self._own(way, start, end), strict=True):
            nearest = np.where(own, nearest, np.minimum(nearest, side.height(way.points)))
        return np.asarray(nearest - self.reach_mm)

    def _own(self, way: Along, start: WireEnd, end: WireEnd) -> list[Mask]:
        """For each blocked solid: the points of the way that still lead out of an end standing on it."""
        lead = self.need_mm / SLANT
        stops = ((way.from_start < lead, start), (way.to_end < lead, end))
        return [
            np.any([close & (side.height(s.at_mm[None])[0] <= self.reach_mm) for close, s in stops], axis=0)
            for side in self.blocked
        ]

    def _beside_skin(self, way: Along, start: WireEnd, end: WireEnd) -> Array:
        """Distance to the skin one sees; beside an end, to what of it is not turned against the wire's way in."""
        if self._skin is None:
            return np.full(len(way.points), np.inf)
        distance = self._skin.query(way.points).distance_mm
        for close, stop in ((way.from_start, start), (way.to_end, end)):
            mouth = close < self.need_mm / SLANT
            if mouth.any():
                kept = self._skin.triangles[self._skin_normals @ stop.into > OPPOSED]
                tree = Nearest(self._skin.vertices, np.ascontiguousarray(kept)) if len(kept) else None
                distance[mouth] = tree.query(way.points[mouth]).distance_mm if tree else np.inf
        return distance

    def _margins(self) -> Array:
        grid, side = self.grid, self.grid.side
        margin = np.where(grid.other | grid.outer, -np.inf, MOST_MARGIN_MM)
        if grid.outer.any():
            rough = ndimage.distance_transform_edt(~grid.outer, sampling=side) - side / 2.0
            if self._skin is not None:
                doubtful = self._doubtful(rough, self.need_mm, grid.host & (margin >= 0.0))
                rough[doubtful] = self._skin.query(self._places(doubtful)).distance_mm
            np.minimum(margin, rough - self.need_mm, out=margin)
        if grid.other.any():
            rough = ndimage.distance_transform_edt(~grid.other, sampling=side) - side / 2.0
            doubtful = self._doubtful(rough, self.reach_mm, margin >= 0.0)
            places = self._places(doubtful)
            for other in self.others:
                found = other.tree.query(places).distance_mm
                rough[doubtful] = np.minimum(rough[doubtful] + side, found)
            np.minimum(margin, rough - self.reach_mm, out=margin)
        for solid in self.blocked:
            low, high = solid.solid.bounds_mm + np.array([[-1.0], [1.0]]) * (self.need_mm + MOST_MARGIN_MM)
            first, last = grid.cells(np.stack([low, high]))
            box = tuple(slice(a, b + 1) for a, b in zip(first, last, strict=True))
            counts = (np.arange(a, b + 1) for a, b in zip(first, last, strict=True))
            steps = np.stack(np.meshgrid(*counts, indexing="ij"), axis=-1)
            height = solid.height((grid.low + (steps + 0.5) * side).reshape(-1, 3)).reshape(steps.shape[:3])
            margin[box] = np.minimum(margin[box], np.where(height > 0.0, height - self.need_mm, -np.inf))
        return np.asarray(margin)

    def _doubtful(self, rough: Array, keep_mm: float, among: Mask) -> Mask:
        """Cells whose distance counted in cells leaves in doubt whether there is room."""
        return np.asarray(among & (np.abs(rough - keep_mm) < 1.5 * self.grid.side))

    def _places(self, mask: Mask) -> Array:
        return np.asarray(self.grid.low + (np.argwhere(mask) + 0.5) * self.grid.side)


def _normals(skin: Nearest | None) -> Array:
    """Unit normals of a tree's triangles, (m, 3)."""
    if skin is None:
        return np.empty((0, 3))
    a, b, c = (skin.vertices[skin.triangles[:, k]] for k in range(3))
    cross = np.cross(b - a, c - a)
    return np.asarray(cross / np.maximum(np.linalg.norm(cross, axis=1), 1e-30)[:, None])
