"""`core_of`: the volume and middle of what lies deeper in a solid than the printed walls and skins."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from prep.errors import ShellOneSided
from prep.geometry.cut_cube import cut_cubes
from prep.geometry.distance import Nearest
from prep.geometry.inside import Inside
from prep.geometry.solid import Array, Solid

CELLS_AT_ONCE = 1 << 13
"""Cells taken up together, which bounds the memory."""

COARSEST = 4.0
"""Size of the first cells, in shell thicknesses, at least."""

FLAT = 0.1
"""How far the depth at a cell's corners may be off its tangent plane for the plane to stand for it, in finest cells."""

COVERED = math.sqrt(5.0) / 4.0
"""Farthest that a point of a cube is from its middle or a corner, in edges."""

REFLEX = 0.05
"""How far a tangent plane must lie below the depth to show a reflex bend, in cells."""

NO_CORE = 0.25
"""How far below 0 the least tangent plane must stay at 64 points of a cell for it to hold no core, in cells."""

OPPOSED = -0.95
"""Cosine between two gradients of depth below which they belong to the two sides of a thin sheet."""

_CORNERS = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)], dtype=np.int64)
_OFFSETS = np.concatenate([np.zeros((1, 3)), _CORNERS - 0.5])
"""Middle and corners of a cell about its middle, in cells."""

_SUB = (np.stack(np.meshgrid(*[np.arange(4)] * 3, indexing="ij"), axis=-1).reshape(-1, 3) + 0.5) / 4.0 - 0.5


@dataclass(frozen=True)
class Core:
    """What lies deeper than the printed shell.

    Attributes
    ----------
    volume_mm3 : 0 where the part is all shell
    centre_mm : (3,) centroid; the solid's own where there is no core
    error_mm3 : how far off the volume may be
    """

    volume_mm3: float
    centre_mm: Array
    error_mm3: float


def core_of(solid: Solid, side_mm: float, skin_mm: float, up: Array, cell_mm: float | None = None) -> Core:
    """The core of a print: points deeper than `side_mm` sideways and `skin_mm` along the build direction.

    Parameters
    ----------
    side_mm : walls times bead width
    skin_mm : top or bottom layers times layer height
    up : (3,) build direction
    cell_mm : finest cell; default a third of `side_mm`

    Raises
    ------
    ShellOneSided
        One of the two thicknesses is 0 and the other is not.

    Notes
    -----
    Depth is Euclidean in a frame stretched along `up` by side_mm / skin_mm, so that the shell is equally thick in
    all directions there and its outer corners stay sharp. Cells of a grid at multiples of `cell_mm` from the origin
    are settled by the depth at their middle or split in eight; a cell stops where its corners lie on its tangent
    plane, with the curvature they show put right. Error of second order in `cell_mm`. Cost: O((A / cell_mm^2 + A /
    side_mm^2) log m) on kinks and on flats, a bounded number of cells in memory.
    """
    if side_mm <= 0.0 and skin_mm <= 0.0:
        return Core(solid.volume_mm3, solid.centre_mm, 0.0)
    if side_mm <= 0.0 or skin_mm <= 0.0:
        raise ShellOneSided(
            "a print with walls but no skins, or skins but no walls, has no shell to weigh",
            found=f"walls {side_mm:g} mm, skins {skin_mm:g} mm",
            fix="give the process both, or set `solid` to yes",
        )
    axis = np.asarray(up, dtype=np.float64) / np.linalg.norm(up)
    stretch = np.eye(3) + (side_mm / skin_mm - 1.0) * np.outer(axis, axis)
    search = _Search(solid.vertices @ stretch, solid, side_mm, cell_mm or side_mm / 3.0)
    search.run()
    factor = skin_mm / side_mm
    if search.volume <= 0.0:
        return Core(0.0, solid.centre_mm, search.error * factor)
    centre = np.asarray(np.linalg.solve(stretch, search.moment / search.volume), dtype=np.float64)
    return Core(search.volume * factor, centre, search.error * factor)


