"""`closed_in_overhangs`: ceilings inside a part's pockets that need support while printing."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse
from scipy.spatial import cKDTree

from prep.geometry.contact import fill_triangles
from prep.geometry.rays import RayScene
from prep.geometry.solid import Array, Solid

_MOST_SAMPLES = 60_000
_AROUND = 8
_SHUT = 6
"""Of eight level ways out that many must be blocked for a place to count as inside."""


@dataclass(frozen=True)
class Overhang:
    """A ceiling inside a pocket.

    Attributes
    ----------
    at_mm : (3,)
        Its lowest sample nearest the middle of its area.
    area_mm2 : float
    headroom_mm : float
        Largest height above what lies below it: how tall support would stand.
    span_mm : float
        Its width as seen from below, across its longest reach: that of a rectangle as spread out as it is.
    """

    at_mm: Array
    area_mm2: float
    headroom_mm: float
    span_mm: float


def closed_in_overhangs(solid: Solid, up: Array, steep_deg: float, least_mm2: float) -> list[Overhang]:
    """Faces that look down, less steep than an angle from level, with the part below and around them; largest first.

    Parameters
    ----------
    up : (3,)
        Unit build direction.
    steep_deg : float
        Faces that rise more steeply than this from level hold themselves.
    least_mm2 : float
        Smaller ceilings are left out.

    Notes
    -----
    A place counts as inside where a ray straight down meets the part and six of eight level rays do too, so the
    underside of a table does not count and that of a lid does. Samples are joined into ceilings where they are less
    than 2.5 spacings apart. Areas are those of samples. Cost: nine rays a sample, at most 60 000 samples.
    """
    looks = solid.triangle_normals @ up
    rows = np.flatnonzero(looks < -np.cos(np.radians(steep_deg)))
    if len(rows) == 0:
        return []
    area = solid.triangle_areas[rows]
    spacing = max(float(np.sqrt(area.sum() / _MOST_SAMPLES)), solid.diagonal_mm / 400.0)
    points, owner = fill_triangles(solid.vertices[solid.triangles[rows]], spacing)
    share = (area / np.bincount(owner, minlength=len(rows)))[owner]
    scene = RayScene([solid])
    lift = 1e-4 * solid.diagonal_mm
    start = points + lift * solid.triangle_normals[rows[owner]]
    below = scene.cast(start, np.broadcast_to(-up, start.shape)).distance_mm
    near = np.flatnonzero(np.isfinite(below))
    blocked = np.zeros(len(near), dtype=np.int64)
    for way in _level(up):
        blocked += scene.blocked(start[near], np.broadcast_to(way, (len(near), 3)))
    inside = near[blocked >= _SHUT]
    if len(inside) == 0:
        return []
    return _ceilings(points[inside], share[inside], below[inside] + lift, up, 2.5 * spacing, least_mm2)


def _level(up: Array) -> Array:
    hint = np.eye(3)[int(np.argmin(np.abs(up)))]
    x = np.cross(up, hint)
    x /= np.linalg.norm(x)
    angle = 2.0 * np.pi * (np.arange(_AROUND) + 0.25) / _AROUND
    return np.asarray(np.outer(np.cos(angle), x) + np.outer(np.sin(angle), np.cross(up, x)))


def _ceilings(
    points: Array, share: Array, headroom: Array, up: Array, reach_mm: float, least_mm2: float
) -> list[Overhang]:
    pairs = cKDTree(points).query_pairs(reach_mm, output_type="ndarray")
    graph = scipy.sparse.coo_matrix((np.ones(len(pairs), dtype=bool), pairs.T), shape=(len(points),) * 2)
    _, labels = scipy.sparse.csgraph.connected_components(graph, directed=False)
    totals = np.bincount(labels, weights=share)
    found = []
    for label in np.argsort(-totals, kind="stable"):
        if totals[label] < least_mm2:
            break
        mine = np.flatnonzero(labels == label)
        middle = (points[mine] * share[mine, None]).sum(axis=0) / totals[label]
        level = points[mine] - middle
        level -= np.outer(level @ up, up)
        spread = np.einsum("n,ni,nj->ij", share[mine], level, level) / totals[label]
        span = float(np.sqrt(12.0 * max(float(np.linalg.eigvalsh(spread)[1]), 0.0)))
        nearest = mine[int(np.argmin(((points[mine] - middle) ** 2).sum(axis=1)))]
        found.append(Overhang(points[nearest], float(totals[label]), float(headroom[mine].max()), span))
    return found
