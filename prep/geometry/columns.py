"""How much of a solid lies inside a cutter, found by columns of rays and not by the solid kernel."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from prep.geometry.rays import RayScene
from prep.geometry.solid import Array, Solid

STEP_PAST_SHARE = 1e-6
"""How far past a surface the next ray begins, as a share of the scene's diagonal: ten steps of single precision."""

GRAZING = 1e-6
MOST_SURFACES = 64


@dataclass(frozen=True)
class Shared:
    """Volume two solids share, and how far off the columns may be.

    Attributes
    ----------
    volume_mm3, error_mm3 : float
    centre_mm : (3,) of the shared volume
    """

    volume_mm3: float
    error_mm3: float
    centre_mm: Array


def shared_by_columns(host: RayScene, cutter: Solid, axis: Array, columns: int = 96) -> Shared:
    """Volume and centroid of the host's material inside the cutter.

    Parameters
    ----------
    host : RayScene
        Of the one solid that is cut.
    cutter : Solid
    axis : (3,)
        Unit direction of the columns; along the cutter's own walls the error is smallest.
    columns : int
        Rays across the cutter's larger side.

    Notes
    -----
    A square grid of rays over the cutter's outline; along each, the lengths inside both. Error: of the outline's area,
    about (cell / radius)^1.5; along the column, single precision. Cost: rays times surfaces crossed.
    """
    axis = axis / np.linalg.norm(axis)
    across = np.cross(axis, np.eye(3)[int(np.argmin(np.abs(axis)))])
    across /= np.linalg.norm(across)
    frame = np.stack([across, np.cross(axis, across), axis])
    local = cutter.vertices @ frame.T
    low, high = local.min(axis=0), local.max(axis=0)
    cell = float((high - low)[:2].max()) / columns
    counts = np.maximum(np.ceil((high - low)[:2] / cell).astype(int), 1)
    u = low[0] + (high[0] - low[0]) * (np.arange(counts[0]) + 0.5) / counts[0]
    v = low[1] + (high[1] - low[1]) * (np.arange(counts[1]) + 0.5) / counts[1]
    grid = np.stack(np.meshgrid(u, v, indexing="ij"), axis=-1).reshape(-1, 2)
    margin = 1.0 + 0.01 * float(high[2] - low[2])
    origins = np.column_stack([grid, np.full(len(grid), low[2] - margin)]) @ frame
    reach = float(high[2] - low[2]) + 2.0 * margin
    of_cutter = _crossings(RayScene([cutter]), origins, axis, reach)
    of_host = _crossings(host, origins, axis, reach)
    area = float(np.prod((high - low)[:2] / counts))
    length, moment = _overlap(of_cutter, of_host)
    volume = float(length.sum()) * area
    radius = math.sqrt(max(int((length > 0).sum()) * area, cell * cell) / math.pi)
    error = volume * 1.2 * (cell / radius) ** 1.5 + 1e-3 * area * len(grid) * 0.01
    if volume <= 0.0:
        return Shared(0.0, error, cutter.centre_mm)
    centre = ((length[:, None] * origins).sum(axis=0) + moment.sum() * axis) / length.sum()
    return Shared(volume, error, np.asarray(centre))


def shared_by_all(host: RayScene, cutters: Sequence[Solid], axes: Sequence[Array]) -> Shared:
    """The sum over cutters that do not overlap one another."""
    each = [shared_by_columns(host, cutter, axis) for cutter, axis in zip(cutters, axes, strict=True)]
    volume = sum(one.volume_mm3 for one in each)
    centre = sum((one.volume_mm3 * one.centre_mm for one in each), start=np.zeros(3))
    return Shared(volume, sum(one.error_mm3 for one in each), centre / volume if volume else np.zeros(3))


def _crossings(scene: RayScene, origins: Array, axis: Array, reach: float) -> list[tuple[Array, Array]]:
    """Surfaces along each ray up to the first beyond reach: a list of (distance (n,), +1 in, -1 out, 0 none (n,)).

    Ways in and out take turns; a surface met twice, as rounding may have it, counts once. A ray that runs along a
    wall ends there, as nobody can say on which side of it it is.
    """
    found: list[tuple[Array, Array]] = []
    travelled = np.zeros(len(origins))
    last = np.zeros(len(origins))
    alive = np.arange(len(origins))
    for _ in range(MOST_SURFACES):
        start = origins[alive] + travelled[alive, None] * axis
        hits = scene.cast(start, np.broadcast_to(axis, start.shape).copy())
        distance = travelled[alive] + hits.distance_mm
        slope = np.where(np.isfinite(distance), scene.normals[hits.triangle] @ axis, 0.0)
        met = np.abs(slope) > GRAZING
        alive, distance, slope = alive[met], distance[met], slope[met]
        if len(alive) == 0:
            break
        at = np.full(len(origins), np.inf)
        sense = np.zeros(len(origins))
        at[alive] = distance
        sense[alive] = -np.sign(slope)
        sense[sense == last] = 0.0
        last = np.where(sense == 0.0, last, sense)
        found.append((at, sense))
        travelled[alive] = distance + STEP_PAST_SHARE * scene.diagonal_mm
        alive = alive[distance < reach]
    return found


def _starts_inside(crossings: list[tuple[Array, Array]]) -> Array:
    """1 where the first surface a ray meets leads out, so that the ray began inside, else 0."""
    return np.asarray((crossings[0][1] < 0.0).astype(np.float64))


def _overlap(a: list[tuple[Array, Array]], b: list[tuple[Array, Array]]) -> tuple[Array, Array]:
    """Length inside both along each ray, and its first moment about the ray's start."""
    if not a or not b:
        return np.zeros(1), np.zeros(1)
    at = np.stack([*(x for x, _ in a), *(x for x, _ in b)])
    in_a = np.stack([*(s for _, s in a), *(np.zeros_like(s) for _, s in b)])
    in_b = np.stack([*(np.zeros_like(s) for _, s in a), *(s for _, s in b)])
    order = np.argsort(at, axis=0, kind="stable")
    at, in_a, in_b = (np.take_along_axis(values, order, axis=0) for values in (at, in_a, in_b))
    inside = (_starts_inside(a) + np.cumsum(in_a, axis=0) > 0.5) & (_starts_inside(b) + np.cumsum(in_b, axis=0) > 0.5)
    ends = np.where(np.isfinite(at), at, 0.0)
    step = np.where(inside[:-1] & np.isfinite(at[1:]), ends[1:] - ends[:-1], 0.0)
    moment = np.where(inside[:-1] & np.isfinite(at[1:]), (ends[1:] ** 2 - ends[:-1] ** 2) / 2.0, 0.0)
    return step.sum(axis=0), moment.sum(axis=0)
