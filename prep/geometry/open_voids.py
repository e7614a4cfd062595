"""`open_voids`: chambers that are reached only through an opening narrower than they are, and how narrow."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from prep.geometry.distance import Nearest
from prep.geometry.inside import Inside
from prep.geometry.solid import Array, Solid

Mask = NDArray[np.bool_]

_MOST_CELLS = 250_000
_BLOCK = 4
"""Cells along the side of the blocks that are looked at first; far from the surface a block is settled as one."""

_FINER = 8.0
_MOST_FINE = 100_000
_MOST_VOIDS = 8
_CHAMBER = 1.4
"""A chamber takes a ball this much larger than its opening does; what takes none is a hole or a slot."""

_HALVINGS = 14


@dataclass(frozen=True)
class OpenVoid:
    """A chamber with an opening too small for a probe.

    Attributes
    ----------
    at_mm : (3,)
        Middle of the largest ball in the chamber.
    neck_at_mm : (3,)
        The narrowest place on the widest way out.
    neck_mm : float
        Diameter of the largest ball that comes out; 0 where the opening is finer than the error.
    neck_error_mm : float
        By how much the true one may be larger.
    ball_mm : float
        Diameter of the largest ball in the chamber.
    volume_mm3 : float
        Of the air in it that the probe does not reach, counted in cells.
    """

    at_mm: Array
    neck_at_mm: Array
    neck_mm: float
    neck_error_mm: float
    ball_mm: float
    volume_mm3: float


@dataclass(frozen=True)
class _Grid:
    """Distances from the surface at the middles of cubic cells, negative in the material.

    Exact within 0.7 probes of the surface; farther off, in the air, some less than the true distance, never more.
    """

    low: Array
    side: float
    distance: Array
    sealed: Mask

    def place(self, cell: tuple[int, ...]) -> Array:
        return np.asarray(self.low + (np.array(cell) + 0.5) * self.side)


def open_voids(solid: Solid, probe_mm: float) -> tuple[OpenVoid, ...]:
    """Chambers out of which a ball of the probe's diameter does not come, largest first.

    Notes
    -----
    The air in and about the part is cut into at most 250 000 cells of a sixth of the probe or more. A ball of radius r
    goes from cell to cell while the distance from the surface is r; that names places the probe may not leave. The
    opening of each, the narrowest place on the widest way out, is measured again on a grid eight times finer, and only
    where the ball is too large by more than that grid's error is a void reported. Of several ways out that differ by
    less than a cell the one measured may not be the widest. Sealed voids are left to the topology, which knows them
    exactly. Cost: one nearest-point query a cell.
    """
    grid = _grid(solid, probe_mm)
    radius = probe_mm / 2.0
    free = _joined_to_outside(grid.distance >= radius)
    air = (grid.distance > 0.0) & ~grid.sealed
    covered = ndimage.distance_transform_edt(~free, sampling=grid.side) <= radius + grid.side
    labels, count = ndimage.label(air & ~covered)
    if count == 0:
        return ()
    sizes = np.bincount(labels.ravel(), minlength=count + 1)[1:]
    tree = Nearest.of(solid)
    found = []
    for label in np.argsort(-sizes, kind="stable")[:_MOST_VOIDS] + 1:
        void = _measure(solid, tree, grid, labels == label, probe_mm)
        if void is not None:
            found.append(void)
    return tuple(found)


def _measure(solid: Solid, tree: Nearest, grid: _Grid, chamber: Mask, probe_mm: float) -> OpenVoid | None:
    """The void a set of cells belongs to; None where it is no chamber, or the probe comes out after all."""
    inner = np.where(chamber, grid.distance, -np.inf)
    heart = tuple(int(k) for k in np.unravel_index(int(np.argmax(inner)), inner.shape))
    ball = max(float(grid.distance[heart]), _roomiest(tree, grid, inner))
    if ball < grid.side:
        return None
    low, high = -grid.side * np.sqrt(3.0) / 2.0, ball
    if not _reaches(grid.distance, heart, low):
        return None
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        low, high = (middle, high) if _reaches(grid.distance, heart, middle) else (low, middle)
    if ball < _CHAMBER * low:
        return None
    neck_at, neck, error = _finer(solid, tree, grid, heart, low, high)
    if 2.0 * neck + error >= probe_mm or ball < _CHAMBER * (neck + error / 2.0):
        return None
    volume = float(chamber.sum()) * grid.side**3
    return OpenVoid(grid.place(heart), neck_at, 2.0 * neck, error, 2.0 * ball, volume)


def _roomiest(tree: Nearest, grid: _Grid, inner: Array) -> float:
    """Radius of the largest ball about the roomiest of a chamber's cells, whose distances may be stated too low."""
    wide = np.argwhere(inner >= inner.max() - _BLOCK * grid.side)
    wide = wide[:: max(1, len(wide) // 2000)]
    return float(tree.query(grid.low + (wide + 0.5) * grid.side).distance_mm.max())


def _grid(solid: Solid, probe_mm: float) -> _Grid:
    extents = solid.extents_mm
    side = probe_mm / 6.0
    for _ in range(4):
        margin = probe_mm / 2.0 + 1.5 * side
        side = max(side, float(np.cbrt(np.prod(extents + 2.0 * margin) / _MOST_CELLS)))
    margin = probe_mm / 2.0 + 1.5 * side
    shape = (np.ceil((extents + 2.0 * margin) / side / _BLOCK).astype(int) * _BLOCK).astype(np.int64)
    low = solid.bounds_mm.mean(axis=0) - shape * side / 2.0
    nearest = Nearest.of(solid)
    inside = Inside(solid.vertices, solid.triangles)
    void = solid.shell_volumes_mm3 < 0.0
    distance = np.empty(tuple(shape))
    sealed = np.zeros(tuple(shape), dtype=bool)
    blocks = np.stack(np.meshgrid(*(np.arange(n // _BLOCK) for n in shape), indexing="ij"), axis=-1).reshape(-1, 3)
    width = _BLOCK
    while width and len(blocks):
        points = low + (blocks + 0.5) * width * side
        found = nearest.query(points)
        within = inside.test(points, found)
        value = np.where(within, -found.distance_mm, found.distance_mm)
        closed = ~within & void[solid.shell_of_triangle[found.triangle]] if void.any() else np.zeros(len(points), bool)
        reach = (width - 1) * side * np.sqrt(3.0) / 2.0
        bound = value - np.copysign(reach, value)
        settled = (value - reach > 0.7 * probe_mm) | (value + reach < -side) | (width == 1)
        rows = (blocks[settled, None] * width + _corners(width)).reshape(-1, 3).T
        each = width**3
        distance[tuple(rows)] = np.repeat(bound[settled], each)
        sealed[tuple(rows)] = np.repeat(closed[settled], each)
        blocks = (blocks[~settled, None] * 2 + _corners(2)).reshape(-1, 3)
        width //= 2
    return _Grid(low, side, distance, sealed)


def _corners(width: int) -> NDArray[np.int64]:
    """The places in a cube of cells, (width^3, 3)."""
    axis = np.arange(width)
    return np.stack(np.meshgrid(axis, axis, axis, indexing="ij"), axis=-1).reshape(-1, 3)


def _joined_to_outside(mask: Mask) -> Mask:
    """The cells of a mask that join the outermost layer."""
    labels, _ = ndimage.label(mask)
    rim = np.ones(mask.shape, dtype=bool)
    rim[1:-1, 1:-1, 1:-1] = False
    names = np.unique(labels[rim & mask])
    return np.asarray(np.isin(labels, names[names > 0]))


def _reaches(distance: Array, heart: tuple[int, ...], radius: float) -> bool:
    labels, _ = ndimage.label(distance >= radius)
    return bool(_joined_to_outside(labels == labels[heart])[heart]) if labels[heart] else False


def _finer(
    solid: Solid, tree: Nearest, grid: _Grid, heart: tuple[int, ...], low: float, high: float
) -> tuple[Array, float, float]:
    """The neck measured again on a finer grid: where, its radius, and how far off the diameter may be.

    As the ball shrinks from `high` to `low` a few cells join the chamber's side to the outer side; the fine grid spans
    these and two cells about them.
    """
    labels, _ = ndimage.label(grid.distance >= high)
    ours, theirs = labels == labels[heart], _joined_to_outside(grid.distance >= high)
    opened, _ = ndimage.label(grid.distance >= low)
    fresh = (opened == opened[heart]) & (grid.distance < high)
    cells = np.argwhere(_links(fresh, ours, theirs))
    cells = cells[np.argsort(((cells - cells[0]) ** 2).sum(axis=1), kind="stable")][:64]
    first, last = cells.min(axis=0) - 2, cells.max(axis=0) + 3
    start, span = grid.low + first * grid.side, (last - first) * grid.side
    step = max(grid.side / _FINER, float(np.cbrt(np.prod(span) / _MOST_FINE)))
    shape = np.ceil(span / step).astype(int)
    axes = [start[k] + (np.arange(shape[k]) + 0.5) * span[k] / shape[k] for k in range(3)]
    points = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)
    found = tree.query(points)
    within = Inside(solid.vertices, solid.triangles).test(points, found)
    distance = np.where(within, -found.distance_mm, found.distance_mm).reshape(tuple(shape))
    cell = np.clip(np.floor((points - grid.low) / grid.side).astype(int), 0, np.array(grid.distance.shape) - 1)
    one, other = (side[tuple(cell.T)].reshape(distance.shape) for side in (ours, theirs))
    neck, wide = 0.0, float(grid.distance[heart])
    for _ in range(_HALVINGS):
        radius = (neck + wide) / 2.0
        labels, _ = ndimage.label(distance >= radius)
        joined = (np.intersect1d(labels[one], labels[other]) > 0).any()
        neck, wide = (radius, wide) if joined else (neck, radius)
    return points[_last_to_open(distance, one, other, neck, wide)], neck, float(step * np.sqrt(3.0))


def _last_to_open(distance: Array, one: Mask, other: Mask, low: float, high: float) -> int:
    """The cell, counted flat, at which the two sides join as the ball shrinks from `high` to `low`."""
    labels, _ = ndimage.label(distance >= high)
    ours, theirs = (np.isin(labels, np.setdiff1d(labels[side], 0)) for side in (one, other))
    fresh = (distance >= low) & ~ours & ~theirs
    if not fresh.any():
        return int(np.argmin(np.abs(distance - low)))
    return int(np.flatnonzero(_links(fresh, ours, theirs).ravel())[0])


def _links(fresh: Mask, ours: Mask, theirs: Mask) -> Mask:
    """The one set of joining cells that touches both sides; all of them where no single set does."""
    labels, _ = ndimage.label(fresh)
    one, other = (np.unique(labels[ndimage.binary_dilation(side) & fresh]) for side in (ours, theirs))
    both = np.intersect1d(one, other)
    both = both[both > 0]
    return np.asarray(labels == both[0]) if len(both) else fresh
