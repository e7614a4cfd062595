"""`find_flats`: the flat faces of a solid, each joined from the triangles that lie in one plane."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse
from numpy.typing import NDArray

from prep.geometry.solid import Array, Indices, Solid

Rows = NDArray[np.intp]

BEND = 2e-3
"""Greatest difference between normals of neighbours in one flat (0.11 degrees)."""


@dataclass(frozen=True)
class Flat:
    """A connected flat face.

    Attributes
    ----------
    centre_mm : (3,) centroid of its area
    normal : (3,) out of the material
    area_mm2 : float
    triangles : (k,) rows of the solid's triangles
    """

    centre_mm: Array
    normal: Array
    area_mm2: float
    triangles: Indices


def find_flats(solid: Solid, toward: Array, *, within_deg: float = 20.0, out_of_plane_mm: float = 0.02) -> list[Flat]:
    """Flat faces that look within an angle of a direction, largest first.

    Parameters
    ----------
    toward : (3,)
        Unit direction.
    within_deg : float
    out_of_plane_mm : float
        Greatest distance of a corner from the flat's plane; a finely meshed dome is not a flat.

    Notes
    -----
    Neighbouring triangles are joined where their normals differ by less than `BEND`, slivers between them passed over.
    Cost: O(m log m).
    """
    normals = solid.triangle_normals
    faces = ~solid.slivers & (normals @ toward >= np.cos(np.radians(within_deg)))
    if not faces.any():
        return []
    looking = np.flatnonzero(faces | solid.slivers)
    triangles = solid.triangles[looking].astype(np.int64)
    start, end = triangles.ravel(), np.roll(triangles, -1, axis=1).ravel()
    owner = np.repeat(np.arange(len(looking)), 3)
    key = np.minimum(start, end) * len(solid.vertices) + np.maximum(start, end)
    order = np.argsort(key, kind="stable")
    key, owner = key[order], owner[order]
    same = np.flatnonzero(key[1:] == key[:-1])
    left, right = owner[same], owner[same + 1]
    left, right = _across_slivers(left, right, solid.slivers[looking])
    smooth = np.linalg.norm(normals[looking[left]] - normals[looking[right]], axis=1) < BEND
    left, right = left[smooth], right[smooth]
    graph = scipy.sparse.coo_matrix((np.ones(len(left), dtype=bool), (left, right)), shape=(len(looking),) * 2)
    _, labels = scipy.sparse.csgraph.connected_components(graph, directed=False)
    areas = np.where(solid.slivers[looking], 0.0, solid.triangle_areas[looking])
    totals = np.bincount(labels, weights=areas)
    flats = []
    for label in np.argsort(-totals, kind="stable")[:200]:
        if totals[label] <= 0.0:
            continue
        rows = looking[labels == label]
        weight = solid.triangle_areas[rows]
        normal = (normals[rows] * weight[:, None]).sum(axis=0)
        normal /= np.linalg.norm(normal)
        corners = solid.vertices[solid.triangles[rows]]
        centre = (corners.mean(axis=1) * weight[:, None]).sum(axis=0) / weight.sum()
        if np.abs((corners - centre) @ normal).max() <= out_of_plane_mm:
            flats.append(Flat(centre, normal, float(totals[label]), rows.astype(np.int32)))
    return flats


def _across_slivers(left: Rows, right: Rows, sliver: NDArray[np.bool_]) -> tuple[Rows, Rows]:
    """Neighbours that are no slivers, those that have one sliver between them included."""
    plain = ~sliver[left] & ~sliver[right]
    one, other = np.concatenate([left, right]), np.concatenate([right, left])
    edge = sliver[one] & ~sliver[other]
    order = np.argsort(one[edge], kind="stable")
    middle, beside = one[edge][order], other[edge][order]
    pairs = [(left[plain], right[plain])]
    for step in (1, 2):
        same = middle[step:] == middle[:-step]
        pairs.append((beside[:-step][same], beside[step:][same]))
    first, second = (np.concatenate([pair[k] for pair in pairs]) for k in (0, 1))
    return first, second
