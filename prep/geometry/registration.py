"""How well contacts hold a mask in its place: motions they leave free, and what those do to the window's edge."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from prep.geometry.distance import Nearest
from prep.geometry.patch import Patch
from prep.geometry.smooth_skin import corner_normals
from prep.geometry.solid import Array, Solid

FREE = 0.05
"""A motion is free if contacts lift or sink by less than this share of what it moves."""


@dataclass(frozen=True, eq=False)
class Seat:
    """Contacts as constraints on small motions.

    Attributes
    ----------
    middle_mm : (3,) of the contacts
    arm_mm : their root mean square distance from it; turns are measured by what they move there
    motions : (f, 6) orthonormal free motions: shift, then turn times arm
    """

    middle_mm: Array
    arm_mm: float
    motions: Array

    def rows(self, points: Array, ways: Array) -> Array:
        """How fast points move along ways under each motion, (n, 6)."""
        arms = (points - self.middle_mm) / self.arm_mm
        return np.concatenate([ways, np.cross(arms, ways)], axis=1)

    def that_move(self, points: Array, ways: Array) -> tuple[Array, Array]:
        """Free motions by how far they move some points along ways.

        Returns
        -------
        motions : (m, 6) those that matter, worst first
        moves : (m,) root mean square over the points, a motion of 1
        """
        if len(self.motions) == 0 or len(points) == 0:
            return np.empty((0, 6)), np.empty(0)
        effect = self.rows(points, ways) @ self.motions.T / np.sqrt(len(points))
        _, moves, turned = np.linalg.svd(effect, full_matrices=False)
        kept = moves > FREE
        return turned[kept] @ self.motions, moves[kept]


def seat_of(points: Array, normals: Array) -> Seat:
    """What contacts at points (n, 3) with unit skin normals (n, 3) leave free.

    Notes
    -----
    A small motion (t, w) parts a contact by n . (t + w x (p - c)); it is free where that is none at all contacts: the
    null space of the matrix of contact wrenches, without friction. A ball leaves three turns, a cylinder a turn and a
    slide, a plane two slides and a turn. Exact but for the tolerance `FREE`, which faceting needs. Contacts that stop a
    motion one way only count as holding: the mask is pressed home against them.

    References
    ----------
    Contacts as linear constraints on small motions: K. Lakshminarayana, Mechanics of form closure, ASME 78-DET-32
    (1978).
    """
    middle = points.mean(axis=0) if len(points) else np.zeros(3)
    arm = float(np.sqrt(((points - middle) ** 2).sum(axis=1).mean())) if len(points) else 1.0
    seat = Seat(middle, max(arm, 1e-9), np.eye(6))
    if len(points) == 0:
        return seat
    _, size, motions = np.linalg.svd(seat.rows(points, normals) / np.sqrt(len(points)), full_matrices=True)
    size = np.concatenate([size, np.zeros(6 - len(size))])
    return Seat(seat.middle_mm, seat.arm_mm, motions[size < FREE])


def smooth_normals_at(part: Solid, triangles: NDArray[np.int64], points: Array) -> Array:
    """Unit normals of the smooth skin a part's triangles stand for, at points (n, 3) on them."""
    corners = part.corners[triangles]
    a, b = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    to = points - corners[:, 0]
    aa, ab, bb = ((x * y).sum(axis=1) for x, y in ((a, a), (a, b), (b, b)))
    ta, tb = (to * a).sum(axis=1), (to * b).sum(axis=1)
    size = np.maximum(aa * bb - ab * ab, 1e-30)
    v, w = (bb * ta - ab * tb) / size, (aa * tb - ab * ta) / size
    share = np.clip(np.stack([1.0 - v - w, v, w], axis=1), 0.0, 1.0)
    normals = (corner_normals(part)[triangles] * share[:, :, None]).sum(axis=1)
    return np.asarray(normals / np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-12))


def edge_ways(patch: Patch) -> tuple[Array, Array]:
    """Middles of the sides of a region's edge, (e, 3), and the way in the skin square to each, (e, 3) unit.

    Sides shorter than a hundredth of the mean are left out.
    """
    ends = patch.vertices[patch.edge_sides]
    along = ends[:, 1] - ends[:, 0]
    size = np.linalg.norm(along, axis=1)
    kept = size > 0.01 * size.mean()
    middle = ends.mean(axis=1)[kept]
    along = along[kept] / size[kept, None]
    skin = Nearest(patch.vertices, patch.triangles).query(middle)
    corners = patch.vertices[patch.triangles[skin.triangle]]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-12)
    return middle, np.cross(normal, along)


def told(seat: Seat, motion: Array) -> str:
    """A motion in words: a slide along a direction, or a turn about an axis."""
    shift, turn = motion[:3], motion[3:] / seat.arm_mm
    if np.linalg.norm(turn) * seat.arm_mm < 0.2 * np.linalg.norm(motion):
        x, y, z = shift / np.linalg.norm(shift)
        return f"slides along ({x:.2f}, {y:.2f}, {z:.2f})"
    size = float(np.linalg.norm(turn))
    axis = turn / size
    x, y, z = axis
    p, q, r = seat.middle_mm + np.cross(axis, shift) / size
    return f"turns about ({x:.2f}, {y:.2f}, {z:.2f}) through ({p:.4g}, {q:.4g}, {r:.4g}) mm"
