"""Sharp wedges: outward creases whose two faces close on each other, joined into chains."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from prep.geometry.creases import Creases
from prep.geometry.solid import Array, Indices, Solid


@dataclass(frozen=True)
class Wedge:
    """A chain of sharp edges.

    Attributes
    ----------
    at_mm : (3,)
        Middle of the edge whose angle is given.
    angle_deg : float
        Between the two faces, measured inside the material: the median along the chain.
    length_mm : float
        Of the whole chain.
    """

    at_mm: Array
    angle_deg: float
    length_mm: float


@dataclass(frozen=True)
class Wedges:
    """All sharp wedges of a solid; `ends` are their edges' end points, (k, 2, 3) mm."""

    chains: tuple[Wedge, ...]
    ends: Array

    def explains(
        self, point: Array, normal: Array, far_normal: Array, width_mm: Array, spacing_mm: float
    ) -> NDArray[np.bool_]:
        """Whether a sharp wedge is where two faces, read as thin at a point, would run together.

        Parameters
        ----------
        point, normal, far_normal : (n, 3)
            Surface points, their outward normals, and the normals on the far side.
        width_mm : (n,)
            Diameter of the ball between the two faces.

        Returns
        -------
        (n,) bool
        """
        answer = np.zeros(len(point), dtype=bool)
        if len(self.ends) == 0 or len(point) == 0:
            return answer
        cosine = np.einsum("ij,ij->i", normal, far_normal)
        across = far_normal - cosine[:, None] * normal
        sine = np.linalg.norm(across, axis=1)
        wedge = np.pi - np.arctan2(sine, cosine)
        rows = np.flatnonzero((wedge > np.radians(0.5)) & (sine > 0.0))
        away = width_mm[rows] / (2.0 * np.tan(wedge[rows] / 2.0))
        foot = point[rows] + (away / sine[rows])[:, None] * across[rows]
        nearest = cKDTree(_along(self.ends, spacing_mm / 2.0)).query(foot)[0]
        answer[rows] = nearest <= spacing_mm + 0.25 * away
        return answer


def sharp_wedges(solid: Solid, found: Creases, widest_deg: float, split_deg: float, deeper_than_mm: float) -> Wedges:
    """Chains of outward creases with less than a given angle of material between their faces.

    Parameters
    ----------
    found : Creases
        Of the solid, down to a turn of 180 degrees less `widest_deg` at least.
    split_deg : float
        Edges sharper than this make chains of their own.
    deeper_than_mm : float
        Both triangles must reach this far back from the edge, or a third of its length; slivers left by an export
        do neither.

    Notes
    -----
    Exact angles of the triangles as they stand. Cost: O(m log m).
    """
    a, b = (solid.vertices[found.ends[:, k]] for k in range(2))
    length = np.linalg.norm(b - a, axis=1)
    depth = 2.0 * solid.triangle_areas[found.triangles].min(axis=1) / np.where(length > 0.0, length, 1.0)
    deep = depth > np.minimum(deeper_than_mm, 0.3 * length)
    rows = np.flatnonzero(~found.reflex & (found.turn_deg >= 180.0 - widest_deg) & deep & (length > 0.0))
    angle = 180.0 - found.turn_deg
    chains = []
    for some in (rows[angle[rows] < split_deg], rows[angle[rows] >= split_deg]):
        labels = _chains(found.ends[some], len(solid.vertices))
        for label in range(int(labels.max(initial=-1)) + 1):
            mine = some[labels == label]
            order = mine[np.argsort(angle[mine], kind="stable")]
            along = np.cumsum(length[order])
            median = order[np.searchsorted(along, along[-1] / 2.0)]
            chains.append(Wedge((a[median] + b[median]) / 2.0, float(angle[median]), float(along[-1])))
    return Wedges(tuple(chains), np.stack([a[rows], b[rows]], axis=1))


def _chains(ends: Indices, vertices: int) -> Indices:
    if len(ends) == 0:
        return np.empty(0, dtype=np.int32)
    ones = np.ones(len(ends), dtype=bool)
    graph = scipy.sparse.coo_matrix((ones, (ends[:, 0], ends[:, 1])), shape=(vertices, vertices))
    labels = scipy.sparse.csgraph.connected_components(graph, directed=False)[1][ends[:, 0]]
    return np.asarray(np.unique(labels, return_inverse=True)[1], dtype=np.int32)


def _along(ends: Array, step_mm: float) -> Array:
    length = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    counts = np.ceil(length / step_mm).astype(np.int64) + 1
    owner = np.repeat(np.arange(len(ends)), counts)
    share = (np.arange(len(owner)) - (np.cumsum(counts) - counts)[owner]) / np.maximum(counts[owner] - 1, 1)
    return np.asarray(ends[owner, 0] + share[:, None] * (ends[owner, 1] - ends[owner, 0]))
