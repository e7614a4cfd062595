"""`WireSection`: the eight-sided section of a wire channel, and how far its corners reach."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from prep.geometry.solid import Array

SIDES = 8
_ACROSS = 7

LEVEL = 0.8
"""Cosine to the build direction up to which a run counts as level; the section of what climbs may lie anyhow."""


@dataclass(frozen=True)
class WireSection:
    """A regular octagon, flat on top: its roof rises at 45 degrees, so that it prints lying down.

    Attributes
    ----------
    width_mm : across flats; a round wire of this diameter, or two of half of it side by side, go through
    """

    width_mm: float

    @property
    def reach_mm(self) -> float:
        """From the middle to a corner."""
        return self.width_mm / 2.0 / math.cos(math.pi / SIDES)

    @property
    def area_mm2(self) -> float:
        """Of the octagon."""
        return 2.0 * math.tan(math.pi / SIDES) * self.width_mm**2

    @property
    def corners(self) -> Array:
        """Corners in the plane of the section, (8, 2) mm, counter-clockwise, a flat toward the second axis."""
        angle = (np.arange(SIDES) + 0.5) * 2.0 * math.pi / SIDES
        return np.stack([np.cos(angle), np.sin(angle)], axis=1) * self.reach_mm

    @property
    def spots(self) -> Array:
        """Points over the section, evenly spread, and its corners, (n, 2) mm."""
        grid = ((np.arange(_ACROSS) + 0.5) / _ACROSS - 0.5) * self.width_mm
        spots = np.stack(np.meshgrid(grid, grid, indexing="ij"), axis=-1).reshape(-1, 2)
        inner = spots[np.abs(spots).sum(axis=1) <= self.width_mm / math.sqrt(2.0)]
        return np.concatenate([inner, self.corners])


def ring_points(line: Array, corners: Array, up: Array | None = None) -> Array:
    """Corners of a section along a line, its flats held toward `up`, (n, c, 3) mm.

    Parameters
    ----------
    line : (n, 3) mm, no two points in a row alike
    corners : (c, 2) mm
        A regular octagon, the second axis toward a flat.
    up : (3,) unit, optional; default: as the first run happens to lie

    Notes
    -----
    Each ring lies in the plane that halves the turn of its two runs, stretched across it, so that between rings the
    section is an exact prism. Frames are carried along without twist; where the line runs level enough they are then
    turned by under 22.5 degrees to lay a flat on top, and by as much as fits in between where it climbs.
    """
    runs = np.diff(line, axis=0)
    runs = runs / np.linalg.norm(runs, axis=1)[:, None]
    before, after = np.concatenate([runs[:1], runs]), np.concatenate([runs, runs[-1:]])
    tangent = before + after
    tangent = tangent / np.linalg.norm(tangent, axis=1)[:, None]
    second = np.empty_like(line)
    hint = np.eye(3)[int(np.argmin(np.abs(runs[0])))] if up is None else np.asarray(up, dtype=np.float64)
    if abs(float(hint @ tangent[0])) > LEVEL:
        hint = np.eye(3)[int(np.argmin(np.abs(tangent[0])))]
    carried = hint
    for k, way in enumerate(tangent):
        carried = carried - way * (carried @ way)
        carried = carried / np.linalg.norm(carried)
        second[k] = carried
    first = np.cross(second, tangent)
    if up is not None:
        twist = _toward(np.asarray(up, dtype=np.float64), tangent, first, second, line)
        c, s = np.cos(twist)[:, None], np.sin(twist)[:, None]
        first, second = c * first - s * second, s * first + c * second
    rings = corners[None, :, :1] * first[:, None] + corners[None, :, 1:] * second[:, None]
    turn = after - before
    size = np.linalg.norm(turn, axis=1)
    aside = np.divide(turn, size[:, None], out=np.zeros_like(turn), where=size[:, None] > 1e-9)
    grow = 1.0 / np.sqrt(1.0 - (size / 2.0) ** 2) - 1.0
    rings = rings + (np.einsum("ncj,nj->nc", rings, aside) * grow[:, None])[..., None] * aside[:, None]
    return np.asarray(line[:, None] + rings)


def _toward(up: Array, tangent: Array, first: Array, second: Array, line: Array) -> Array:
    """Angle by which each frame is turned so that a flat looks up, (n,) rad; kept between level stretches."""
    level = np.abs(tangent @ up) < LEVEL
    if not level.any():
        return np.zeros(len(line))
    flat = 2.0 * math.pi / SIDES
    wanted = np.arctan2(first @ up, second @ up)[level]
    wanted = np.unwrap(wanted, period=flat)
    wanted -= flat * np.round(np.median(wanted) / flat)
    length = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    return np.asarray(np.interp(length, length[level], wanted))
