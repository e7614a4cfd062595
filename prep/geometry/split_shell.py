"""Planes that part a mask, and the pieces on either side."""

from __future__ import annotations

from dataclasses import dataclass

import manifold3d
import numpy as np
from numpy.typing import NDArray

from prep.geometry.patch import Patch
from prep.geometry.solid import Array, Solid

Bools = NDArray[np.bool_]

SHIFTS = (-0.25, 0.25, -0.42, 0.42)
"""Where along the mask, in its extents from the middle, further planes of each direction are laid."""
APART_SHARE = 0.02
"""Of the mask's extent: planes nearer to one another are one."""
ALIKE = 1.0 - 1e-4


@dataclass(frozen=True)
class Parting:
    """A plane that parts a mask.

    Attributes
    ----------
    origin_mm, normal : (3,) tuples, a point and the unit normal
    """

    origin_mm: tuple[float, float, float]
    normal: tuple[float, float, float]

    def heights(self, points: Array) -> Array:
        """Signed distance of points (n, 3) from the plane, (n,)."""
        return np.asarray((points - np.array(self.origin_mm)) @ np.array(self.normal))


def parting_planes(mask: Solid, part: Solid) -> tuple[Parting, ...]:
    """Planes worth trying, square to the axes, the diagonals, and the mask's main axes.

    Of each direction one through the middle of the mask, one through that of the part, those that the part ends at, as
    a rim does, and those at `SHIFTS`.
    """
    low, high = mask.bounds_mm
    middle = (low + high) / 2.0
    diagonal = [np.array(d, dtype=float) for d in ((1, 1, 0), (1, -1, 0), (1, 0, 1), (1, 0, -1), (0, 1, 1), (0, 1, -1))]
    centred = mask.corners.mean(axis=1) - middle
    main = np.linalg.eigh((centred * mask.triangle_areas[:, None]).T @ centred)[1]
    normals: list[Array] = []
    for normal in [*np.eye(3), *(d / np.sqrt(2.0) for d in diagonal), *main.T]:
        if all(abs(float(normal @ other)) < ALIKE for other in normals):
            normals.append(normal)
    found = []
    for normal in normals:
        heights = (mask.vertices - middle) @ normal
        low_mm, long = float(heights.min()), float(np.ptp(heights))
        centre = low_mm + long / 2.0
        laid: list[float] = []
        ends = (part.vertices - middle) @ normal
        for height in (
            float((part.bounds_mm.mean(axis=0) - middle) @ normal),
            centre,
            float(ends.max()),
            float(ends.min()),
            *(centre + s * long for s in SHIFTS),
        ):
            inside = 0.0 < height - low_mm < long
            if inside and all(abs(height - other) > APART_SHARE * long for other in laid):
                laid.append(height)
                found.append(Parting(_three(middle + height * normal), _three(normal)))
    return tuple(found)


def part_at(solid: Solid, parting: Parting) -> tuple[Solid | None, Solid | None]:
    """What lies above and below a plane, exact; None where nothing does."""
    normal = np.array(parting.normal)
    above, below = solid._kernel.split_by_plane(tuple(normal.tolist()), float(normal @ np.array(parting.origin_mm)))
    return _taken(above), _taken(below)


def edge_crossings(patch: Patch, parting: Parting, near: Bools) -> tuple[int, float]:
    """How often a plane crosses the window's edge, and how far from square at worst.

    Parameters
    ----------
    near : (e,) bool, which of `patch.edge_sides` count

    Returns
    -------
    crossings, skew : skew 0 where every crossing is square to the edge, 1 where one runs along it
    """
    ends = patch.vertices[patch.edge_sides[near]]
    side = parting.heights(ends.reshape(-1, 3)).reshape(-1, 2) > 0.0
    crossing = side[:, 0] != side[:, 1]
    if not crossing.any():
        return 0, 0.0
    along = ends[crossing, 1] - ends[crossing, 0]
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    return int(crossing.sum()), float(1.0 - np.abs(along @ np.array(parting.normal)).min())


def _taken(kernel: manifold3d.Manifold) -> Solid | None:
    if kernel.is_empty():
        return None
    mesh = kernel.to_mesh64()
    return Solid.of(np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts))


def _three(vector: Array) -> tuple[float, float, float]:
    x, y, z = (float(value) for value in vector)
    return (x, y, z)
