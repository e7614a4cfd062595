"""Creases: the edges along which a surface turns, outward or inward, and the sharp wedges among them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from prep.geometry.solid import Array, Indices, Solid


@dataclass(frozen=True)
class Creases:
    """Edges of a solid that turn by more than a stated angle.

    Attributes
    ----------
    ends : (k, 2) int32
        Rows in the solid's vertices.
    triangles : (k, 2) int32
        The two triangles that meet there.
    turn_deg : (k,) float64
        Angle between the two outward normals.
    reflex : (k,) bool
        True where the material fills more than half the space about the edge: the foot of a pocket's mouth seen from
        inside the wall, the corner of a slot. False on the outer edges of a box.
    """

    ends: Indices
    triangles: Indices
    turn_deg: Array
    reflex: NDArray[np.bool_]


def creases(solid: Solid, at_least_deg: float) -> Creases:
    """Every edge whose two triangles' normals differ by at least an angle.

    Notes
    -----
    Exact on the triangles as they stand. Cost: O(m log m) for m triangles. Triangles without area take no part.
    """
    t = solid.triangles
    size = len(solid.vertices)
    start = t.ravel().astype(np.int64)
    end = np.roll(t, -1, axis=1).ravel().astype(np.int64)
    owner = np.repeat(np.arange(len(t), dtype=np.int32), 3)
    up = start < end
    forward = np.flatnonzero(up)
    backward = np.flatnonzero(~up)
    forward = forward[np.argsort(start[forward] * size + end[forward], kind="stable")]
    backward = backward[np.argsort(end[backward] * size + start[backward], kind="stable")]
    first, second = owner[forward], owner[backward]
    normals = solid.triangle_normals
    cosine = np.einsum("ij,ij->i", normals[first], normals[second])
    whole = (solid.triangle_areas > 0.0)[np.stack([first, second])].all(axis=0)
    kept = np.flatnonzero((cosine <= np.cos(np.radians(at_least_deg))) & whole)
    first, second = first[kept], second[kept]
    a, b = start[forward[kept]], end[forward[kept]]
    tip = t[second].sum(axis=1) - a - b
    above = np.einsum("ij,ij->i", solid.vertices[tip] - solid.vertices[a], normals[first])
    return Creases(
        ends=np.stack([a, b], axis=1).astype(np.int32),
        triangles=np.stack([first, second], axis=1),
        turn_deg=np.degrees(np.arccos(np.clip(cosine[kept], -1.0, 1.0))),
        reflex=above > 0.0,
    )


def turn_inward_deg(solid: Solid, at_least_deg: float = 2.0) -> tuple[Array, NDArray[np.bool_]]:
    """How far the surface turns inward at every triangle's edges, and at which corners it does.

    Returns
    -------
    along_edge : (m, 3) float64, degrees
        For the edge from corner k to corner k + 1; 0 where the surface is flat or turns outward.
    at_corner : (n,) bool
        Vertices that some inward crease runs into.
    """
    found = creases(solid, at_least_deg)
    inward = found.reflex
    ends, turn = found.ends[inward], found.turn_deg[inward]
    at_corner = np.zeros(len(solid.vertices), dtype=bool)
    at_corner[ends] = True
    along_edge = np.zeros((len(solid.triangles), 3))
    for side in range(2):
        owner = found.triangles[inward, side]
        corners = solid.triangles[owner]
        low = ends.min(axis=1)
        high = ends.max(axis=1)
        for k in range(3):
            one, other = corners[:, k], corners[:, (k + 1) % 3]
            same = (np.minimum(one, other) == low) & (np.maximum(one, other) == high)
            along_edge[owner[same], k] = turn[same]
    return along_edge, at_corner
