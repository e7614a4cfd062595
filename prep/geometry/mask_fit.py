"""`seated_fit`: how a mask sits on its part, measured on the finished pieces: gap at the land, place of the edge."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from prep.geometry.distance import Nearest
from prep.geometry.patch import Patch
from prep.geometry.rays import RayScene
from prep.geometry.solid import Array, Solid

SPACING_MM = 0.5
LIFT_MM = 1e-4
ON_LAND_MM = 0.03


@dataclass(frozen=True, eq=False)
class EdgeSpots:
    """Spots along the edge of a region, at most `SPACING_MM` apart.

    Attributes
    ----------
    at_mm : (n, 3) on the edge
    away : (n, 3) unit, along the clean skin, square to the edge, away from the region
    normal : (n, 3) unit outward, of the clean skin there
    length_mm : (n,) of edge that each stands for
    """

    at_mm: Array
    away: Array
    normal: Array
    length_mm: Array

    @staticmethod
    def of(patch: Patch) -> EdgeSpots:
        """Spots along every loop of a patch."""
        sides = patch.edge_sides
        beside = _beyond(patch)
        start, end = patch.vertices[sides[:, 0]], patch.vertices[sides[:, 1]]
        length = np.linalg.norm(end - start, axis=1)
        count = np.maximum(np.ceil(length / SPACING_MM).astype(np.int64), 1)
        row = np.repeat(np.arange(len(sides)), count)
        share = (np.arange(len(row)) - np.repeat(np.cumsum(count) - count, count) + 0.5) / count[row]
        a, b, c = (patch.vertices[patch.triangles[beside, k]] for k in range(3))
        normal, along = _unit(np.cross(b - a, c - a)), _unit(end - start)
        sound = (np.linalg.norm(normal, axis=1) > 0.5) & (length > 0.0)
        kept = sound[row]
        row, share = row[kept], share[kept]
        at = start[row] + share[:, None] * (end - start)[row]
        return EdgeSpots(at, np.cross(along, normal)[row], normal[row], (length / count)[row])

    def behind(self, distance_mm: float) -> Array:
        """Points straight back from each spot, in the plane of the clean skin, (n, 3)."""
        return self.at_mm + distance_mm * self.away


@dataclass(frozen=True)
class SeatedFit:
    """Gap and edge of a seated mask.

    Attributes
    ----------
    gap_mm : between land and skin: median, and the 5th and 95th of a hundred
    edge_back_mm : how far the lip's lower edge stands back from the region's edge, at most
    edge_over_mm : how far it reaches over the region, at most
    bare_share : share of the edge behind which no land was met
    """

    gap_mm: tuple[float, float, float]
    edge_back_mm: float
    edge_over_mm: float
    bare_share: float


def seated_fit(pieces: Sequence[Solid], patch: Patch, spots: EdgeSpots, land_mm: float, gap_mm: float) -> SeatedFit:
    """Measure a mask as it sits.

    Parameters
    ----------
    land_mm, gap_mm : as asked for

    Notes
    -----
    The gap is met along rays square to the skin, from the middle of the land behind every spot of the edge. The edge is
    the nearest point of the mask to each spot, and the mask's corners that stand over the region no higher than the
    gap. Resolution: the mask's own facets.
    """
    skin = Nearest(patch.vertices, patch.triangles)
    foot = skin.query(spots.behind(0.5 * land_mm))
    flat = foot.distance_mm < 0.1 * land_mm
    normal = _normals(patch, foot.triangle)
    hits = RayScene(pieces).cast(foot.point + LIFT_MM * normal, normal)
    gap = hits.distance_mm + LIFT_MM
    met = flat & (gap < gap_mm + land_mm)
    low, middle, high = np.percentile(gap[met], [5, 50, 95]) if met.any() else (np.nan,) * 3
    corners = np.concatenate([piece.vertices for piece in pieces])
    near = np.full(len(spots.at_mm), np.inf)
    for piece in pieces:
        near = np.minimum(near, Nearest.of(piece).query(spots.at_mm).distance_mm)
    back = np.sqrt(np.maximum(near**2 - gap_mm**2, 0.0))
    edge = patch.edge_distance(corners)
    low_over = np.flatnonzero((edge < 0.0) & (edge > -2.0 * land_mm))
    height = skin.query(corners[low_over]).distance_mm
    over = np.sqrt(np.maximum(edge[low_over] ** 2 - height**2, 0.0))[height <= gap_mm + ON_LAND_MM]
    return SeatedFit(
        (float(middle), float(low), float(high)),
        float(back.max()),
        float(over.max(initial=0.0)),
        float(1.0 - met[flat].mean()) if flat.any() else 1.0,
    )


def _beyond(patch: Patch) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    """The clean triangle on the other side of each of `patch.edge_sides`, (e,)."""
    size = np.int64(len(patch.vertices))
    clean = np.flatnonzero(~patch.inside)
    start = patch.triangles[clean].astype(np.int64)
    key = (np.roll(start, -1, axis=1) * size + start).ravel()
    order = np.argsort(key)
    sides = patch.edge_sides.astype(np.int64)
    row = order[np.searchsorted(key, sides[:, 0] * size + sides[:, 1], sorter=order)]
    return np.asarray(clean[row // 3])


def _normals(patch: Patch, triangles: np.ndarray[tuple[int], np.dtype[np.int64]]) -> Array:
    a, b, c = (patch.vertices[patch.triangles[triangles, k]] for k in range(3))
    return _unit(np.cross(b - a, c - a))


def _unit(vectors: Array) -> Array:
    length = np.linalg.norm(vectors, axis=1, keepdims=True)
    return np.asarray(np.divide(vectors, length, out=np.zeros_like(vectors), where=length > 0.0))
