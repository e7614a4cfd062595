"""Ways along which a mask comes off: what meets the part, or nears its fresh paint, on a straight path out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog
from scipy.spatial import cKDTree

from prep.geometry.distance import Nearest
from prep.geometry.open_sky import spread_points
from prep.geometry.patch import Patch
from prep.geometry.rays import RayScene
from prep.geometry.solid import Array, Solid, shared_volume

Bools = NDArray[np.bool_]

WAYS = 160
"""Directions spread over the sphere, beside those that the shapes themselves suggest."""
SAMPLES = 3000
PAINT_SAMPLES = 500
INTO_MM = 0.003
"""How deep a sample lies in its own material, so that faces that touch do not count as meeting."""
OVER_PAINT_MM = 0.1
"""How much above the gap a piece must pass over paint it did not touch..."""
BESIDE_EDGE_MM = 0.3
"""...from here inward of the window's edge: it must rise at least one in three."""
FLATS = 12
DIAGONALS = np.array(
    [(x, y, z) for x in (-1, 0, 1) for y in (-1, 0, 1) for z in (-1, 0, 1) if abs(x) + abs(y) + abs(z) == 2],
    dtype=float,
) / math.sqrt(2.0)
MERGED = 0.5
"""Places that the part meets are one within so many spacings of the even spread, on skin that faces alike."""
PLAIN = 0.1
"""How much better, in cosines, a way of no plain direction has to be before it is taken."""
SHARED_MM3 = 1e-3
"""Volume up to which two solids only touch."""
STEP_MM, STATIONS = 1.0, 40
"""How far apart a piece is held against what stays, and at how many places at most, beside the first tenths."""
FIRST_MM = (0.1, 0.3, 0.8)


@dataclass(frozen=True, eq=False)
class PullSamples:
    """Where a mask meets something, by sample of its skin and way out.

    Attributes
    ----------
    points : (n, 3) of the mask's skin, mm: an even spread, then places that the part itself meets
    spread : how many of them are the even spread
    normals : (n, 3) unit outward
    ways : (k, 3) unit
    named : how many of the ways, the first ones, are suggested by the shapes
    meets : (n, k) bool, the sample runs into the part, or over fresh paint, along that way
    touching : (n,) bool, samples of the spread that lie on the part within the gap
    skin_normals : (n, 3) of the part beside each sample
    """

    points: Array
    spread: int
    normals: Array
    ways: Array
    named: int
    meets: Bools
    touching: Bools
    skin_normals: Array

    @property
    def even(self) -> tuple[Array, Array]:
        """Points and normals of the even spread."""
        return self.points[: self.spread], self.normals[: self.spread]

    def free(self, chosen: Bools) -> Bools:
        """Ways, (k,) bool, along which none of the chosen samples, (n,) bool, meets anything."""
        return np.asarray(~self.meets[chosen].any(axis=0))

    def best(self, chosen: Bools, allowed: Bools) -> int:
        """The way among those allowed, (k,) bool, that lifts off the contacts most and slides along them least.

        Ties go to the first; ways of the even spread have to be better by `PLAIN`.
        """
        normals = self.skin_normals[chosen & self.touching]
        if len(normals) == 0:
            normals = self.skin_normals[chosen]
        lift = normals @ self.ways.T
        score = lift.min(axis=0) + 0.5 * lift.mean(axis=0)
        score[self.named :] -= PLAIN
        return int(np.argmax(np.where(allowed, np.round(score, 2), -np.inf)))


def sample_pull(part: Solid, mask: Solid, patch: Patch, gap_mm: float, pull: Array | None = None) -> PullSamples:
    """Cast a mask's skin along every way that may take it off.

    Parameters
    ----------
    gap_mm : between the mask's land and the skin
    pull : (3,) unit, a way asked for; it comes first

    Notes
    -----
    A sample of the mask that meets the part on its way is booked; so is the sample nearest to where the part's own
    points, going the other way, meet the mask: thin things on either side are found. Points of the window, raised by
    the gap and `OVER_PAINT_MM`, are cast likewise: what meets them would be dragged across paint. Samples may miss
    hooks smaller than their spacing; `swept` is asked before a way is trusted. Cost: ways times samples rays.
    """
    points, normals = spread_points(mask.corners, SAMPLES)
    found = Nearest.of(part).query(points)
    touching = found.distance_mm <= 1.5 * gap_mm + 0.02
    ways, named = candidate_ways(part, part.triangle_normals[found.triangle[touching]], patch, pull)
    meets = np.zeros((len(points), len(ways)), dtype=bool)
    part_scene, mask_scene = RayScene([part]), RayScene([mask])
    tree = cKDTree(points)
    starts = points - INTO_MM * normals
    skin, outward = spread_points(part.corners, SAMPLES)
    against = np.concatenate([skin - INTO_MM * outward, _raised_paint(patch, gap_mm)])
    more, more_normals, more_ways = [np.empty((0, 3))], [np.empty((0, 3))], [np.empty(0, dtype=np.int64)]
    for k, way in enumerate(ways):
        meets[:, k] = part_scene.blocked(starts, np.broadcast_to(way, starts.shape))
        hits = mask_scene.cast(against, np.broadcast_to(-way, against.shape))
        met = np.isfinite(hits.distance_mm)
        at = against[met] - hits.distance_mm[met, None] * way
        new = ~meets[tree.query(at)[1], k] if len(at) else np.empty(0, dtype=bool)
        more.append(at[new])
        more_normals.append(mask_scene.normals[hits.triangle[met][new]])
        more_ways.append(np.full(int(new.sum()), k))
    found_at, found_normals = np.concatenate(more), np.concatenate(more_normals)
    spacing = MERGED * math.sqrt(mask.triangle_areas.sum() / SAMPLES)
    alike = np.column_stack([np.round(found_at / spacing), np.round(found_normals)]).astype(np.int64)
    first, row = np.unique(alike, axis=0, return_index=True, return_inverse=True)[1:]
    extra = found_at[first]
    extra_meets = np.zeros((len(extra), len(ways)), dtype=bool)
    extra_meets[row.ravel(), np.concatenate(more_ways)] = True
    everywhere = np.concatenate([points, extra])
    skin_normals = part.triangle_normals[np.concatenate([found.triangle, Nearest.of(part).query(extra).triangle])]
    return PullSamples(
        points=everywhere,
        spread=len(points),
        normals=np.concatenate([normals, found_normals[first]]),
        ways=ways,
        named=named,
        meets=np.concatenate([meets, extra_meets]),
        touching=np.concatenate([touching, np.zeros(len(extra), dtype=bool)]),
        skin_normals=skin_normals,
    )


