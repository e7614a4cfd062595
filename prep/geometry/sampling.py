"""Samples of a surface: points spread so that no spot of it is farther than a known reach from one of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from prep.geometry.creases import Creases
from prep.geometry.solid import Array, Indices, Solid

_SMALL = 0.3
"""Share of a cell below which a triangle counts as small and shares its voxel's one sample."""

_STRAY = 1.12
"""Spacings: farther than a lattice cell reaches from its sample, a small triangle keeps a sample of its own."""


@dataclass(frozen=True)
class Samples:
    """Points of a surface with the outward direction they stand for.

    Attributes
    ----------
    point : (n, 3) float64, mm
    normal : (n, 3) float64
        Unit, outward; on an inward crease a direction of the fan between its two faces.
    triangle : (n,) int32
    reach_mm : float
        No point of the surface is farther than this from a sample on a face turned the same way (within 90 degrees).
    """

    point: Array
    normal: Array
    triangle: Indices
    reach_mm: float


def sample_surface(solid: Solid, spacing_mm: float) -> Samples:
    """Samples at a spacing: a lattice on large triangles, one a voxel and facing where triangles are small.

    Parameters
    ----------
    spacing_mm : float
        Side of a lattice cell.

    Notes
    -----
    Deterministic. Cost: O(m + A / spacing^2) for m triangles and area A.
    """
    shape = _Triangles.of(solid, spacing_mm)
    single = (shape.rows == 1) & (shape.columns == 1)
    few = _centres(solid, shape, np.flatnonzero(single))
    many = _lattice(shape, np.flatnonzero(~single), spacing_mm)
    point = np.concatenate([few.point, many.point])
    triangle = np.concatenate([few.triangle, many.triangle])
    reach = np.concatenate([few.reach, many.reach])
    area = np.concatenate([few.area, many.area])
    kept, reach_mm = _thin_out(point, solid.triangle_normals[triangle], reach, area, spacing_mm)
    triangle = triangle[kept]
    return Samples(point[kept], solid.triangle_normals[triangle], triangle, reach_mm)


def sample_inward_creases(solid: Solid, found: Creases, spacing_mm: float, fan_deg: float = 20.0) -> Samples:
    """Samples along the creases that turn inward, one for each direction of the fan between the two faces.

    A slot's corner looks at a neighbouring hole along neither of its faces; these samples look that way.

    Parameters
    ----------
    found : Creases
        Of the solid; those that turn outward are left out.
    fan_deg : float
        Largest angle between neighbouring directions of a fan.
    """
    rows = np.flatnonzero(found.reflex)
    start, end = (solid.vertices[found.ends[rows, k]] for k in range(2))
    length = np.linalg.norm(end - start, axis=1)
    counts = np.maximum(1, np.ceil(length / spacing_mm)).astype(np.int64)
    which, step = _spread(counts)
    share = ((step + 0.5) / counts[which])[:, None]
    point = start[which] * (1.0 - share) + end[which] * share
    turns = found.turn_deg[rows]
    fans = np.maximum(1, np.ceil(turns / fan_deg).astype(np.int64) - 1)
    again, blade = _spread(fans[which])
    edge = rows[which[again]]
    normals = solid.triangle_normals
    low, high = normals[found.triangles[edge, 0]], normals[found.triangles[edge, 1]]
    angle = np.radians(found.turn_deg[edge])
    part = (blade + 1.0) / (fans[which[again]] + 1.0)
    sine = np.sin(angle)
    safe = sine > 1e-6
    weight = np.divide(1.0, sine, out=np.zeros_like(sine), where=safe)
    normal = (np.sin((1.0 - part) * angle) * weight)[:, None] * low + (np.sin(part * angle) * weight)[:, None] * high
    return Samples(point[again][safe], normal[safe], found.triangles[edge, 0][safe], spacing_mm / 2.0)


def sample_inward_corners(solid: Solid, at_least: float = 0.05) -> Samples:
    """One sample at every corner that points into the material, looking along its faces' mean normal.

    The tip of a drilled hole or of a cone-shaped pocket comes near the far skin in a point that no lattice meets.

    Parameters
    ----------
    at_least : float
        How far short of 1 the mean of the unit normals about the corner must fall; 0.05 is a cone of 18 degrees.
    """
    count = len(solid.vertices)
    corner = solid.triangles.ravel()
    about = np.maximum(np.bincount(corner, minlength=count), 1)
    mean = np.stack(
        [np.bincount(corner, np.repeat(solid.triangle_normals[:, k], 3), count) / about for k in range(3)], axis=1
    )
    length = np.linalg.norm(mean, axis=1)
    pointed = (length < 1.0 - at_least) & (length > 0.1)
    rows, place = np.nonzero(pointed[solid.triangles])
    tip = solid.triangles[rows, place]
    outward = np.zeros(count, dtype=bool)
    for turn in (1, 2):
        side = solid.vertices[solid.triangles[rows, (place + turn) % 3]] - solid.vertices[tip]
        outward[tip[np.einsum("ij,ij->i", side, mean[tip]) <= 0.0]] = True
    inward = np.flatnonzero(pointed & ~outward)
    triangle = np.zeros(count, dtype=np.int32)
    triangle[tip] = rows
    return Samples(solid.vertices[inward], mean[inward] / length[inward, None], triangle[inward], 0.0)


