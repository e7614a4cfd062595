"""`corner_normals`: normals that round a faceted curve for the eye and leave its sharp edges sharp."""

from __future__ import annotations

import numpy as np
import scipy.sparse
from numpy.typing import NDArray

from prep.geometry.solid import Array, Solid

CREASE_DEG = 32.0
"""An edge that turns further than this is drawn sharp."""


def corner_normals(solid: Solid, crease_deg: float = CREASE_DEG) -> NDArray[np.float32]:
    """Unit normals for shading at the three corners of every triangle.

    Corners of one vertex share a normal when a chain of edges that turn less than `crease_deg` joins them; the
    triangles of a group count by the angle they have at the vertex, so slivers have little say.

    Parameters
    ----------
    solid : Solid
    crease_deg : float

    Returns
    -------
    (m, 3, 3) float32
        For triangle, corner, axis.

    Notes
    -----
    Cost O(m log m) in the number of triangles, for sorting the edges.

    References
    ----------
    G. Thürmer, C. A. Wüthrich, "Computing vertex normals from polygonal facets", J. Graphics Tools 3(1), 1998.
    """
    t = solid.triangles.astype(np.int64)
    count = len(t)
    group = _corner_groups(solid, np.cos(np.radians(crease_deg)))
    weight = _corner_angles(solid)
    summed = np.stack(
        [np.bincount(group, weights=(weight * solid.triangle_normals[:, axis, None]).ravel()) for axis in range(3)],
        axis=1,
    )[group]
    length = np.linalg.norm(summed, axis=1, keepdims=True)
    flat = np.repeat(solid.triangle_normals, 3, axis=0)
    smooth = np.where(length > 1e-9, summed / np.maximum(length, 1e-9), flat)
    return smooth.reshape(count, 3, 3).astype(np.float32)


def _corner_groups(solid: Solid, least_cosine: float) -> NDArray[np.int64]:
    t = solid.triangles.astype(np.int64)
    count = len(t)
    size = len(solid.vertices)
    start = t.ravel()
    end = np.roll(t, -1, axis=1).ravel()
    order = np.argsort(start * size + end, kind="stable")
    backward = end * size + start
    spot = np.searchsorted((start * size + end)[order], backward)
    partner = order[np.minimum(spot, 3 * count - 1)]
    here = np.arange(3 * count)
    triangle, other = here // 3, partner // 3
    normals = solid.triangle_normals
    smooth = np.einsum("ij,ij->i", normals[triangle], normals[other]) > least_cosine
    smooth &= here < partner
    # the edge that starts at corner `here` ends at its follower; its partner runs the other way
    first, second = here[smooth], partner[smooth]
    rows = np.concatenate([first, _following(first)])
    columns = np.concatenate([_following(second), second])
    links = scipy.sparse.coo_matrix((np.ones(len(rows), dtype=bool), (rows, columns)), shape=(3 * count, 3 * count))
    _, labels = scipy.sparse.csgraph.connected_components(links, directed=False)
    return np.asarray(labels, dtype=np.int64)


def _following(corner: NDArray[np.int64]) -> NDArray[np.int64]:
    return corner - corner % 3 + (corner + 1) % 3


def _corner_angles(solid: Solid) -> Array:
    p = solid.corners
    ahead = np.roll(p, -1, axis=1) - p
    behind = np.roll(p, 1, axis=1) - p
    sine = np.linalg.norm(np.cross(ahead, behind), axis=2)
    return np.asarray(np.arctan2(sine, np.einsum("ijk,ijk->ij", ahead, behind)))