@dataclass(frozen=True)
class _Depth:
    """Depth below the shell at points, positive in the core, its gradient, and the distance to the surface."""

    value: Array
    gradient: Array
    distance: Array

    def rows(self, kept: NDArray[np.bool_] | NDArray[np.int64]) -> _Depth:
        return _Depth(self.value[kept], self.gradient[kept], self.distance[kept])


class _Search:
    """One descent from coarse cells to fine ones, summing what lies in the core."""

    def __init__(self, vertices: Array, solid: Solid, side: float, cell: float) -> None:
        self.side = side
        self.cell = cell
        self.tiny = 1e-9 * side
        self.low, self.high = vertices.min(axis=0) + side, vertices.max(axis=0) - side
        reach = max(COARSEST * side, float(np.ptp(vertices, axis=0).max()) / 64.0)
        self.levels = max(0, math.ceil(math.log2(reach / cell)))
        self.nearest = Nearest(np.ascontiguousarray(vertices), solid.triangles)
        self.inside = Inside(self.nearest.vertices, solid.triangles)
        self.volume = 0.0
        self.moment = np.zeros(3)
        self.error = 0.0

    def run(self) -> None:
        if (self.low >= self.high).any():
            return
        size = self.cell * 2**self.levels
        first = np.floor(self.low / size).astype(np.int64)
        counts = np.floor(self.high / size).astype(np.int64) - first + 1
        total = int(counts.prod())
        for start in range(0, total, CELLS_AT_ONCE):
            which = np.arange(start, min(start + CELLS_AT_ONCE, total))
            cells = first + np.stack(np.unravel_index(which, tuple(counts)), axis=1)
            waiting = [(self.levels, cells)]
            while waiting:
                level, cells = waiting.pop()
                split = self._settle(level, cells[:CELLS_AT_ONCE])
                if len(cells) > CELLS_AT_ONCE:
                    waiting.append((level, cells[CELLS_AT_ONCE:]))
                if len(split):
                    waiting.append((level - 1, (2 * split[:, None, :] + _CORNERS).reshape(-1, 3)))

    def _settle(self, level: int, cells: NDArray[np.int64]) -> NDArray[np.int64]:
        """Sum up the cells that are settled; the others, to be split."""
        size = self.cell * 2.0**level
        half_diagonal = size * math.sqrt(3.0) / 2.0
        middles = np.asarray((cells + 0.5) * size, dtype=np.float64)
        depth = self._depth(middles, half_diagonal)
        full = depth.value >= half_diagonal
        self._add(middles[full], np.full(int(full.sum()), size**3), np.zeros((int(full.sum()), 3)))
        apart = (depth.value < -half_diagonal) & (depth.distance > half_diagonal)
        mixed = ~full & ~apart & (depth.distance + half_diagonal > self.side)
        cells, middles, depth = cells[mixed], middles[mixed], depth.rows(mixed)
        if level > 0 and size > self.side:
            return cells
        corner = self._corner_depths(cells, size)
        offsets = (_CORNERS - 0.5) * size
        plane = depth.value[:, None] + depth.gradient @ offsets.T
        bend = np.maximum(corner.value, -size / 2.0) - np.maximum(plane, -size / 2.0)
        flat = np.abs(bend).max(axis=1, initial=0.0) <= FLAT * self.cell
        curvature = bend.mean(axis=1) / 3.0
        volume, moment = cut_cubes(size, (depth.value + curvature)[flat], depth.gradient[flat])
        self._add(middles[flat], volume, moment)
        cut = (volume > 0.0) & (volume < size**3)
        self.error += float(np.abs(curvature[flat][cut]).sum()) * size**2 / 4.0
        cells, middles, depth, corner = cells[~flat], middles[~flat], depth.rows(~flat), corner.rows(~flat)
        around = _Depth(
            np.concatenate([depth.value[:, None], corner.value], axis=1),
            np.concatenate([depth.gradient[:, None, :], corner.gradient], axis=1),
            np.concatenate([depth.distance[:, None], corner.distance], axis=1),
        )
        hopeful = _may_hold_core(around, size)
        if level > 0:
            return np.asarray(cells[hopeful])
        self._sum_kinks(middles[hopeful], around.rows(hopeful), size)
        return cells[:0]

    def _sum_kinks(self, middles: Array, around: _Depth, size: float) -> None:
        """Sum up finest cells that no plane fits: eighths by their own planes, less what the far side takes."""
        eighths = _OFFSETS[1:] * size / 2.0
        points = (middles[:, None, :] + eighths).reshape(-1, 3)
        depth = self._depth(points, self.side)
        piece = size / 2.0
        volume, moment = cut_cubes(piece, depth.value, depth.gradient)
        planes = _tangents(around, size, eighths)
        slope = depth.gradient.reshape(-1, 8, 3) @ around.gradient.transpose(0, 2, 1)
        far = np.where(slope < OPPOSED, planes.transpose(0, 2, 1), np.inf).min(axis=2, initial=np.inf).ravel()
        lost = 1.0 - np.clip(0.5 + far / piece, 0.0, 1.0)
        kept = np.maximum(volume - lost * piece**3, 0.0)
        share = np.divide(kept, volume, out=np.zeros_like(kept), where=volume > 0.0)
        self._add(points, kept, moment * share[:, None])
        self.error += float((kept.reshape(-1, 8).max(axis=1, initial=0.0) > 0.0).sum()) * size**3 / 40.0

    def _depth(self, points: Array, certain: float) -> _Depth:
        """Depth at points; those farther in the shell than `certain` need no side."""
        found = self.nearest.query(points)
        deep = np.flatnonzero(found.distance_mm + certain > self.side)
        subset = type(found)(found.distance_mm[deep], found.triangle[deep], found.point[deep])
        sign = np.full(len(points), -1.0)
        sign[deep[self.inside.test(points[deep], subset)]] = 1.0
        reach = found.distance_mm[:, None]
        on_surface = -self.inside.face_normals[found.triangle]
        gradient = np.divide((points - found.point) * sign[:, None], reach, out=on_surface, where=reach > self.tiny)
        return _Depth(sign * found.distance_mm - self.side, gradient, found.distance_mm)

    def _corner_depths(self, cells: NDArray[np.int64], size: float) -> _Depth:
        """Depth at the eight corners of each cell, (n, 8) and (n, 8, 3); each shared corner asked once."""
        corners = (cells[:, None, :] + _CORNERS).reshape(-1, 3)
        if len(corners) == 0:
            return self._depth(np.empty((0, 3)), self.side).rows(np.empty((0, 8), dtype=np.int64))
        low = corners.min(axis=0)
        span = np.ptp(corners, axis=0) + 1
        key = np.ravel_multi_index(tuple((corners - low).T), tuple(span))
        _, first, back = np.unique(key, return_index=True, return_inverse=True)
        depth = self._depth(np.asarray(corners[first] * size, dtype=np.float64), self.side)
        return depth.rows(back.reshape(-1, 8))

    def _add(self, middles: Array, volume: Array, moment: Array) -> None:
        self.volume += float(volume.sum())
        self.moment += volume @ middles + moment.sum(axis=0)


def _tangents(around: _Depth, size: float, points: Array) -> Array:
    """Values at `points`, (k, 3) from a cell's middle, of the nine tangent planes of each cell, (n, 9, k)."""
    level = around.value - np.einsum("nij,ij->ni", around.gradient, _OFFSETS * size)
    return np.asarray(level[:, :, None] + around.gradient @ points.T)


def _may_hold_core(around: _Depth, size: float) -> NDArray[np.bool_]:
    """Cells that may hold core though no plane fits them.

    No point of a cube is farther than 0.56 edges from its middle or nearest corner, which bounds the depth. Where the
    nine samples show no reflex bend, no tangent plane lies below the depth, which bounds it better.
    """
    best = around.value.max(axis=1, initial=-np.inf)
    at_samples = _tangents(around, size, _OFFSETS * size)
    reflex = (at_samples < around.value[:, None, :] - REFLEX * size).any(axis=(1, 2))
    foretold = _tangents(around, size, _SUB * size).min(axis=1).max(axis=1, initial=-np.inf)
    return np.asarray((best > -COVERED * size) & (reflex | (foretold > -NO_CORE * size)))