@dataclass(frozen=True)
class _Triangles:
    """Every triangle laid on its longest side: origin, side, foot of the height, and its lattice."""

    origin: Array
    along: Array
    across: Array
    base: Array
    foot: Array
    height: Array
    area: Array
    rows: NDArray[np.int64]
    columns: NDArray[np.int64]

    @classmethod
    def of(cls, solid: Solid, spacing_mm: float) -> _Triangles:
        corners = solid.corners
        sides = np.linalg.norm(np.roll(corners, -1, axis=1) - corners, axis=2)
        longest = sides.argmax(axis=1)
        every = np.arange(len(corners))
        a = corners[every, longest]
        b = corners[every, (longest + 1) % 3]
        c = corners[every, (longest + 2) % 3]
        base = sides[every, longest]
        with np.errstate(invalid="ignore", divide="ignore"):
            along = np.where(base[:, None] > 0.0, (b - a) / base[:, None], 0.0)
            height = np.where(base > 0.0, 2.0 * solid.triangle_areas / base, 0.0)
        foot = np.einsum("ij,ij->i", c - a, along)
        across = np.cross(solid.triangle_normals, along)
        rows = np.maximum(1, np.ceil(height / spacing_mm)).astype(np.int64)
        columns = np.maximum(1, np.ceil(base / spacing_mm)).astype(np.int64)
        return cls(a, along, across, base, foot, height, solid.triangle_areas, rows, columns)


@dataclass(frozen=True)
class _Cells:
    point: Array
    triangle: Indices
    reach: Array
    area: Array


def _centres(solid: Solid, shape: _Triangles, rows: NDArray[np.intp]) -> _Cells:
    """One sample a triangle, at its centroid; triangles without area are left out."""
    rows = rows[shape.area[rows] > 0.0]
    corners = solid.vertices[solid.triangles[rows]]
    middle = corners.mean(axis=1)
    reach = np.sqrt(((corners - middle[:, None]) ** 2).sum(axis=2).max(axis=1))
    return _Cells(middle, rows.astype(np.int32), reach, shape.area[rows])


def _lattice(shape: _Triangles, rows: NDArray[np.intp], spacing_mm: float) -> _Cells:
    """Cells in strips parallel to the longest side, each point at half the height its cell has there."""
    rows = rows[shape.area[rows] > 0.0]
    which, strip = _spread(shape.rows[rows])
    owner = rows[which]
    low = strip / shape.rows[owner]
    strip_height = shape.height[owner] / shape.rows[owner]
    width = shape.base[owner] * (1.0 - low)
    counts = np.maximum(1, np.ceil(width / spacing_mm - 1e-9)).astype(np.int64)
    again, cell = _spread(counts)
    owner, low, strip_height = owner[again], low[again], strip_height[again]
    wide = (width / counts)[again]
    x = shape.foot[owner] * low + (cell + 0.5) * wide
    foot, base, height = shape.foot[owner], shape.base[owner], shape.height[owner]
    with np.errstate(invalid="ignore", divide="ignore"):
        rising = np.where(foot > 0.0, x / foot, np.inf)
        falling = np.where(base - foot > 0.0, (base - x) / (base - foot), np.inf)
    top = np.minimum(np.minimum(rising, falling) * height, low * height + strip_height)
    here = np.clip(top - low * height, 0.0, strip_height)
    y = low * height + here / 2.0
    point = shape.origin[owner] + x[:, None] * shape.along[owner] + y[:, None] * shape.across[owner]
    reach = np.hypot(wide / 2.0, np.maximum(here / 2.0, strip_height - here / 2.0))
    return _Cells(point, owner.astype(np.int32), reach, wide * here)


def _thin_out(
    point: Array, normal: Array, reach: Array, area: Array, spacing_mm: float
) -> tuple[NDArray[np.intp], float]:
    """Rows to keep: all large cells; of the small ones that nearest the middle of each voxel and facing, and strays."""
    small = np.flatnonzero(area < _SMALL * spacing_mm**2)
    large = np.flatnonzero(area >= _SMALL * spacing_mm**2)
    furthest = float(reach[large].max()) if len(large) else 0.0
    if len(small) == 0:
        return large, furthest
    scaled = (point[small] - point.min(axis=0)) / spacing_mm
    cell = np.floor(scaled).astype(np.int64)
    octant = (normal[small] > 0.0) @ np.array([1, 2, 4])
    span = cell.max(axis=0) + 1
    key = ((cell[:, 0] * span[1] + cell[:, 1]) * span[2] + cell[:, 2]) * 8 + octant
    middling = ((scaled - cell - 0.5) ** 2).sum(axis=1)
    order = np.argsort(key, kind="stable")
    first = np.concatenate([[True], key[order][1:] != key[order][:-1]])
    group = np.cumsum(first) - 1
    least = np.minimum.reduceat(middling[order], np.flatnonzero(first))
    middle = np.flatnonzero(middling[order] == least[group])
    chosen = np.empty(len(least), dtype=np.int64)
    chosen[group[middle]] = order[middle]
    away = np.linalg.norm(point[small[order]] - point[small[chosen]][group], axis=1) + reach[small[order]]
    stray = away > _STRAY * spacing_mm
    kept = np.zeros(len(point), dtype=bool)
    kept[large] = kept[small[chosen]] = kept[small[order[stray]]] = True
    return np.flatnonzero(kept), max(furthest, float(np.where(stray, reach[small[order]], away).max()))


def _spread(counts: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """For counts (2, 3): owners 0 0 1 1 1 and their steps 0 1 0 1 2."""
    owner = np.repeat(np.arange(len(counts)), counts)
    first = np.cumsum(counts) - counts
    return owner, np.arange(len(owner)) - first[owner]
