"""`find_contact`: where two parts mate, found from their surfaces and not declared."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from prep.errors import PartsApart
from prep.geometry.distance import Nearest
from prep.geometry.solid import Array, Solid

OPPOSED = -0.9
"""Greatest cosine between the normals of two faces that mate (26 degrees off opposed)."""


@dataclass(frozen=True)
class Contact:
    """Samples of the first part's skin that mate with the second's.

    Attributes
    ----------
    points : (n, 3) float64, mm
        On the first part.
    normals : (n, 3)
        Out of the first part.
    gaps_mm : (n,)
        To the second part's skin, along the nearest line; 0 where they touch.
    area_mm2 : float
        Area that the samples stand for, together.
    """

    points: Array
    normals: Array
    gaps_mm: Array
    area_mm2: float


def find_contact(first: Solid, second: Solid, *, reach_mm: float, spacing_mm: float) -> Contact:
    """The patches of the first part within reach of the second with opposed normals, as samples.

    Parameters
    ----------
    reach_mm : float
        Widest gap that still counts as mating.
    spacing_mm : float
        Distance between samples, about.

    Raises
    ------
    PartsApart
        Nothing mates; says how far apart the parts are and where.

    Notes
    -----
    Samples fill each triangle evenly, so that a large flat triangle is seen as well as many small ones. Cost: one
    nearest-point query a sample near the other part.
    """
    low, high = second.bounds_mm[0] - reach_mm, second.bounds_mm[1] + reach_mm
    corners = first.corners
    near = np.flatnonzero(((corners.max(axis=1) >= low) & (corners.min(axis=1) <= high)).all(axis=1))
    tree = Nearest.of(second)
    if len(near) == 0:
        raise _apart(first, tree)
    points, owner = fill_triangles(corners[near], spacing_mm)
    triangle = near[owner]
    share = (first.triangle_areas[near] / np.bincount(owner, minlength=len(near)))[owner]
    keep = ((points >= low) & (points <= high)).all(axis=1)
    points, triangle, share = points[keep], triangle[keep], share[keep]
    found = tree.query(points)
    opposed = np.einsum("ij,ij->i", first.triangle_normals[triangle], second.triangle_normals[found.triangle])
    mates = (found.distance_mm <= reach_mm) & (opposed <= OPPOSED)
    if not mates.any():
        raise _apart(first, tree)
    return Contact(
        points[mates],
        first.triangle_normals[triangle[mates]],
        found.distance_mm[mates],
        float(share[mates].sum()),
    )


def fill_triangles(corners: Array, spacing_mm: float) -> tuple[Array, NDArray[np.intp]]:
    """Points spread evenly over triangles.

    Parameters
    ----------
    corners : (m, 3, 3) mm
    spacing_mm : float

    Returns
    -------
    points : (n, 3) mm, and the row of the triangle each lies in, (n,)

    Notes
    -----
    Each triangle gets area / spacing^2 points, at least one, from the additive recurrence of the plastic number, so
    the same triangle always gets the same points (M. Roberts, "The Unreasonable Effectiveness of Quasirandom
    Sequences", 2018; the constant from memory).
    """
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    areas = np.linalg.norm(np.cross(b - a, c - a), axis=1) / 2.0
    counts = np.maximum(np.rint(areas / spacing_mm**2).astype(np.int64), 1)
    owner = np.repeat(np.arange(len(corners)), counts)
    first = np.cumsum(counts) - counts
    k = np.arange(len(owner)) - first[owner]
    plastic = 1.32471795724474602596
    u = (0.5 + (k + 1) / plastic) % 1.0
    v = (0.5 + (k + 1) / plastic**2) % 1.0
    single = counts[owner] == 1
    fold = u + v > 1.0
    u, v = np.where(fold, 1.0 - u, u), np.where(fold, 1.0 - v, v)
    u, v = np.where(single, 1.0 / 3.0, u), np.where(single, 1.0 / 3.0, v)
    points = a[owner] + u[:, None] * (b - a)[owner] + v[:, None] * (c - a)[owner]
    return points, owner


def _apart(first: Solid, tree: Nearest) -> PartsApart:
    points, _ = fill_triangles(first.corners, max(first.diagonal_mm / 200.0, 1e-6))
    found = tree.query(np.concatenate([first.vertices, points]))
    closest = int(np.argmin(found.distance_mm))
    at = ", ".join(f"{value:.2f}" for value in found.point[closest])
    return PartsApart(
        "the parts do not meet face to face anywhere",
        found=f"nearest {found.distance_mm[closest]:.2f} mm apart, at ({at}) mm; no faces within reach face each other",
        fix="export both parts in the assembly's frame, or give one a `place:` that moves it home",
    )
