"""`AirGrid`: cells in and about a part, told apart as its material, other parts, air one sees and hidden air."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from prep.geometry.distance import Nearest
from prep.geometry.rays import RayScene
from prep.geometry.solid import Array, Solid, refined

Mask = NDArray[np.bool_]

PEEP_MM = 1.5
"""Air behind a gap narrower than this is hidden: the play of a cover does not lay the inside open."""

_MOST_SURFACES = 64
_PAST_SHARE = 1e-6
_GRAZING = 1e-6
_SHIFT = (0.0137, 0.0291, 0.0173)
"""The grid stands off the part's middle by these, mm, so that no column of cells runs along a modelled face."""


@dataclass(frozen=True)
class AirGrid:
    """Cubic cells, each named for what its middle lies in.

    Attributes
    ----------
    low : (3,) mm, the lowest corner
    side : of a cell, mm
    host, other, outer : (i, j, k) bool
        The part's material; that of other parts, or what lies behind a hidden side; air that a ball of `PEEP_MM`
        reaches from far away. A cell that is none of them is hidden air.
    """

    low: Array
    side: float
    host: Mask
    other: Mask
    outer: Mask

    @property
    def middles(self) -> Array:
        """Middle of every cell, (i, j, k, 3) mm; made anew at each call."""
        steps = np.stack(np.meshgrid(*(np.arange(n) for n in self.host.shape), indexing="ij"), axis=-1)
        return np.asarray(self.low + (steps + 0.5) * self.side)

    def cells(self, points: Array) -> NDArray[np.intp]:
        """The cell each of `points`, (n, 3) mm, lies in, or the nearest one of the grid, (n, 3)."""
        found = np.floor((points - self.low) / self.side).astype(np.intp)
        return np.asarray(np.clip(found, 0, np.array(self.host.shape) - 1))

    def is_outer(self, points: Array) -> Mask:
        """Whether each of `points`, (n, 3) mm, lies in a cell of air one sees, (n,)."""
        return np.asarray(self.outer[tuple(self.cells(points).T)])


def air_grid(host: Solid, others: Sequence[Solid], side_mm: float, open_toward: Array | None = None) -> AirGrid:
    """Cells about a part and its covers.

    Parameters
    ----------
    others : the other parts, where they stand with all covers on
    side_mm : of a cell
    open_toward : (3,), optional
        Hidden side of a part without its covers: all that lies beyond the part's farthest point that way counts as
        covered. Without it, the inside of an open shell is air one sees.

    Notes
    -----
    Material is found by columns of rays, air one sees by letting a ball of diameter `PEEP_MM` roll in from outside; so
    a visible groove narrower than that counts as hidden, but its mouth does not. Error of every boundary: one cell.
    Cost: rays over the outline, and a few passes over the cells.
    """
    solids = [host, *others]
    margin = PEEP_MM / 2.0 + 3.0 * side_mm
    low = np.min([s.bounds_mm[0] for s in solids], axis=0) - margin + np.array(_SHIFT)
    high = np.max([s.bounds_mm[1] for s in solids], axis=0) + margin
    shape = tuple(int(n) for n in np.ceil((high - low) / side_mm))
    in_host = _filled(host, low, side_mm, shape)
    in_other = np.zeros(shape, dtype=bool)
    for other in others:
        in_other |= _filled(other, low, side_mm, shape)
    in_other &= ~in_host
    grid = AirGrid(low, side_mm, in_host, in_other, in_other)
    if open_toward is not None:
        toward = np.asarray(open_toward, dtype=np.float64) / np.linalg.norm(open_toward)
        in_other |= (grid.middles @ toward > float((host.vertices @ toward).max())) & ~in_host
    return AirGrid(low, side_mm, in_host, in_other, _seen(~in_host & ~in_other, side_mm))


def outer_skin(host: Solid, grid: AirGrid) -> Nearest | None:
    """A tree over the pieces of the part's skin that face air one sees; None where there are none.

    Notes
    -----
    The skin is cut into pieces of about a cell; a piece counts as soon as one of four points over it looks into such
    air, so the tree reaches up to a cell too far and never less.
    """
    pieces = refined(host, 1.5 * grid.side)
    corners = pieces.corners
    middle = corners.mean(axis=1)
    lifted = 0.75 * grid.side * pieces.triangle_normals
    seen = grid.is_outer(middle + lifted)
    for k in range(3):
        seen |= grid.is_outer(middle + 0.85 * (corners[:, k] - middle) + lifted)
    chosen = pieces.triangles[seen]
    return Nearest(pieces.vertices, np.ascontiguousarray(chosen)) if len(chosen) else None


def _filled(solid: Solid, low: Array, side: float, shape: tuple[int, ...]) -> Mask:
    """Cells whose middle lies in a solid, by one column of rays along z for every row of cells."""
    scene = RayScene([solid])
    x, y = (low[k] + (np.arange(shape[k]) + 0.5) * side for k in range(2))
    flat = np.stack(np.meshgrid(x, y, indexing="ij"), axis=-1).reshape(-1, 2)
    near = ((flat >= solid.bounds_mm[0, :2]) & (flat <= solid.bounds_mm[1, :2])).all(axis=1)
    alive = np.flatnonzero(near)
    bottom = float(solid.bounds_mm[0, 2]) - 1.0
    height = np.full(len(flat), bottom)
    change = np.zeros((len(flat), shape[2] + 1), dtype=np.int16)
    last = np.zeros(len(flat))
    up = np.array([0.0, 0.0, 1.0])
    for _ in range(_MOST_SURFACES):
        hits = scene.cast(np.column_stack([flat[alive], height[alive]]), np.tile(up, (len(alive), 1)))
        met = hits.triangle >= 0
        alive, triangle = alive[met], hits.triangle[met]
        if len(alive) == 0:
            break
        height[alive] += hits.distance_mm[met]
        slope = scene.normals[triangle] @ up
        sense = np.where(np.abs(slope) > _GRAZING, -np.sign(slope), 0.0)
        counted = (sense != 0.0) & (sense != last[alive])
        rows = alive[counted]
        first = np.clip(np.ceil((height[rows] - low[2]) / side - 0.5).astype(int), 0, shape[2])
        np.add.at(change, (rows, first), sense[counted].astype(np.int16))
        last[rows] = sense[counted]
        height[alive] += _PAST_SHARE * scene.diagonal_mm
    return np.asarray(np.cumsum(change[:, :-1], axis=1).reshape(shape) > 0)


def _seen(air: Mask, side: float) -> Mask:
    """The air a ball of diameter `PEEP_MM` covers that rolls in from the rim of the grid."""
    radius = PEEP_MM / 2.0
    room = ndimage.distance_transform_edt(air, sampling=side)
    labels, _ = ndimage.label(air & (room >= radius + side / 2.0))
    rim = np.ones(air.shape, dtype=bool)
    rim[1:-1, 1:-1, 1:-1] = False
    names = np.unique(labels[rim])
    rolled = np.isin(labels, names[names > 0])
    if not rolled.any():
        return np.zeros_like(air)
    return np.asarray(air & (ndimage.distance_transform_edt(~rolled, sampling=side) <= radius + 1.5 * side))
