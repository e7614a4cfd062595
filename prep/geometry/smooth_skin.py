"""Smooth normals and smooth patches: what a skin is where its creases are left as they are."""

from __future__ import annotations

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from prep.geometry.cut_skin import Rows, Skin, opposite
from prep.geometry.solid import Array, Solid

SMOOTH_DEG = 30.0
"""Edges that turn by less are facets of one curved skin."""

_FLAT = 1.0 - 1e-9
"""Cosine of the turn below which two triangles are one flat."""


def corner_normals(solid: Solid, crease_deg: float = SMOOTH_DEG) -> Array:
    """Unit normals at the corners of every triangle, (m, 3, 3), the same for all triangles of one smooth fan.

    Notes
    -----
    The mean of the fan's normals, each weighted by its angle at the corner and by the area of the flat it belongs to:
    where a flat runs smoothly into a rounding, its own normal holds at the border, as on the true shape. On a sphere
    or cylinder of even facets the error is of second order in their angle.
    """
    normals = solid.triangle_normals
    neighbours = opposite(solid.triangles)
    cosine = np.einsum("ij,ikj->ik", normals, normals[neighbours])
    flat_areas = _flat_areas(solid, neighbours, cosine)
    smooth = cosine >= np.cos(np.radians(crease_deg))
    group = _fans(solid, neighbours, smooth)
    weight = _angles(solid) * flat_areas[:, None]
    total = np.zeros((int(group.max()) + 1, 3))
    for k in range(3):
        np.add.at(total, group[:, k], normals * weight[:, k, None])
    length = np.linalg.norm(total, axis=1, keepdims=True)
    mean = np.divide(total, length, out=np.zeros_like(total), where=length > 0.0)
    return np.asarray(mean[group])


def smooth_patches(solid: Solid, crease_deg: float) -> Rows:
    """Number of the smooth patch every triangle belongs to, (m,): patches end at edges that turn by more than an angle.

    Notes
    -----
    A triangle too thin for its normal to mean anything is passed over: the two beside it are compared with each other,
    and it goes with the one across its longest side. Cost: O(m log m).
    """
    normals, thin = solid.triangle_normals, solid.slivers
    beside = opposite(solid.triangles)
    count = len(beside)
    sides = np.linalg.norm(np.roll(solid.corners, -1, axis=1) - solid.corners, axis=2)
    longest = np.argsort(-sides, axis=1, kind="stable")
    across = beside[np.arange(count), longest[:, 0]]
    second = beside[np.arange(count), longest[:, 1]]
    one = np.concatenate([np.repeat(np.arange(count), 3), across[thin]])
    two = np.concatenate([beside.ravel(), second[thin]])
    plain = ~thin[one] & ~thin[two]
    flatter = np.einsum("ij,ij->i", normals[one], normals[two]) >= np.cos(np.radians(crease_deg)) - 1e-12
    kept = plain & flatter
    rows = np.concatenate([one[kept], np.flatnonzero(thin)])
    columns = np.concatenate([two[kept], across[thin]])
    graph = coo_matrix((np.ones(len(rows), dtype=bool), (rows, columns)), shape=(count, count))
    return np.asarray(connected_components(graph, directed=False)[1], dtype=np.int64)


def _flat_areas(solid: Solid, neighbours: Rows, cosine: Array) -> Array:
    """Area of the flat each triangle belongs to, (m,)."""
    count = len(neighbours)
    same = (cosine >= _FLAT).ravel()
    rows, columns = np.repeat(np.arange(count), 3)[same], neighbours.ravel()[same]
    graph = coo_matrix((np.ones(len(rows), dtype=bool), (rows, columns)), shape=(count, count))
    label = connected_components(graph, directed=False)[1]
    return np.asarray(np.bincount(label, weights=solid.triangle_areas)[label])


def _fans(solid: Solid, neighbours: Rows, smooth: Array) -> Rows:
    """Number of the smooth fan each corner belongs to, (m, 3)."""
    t = solid.triangles.astype(np.int64)
    rows, columns = [], []
    for k in range(3):
        here = np.flatnonzero(smooth[:, k])
        there = neighbours[here, k]
        for corner in (k, (k + 1) % 3):
            at = np.argmax(t[there] == t[here, corner, None], axis=1)
            rows.append(3 * here + corner)
            columns.append(3 * there + at)
    one, two = np.concatenate(rows), np.concatenate(columns)
    graph = coo_matrix((np.ones(len(one), dtype=bool), (one, two)), shape=(3 * len(t),) * 2)
    return np.asarray(connected_components(graph, directed=False)[1], dtype=np.int64).reshape(-1, 3)


def _angles(solid: Solid) -> Array:
    """Angle at every corner, (m, 3), radians."""
    corners = solid.corners
    found = []
    for k in range(3):
        one = corners[:, (k + 1) % 3] - corners[:, k]
        two = corners[:, (k + 2) % 3] - corners[:, k]
        found.append(np.arctan2(np.linalg.norm(np.cross(one, two), axis=1), np.einsum("ij,ij->i", one, two)))
    return np.stack(found, axis=1)


def corner_shares(solid: Solid, skin: Skin, values: Array) -> Array:
    """A field at the corners of every triangle of a solid, (m, 3), carried to the corners of a skin cut from it.

    Notes
    -----
    Linear in each triangle; exact but for rounding, which in a sliver is held within the sliver's own values.
    """
    a, b, c = np.moveaxis(solid.corners[skin.source], 1, 0)
    normal = np.cross(b - a, c - a)
    square = np.einsum("ij,ij->i", normal, normal)
    corners = skin.vertices[skin.triangles]
    shares = []
    for one, two in ((b, c), (c, a), (a, b)):
        part = np.einsum("ij,ikj->ik", normal, np.cross(one[:, None] - corners, two[:, None] - corners))
        shares.append(np.divide(part, square[:, None], out=np.full_like(part, 1 / 3), where=square[:, None] > 0.0))
    held = values[skin.source]
    carried = np.einsum("pik,ip->ik", np.stack(shares), held)
    whole = (skin.triangles == solid.triangles[skin.source]).all(axis=1)
    carried[whole] = held[whole]
    return np.asarray(np.clip(carried, held.min(axis=1)[:, None], held.max(axis=1)[:, None]))