def candidate_ways(part: Solid, contact_normals: Array, patch: Patch, pull: Array | None) -> tuple[Array, int]:
    """Directions worth trying, (k, 3) unit, without repeats, and how many of them the shapes suggest; those come first.

    The way asked for; the axes; the way that leaves all contacts fastest, found exactly; the mean normal of window and
    contacts; the way most along all contacts; the normals of the part's largest flats; and an even spread.
    """
    found: list[Array] = [] if pull is None else [np.asarray(pull, dtype=np.float64)]
    found += [*np.eye(3), *-np.eye(3), *DIAGONALS]
    corners = patch.vertices[patch.triangles]
    cross = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    found.append(cross[patch.inside].sum(axis=0))
    if len(contact_normals):
        found.append(contact_normals.mean(axis=0))
        found.append(leaving_way(contact_normals))
        along = np.linalg.eigh(contact_normals.T @ contact_normals)[1]
        found += [sign * along[:, k] for k in range(3) for sign in (1.0, -1.0)]
    rounded, rows = np.unique(np.round(part.triangle_normals, 3), axis=0, return_inverse=True)
    largest = np.argsort(-np.bincount(rows.ravel(), weights=part.triangle_areas), kind="stable")[:FLATS]
    found += [sign * rounded[row] for row in largest for sign in (1.0, -1.0)]
    areas = np.linalg.norm(cross, axis=1).sum()
    found = [way for way in found if np.linalg.norm(way) > 1e-9 * max(1.0, areas)]
    named = len(found)
    ways = np.array([way / np.linalg.norm(way) for way in [*found, *spiral(WAYS)]])
    kept: list[int] = []
    for row in range(len(ways)):
        if not kept or (ways[kept] @ ways[row]).max() < 1.0 - 1e-7:
            kept.append(row)
    return ways[kept], int((np.array(kept) < named).sum())


def leaving_way(normals: Array) -> Array:
    """The direction d, (3,), whose least n . d over all normals (n, 3) is greatest, |d| at most 1 along each axis."""
    thinned = np.unique(np.round(normals, 3), axis=0)
    rows = np.column_stack([-thinned, np.ones(len(thinned))])
    solved = linprog([0.0, 0.0, 0.0, -1.0], A_ub=rows, b_ub=np.zeros(len(rows)), bounds=[(-1.0, 1.0)] * 3 + [(None, 1)])
    return np.zeros(3) if solved.x is None else np.asarray(solved.x[:3])


def spiral(count: int) -> Array:
    """Directions spread evenly over the sphere, (count, 3), the same at every call."""
    height = 1.0 - (2.0 * np.arange(count) + 1.0) / count
    turn = np.arange(count) * math.pi * (3.0 - math.sqrt(5.0))
    ring = np.sqrt(1.0 - height**2)
    return np.stack([ring * np.cos(turn), ring * np.sin(turn), height], axis=1)


def path_length(seated: Sequence[Solid], piece: Solid, way: Array, clear_mm: float = 2.0) -> float:
    """How far a piece moves along a way, (3,) unit, until it is past all that stays, by `clear_mm`."""
    far = max(float((solid.vertices @ way).max()) for solid in seated)
    return max(far - float((piece.vertices @ way).min()), 0.0) + clear_mm


def swept(seated: Sequence[Solid], piece: Solid, way: Array) -> float:
    """The most volume, mm3, that a piece shares with what stays seated, at stations of its path along a way.

    Notes
    -----
    Exact at each station (`STEP_MM` apart, `FIRST_MM`, and seated). Between stations the rays of `sample_pull` speak.
    Stops at the first station over `SHARED_MM3`. Cost: a kernel operation a station and solid.
    """
    path = path_length(seated, piece, way)
    step = max(STEP_MM, path / STATIONS)
    worst = 0.0
    for travelled in sorted({0.0, *FIRST_MM, *np.arange(1.0, path / step) * step}):
        matrix = np.eye(4)
        matrix[:3, 3] = travelled * way
        moved = piece.moved(matrix)
        for solid in seated:
            if (moved.bounds_mm[0] < solid.bounds_mm[1]).all() and (moved.bounds_mm[1] > solid.bounds_mm[0]).all():
                worst = max(worst, shared_volume(solid, moved))
        if worst > SHARED_MM3:
            return worst
    return worst


def _raised_paint(patch: Patch, gap_mm: float) -> Array:
    """Points of the window away from its edge, raised off the skin, (n, 3)."""
    if not patch.inside.any():
        return np.empty((0, 3))
    points, normals = spread_points(patch.corners, PAINT_SAMPLES)
    deep = np.abs(patch.edge_distance(points))
    kept = deep > min(BESIDE_EDGE_MM, 0.5 * float(deep.max()))
    return np.asarray((points + (gap_mm + OVER_PAINT_MM) * normals)[kept])
