"""Where a mask's tabs and ears go: on its outside, away from the window, clear of the part."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from prep.geometry.mask_fittings import EAR_MM, ear, frame_at, square_frame, tab
from prep.geometry.patch import Patch
from prep.geometry.rays import RayScene
from prep.geometry.solid import Array, Solid, shared_volume, slice_at
from prep.geometry.split_shell import Parting

Bools = NDArray[np.bool_]

TRIED = 12
ROOT_SHARE = 0.7
"""How deep a fitting reaches into the plastic under it."""
ROOT_MOST_MM = 3.0
BESIDE_MM = 6.0
"""How far round a place the mask is looked at to lay a tab along it."""
BACK_MM = 4.0
"""A tab stands at least so far from the window, where the mask is so wide."""
APART_MM = 2.5
"""Least distance between places tried one after the other."""
SECOND_MM = 25.0
"""A section longer than this has a second ear, so that its halves do not turn on one pin."""
OFF_MM = 1e-3


@dataclass(frozen=True, eq=False)
class Hold:
    """A fitting.

    Attributes
    ----------
    solid : to be united with the mask
    frame : (4, 4), its own axes
    """

    solid: Solid
    frame: Array


@dataclass(frozen=True, eq=False)
class HoldRoom:
    """What tabs and ears have to keep clear of.

    Parameters
    ----------
    points, normals : (n, 3) samples of the mask's skin
    """

    part: Solid
    mask: Solid
    patch: Patch
    points: Array
    normals: Array

    @cached_property
    def part_scene(self) -> RayScene:
        """The part, for rays."""
        return RayScene([self.part])

    @cached_property
    def mask_scene(self) -> RayScene:
        """The mask, for rays."""
        return RayScene([self.mask])

    @cached_property
    def from_edge_mm(self) -> Array:
        """Distance of every sample from the window's edge, (n,)."""
        return np.asarray(np.abs(self.patch.edge_distance(self.points)))

    @cached_property
    def tree(self) -> cKDTree:
        """The samples, by place."""
        return cKDTree(self.points)

    def tab_for(self, chosen: Bools, way: Array, clear: Callable[[Solid], bool]) -> Hold | None:
        """A tab along a way, (3,) unit, on the chosen samples, far from the window and where the skin faces the way.

        Parameters
        ----------
        clear : whether a tab is in nobody's way
        """
        back = min(BACK_MM, 0.5 * float(self.from_edge_mm[chosen].max(initial=0.0)))
        rows = np.flatnonzero(chosen & (self.normals @ way > 0.3) & (self.from_edge_mm >= back))
        starts = self.points[rows] + OFF_MM * self.normals[rows]
        along = np.broadcast_to(way, starts.shape)
        rows = rows[~(self.mask_scene.blocked(starts, along) | self.part_scene.blocked(starts, along))]
        worth = self.from_edge_mm[rows] * (self.normals[rows] @ way) ** 2
        for row in self._apart(rows[np.argsort(-np.round(worth, 3), kind="stable")]):
            at = self.points[row]
            beside = self.points[self.tree.query_ball_point(at, BESIDE_MM)]
            flat = beside - beside.mean(axis=0)
            flat = flat - (flat @ way)[:, None] * way
            main = np.linalg.eigh(flat.T @ flat)[1][:, -1]
            main = main * (1.0 if main[int(np.argmax(np.abs(main)))] > 0.0 else -1.0)
            for out in (way, (way + self.normals[row]) / np.linalg.norm(way + self.normals[row])):
                frame = square_frame(at, out, main)
                body = tab(frame, self._root(row, out))
                if clear(body):
                    return Hold(body, frame)
        return None

    def ears_for(self, body: Solid, parting: Parting) -> list[Hold]:
        """An ear on every connected piece of a section at a parting, far from the window; two on a long one."""
        origin, normal = np.array(parting.origin_mm), np.array(parting.normal)
        along = np.cross(normal, np.eye(3)[int(np.argmin(np.abs(normal)))])
        along /= np.linalg.norm(along)
        across = np.cross(normal, along)
        found = []
        for outline in slice_at(body, origin, normal, along):
            if _twice_area(outline) <= 0.0:
                continue
            flat = _filled_line(outline, 1.0)
            places = origin + flat[:, :1] * along + flat[:, 1:] * across
            first = self._ear(places, normal, np.abs(self.patch.edge_distance(places)))
            if first is None:
                continue
            found.append(first)
            apart = np.linalg.norm(places - first.frame[:3, 3], axis=1)
            if apart.max() > SECOND_MM:
                second = self._ear(places, normal, np.where(apart > 0.5 * apart.max(), apart, -1.0))
                found += [] if second is None else [second]
        return found

    def _ear(self, places: Array, normal: Array, worth: Array) -> Hold | None:
        """An ear at the place of most worth, (k,) and positive, where there is room."""
        rows = np.asarray(self.tree.query(places)[1])
        outward = self.normals[rows] - (self.normals[rows] @ normal)[:, None] * normal
        size = np.linalg.norm(outward, axis=1)
        good = size > 0.7
        outward = np.divide(outward, size[:, None], out=np.zeros_like(outward), where=good[:, None])
        starts = places + 0.2 * outward
        reach = self.part_scene.cast(starts, outward).distance_mm
        good &= (reach > 3.0 * EAR_MM[1]) & ~self.mask_scene.blocked(starts, outward)
        order = np.flatnonzero(good & (worth > 0.0))
        for k in order[np.argsort(-np.round(worth[order], 3), kind="stable")][:TRIED]:
            frame = frame_at(places[k], np.cross(outward[k], normal), outward[k], normal)
            body = ear(frame, self._root(int(rows[k]), outward[k]))
            if shared_volume(body, self.part) <= 0.0:
                return Hold(body, frame)
        return None

    def _root(self, row: int, way: Array) -> float:
        """How deep a fitting that points along a way may be rooted at a sample."""
        start = self.points[row] - OFF_MM * self.normals[row]
        deep = float(self.mask_scene.cast(start[None], -way[None]).distance_mm[0])
        return min(ROOT_SHARE * deep, ROOT_MOST_MM) if np.isfinite(deep) else ROOT_SHARE

    def _apart(self, rows: NDArray[np.intp]) -> list[int]:
        """The first `TRIED` of some samples that are not beside one already taken."""
        kept: list[int] = []
        for row in rows.tolist():
            if not kept or np.linalg.norm(self.points[kept] - self.points[row], axis=1).min() >= APART_MM:
                kept.append(row)
                if len(kept) == TRIED:
                    break
        return kept


def _twice_area(outline: Array) -> float:
    x, y = outline.T
    return float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum())


def _filled_line(outline: Array, spacing: float) -> Array:
    """A closed line with points at most a spacing apart."""
    after = np.roll(outline, -1, axis=0)
    pieces = []
    for a, b in zip(outline, after, strict=True):
        count = max(1, int(np.ceil(np.linalg.norm(b - a) / spacing)))
        pieces.append(a + (np.arange(count) / count)[:, None] * (b - a))
    return np.concatenate(pieces)
