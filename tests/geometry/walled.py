"""Solids with a known thinnest wall, for tests: made with the solid kernel, measured without this project."""

from __future__ import annotations

import manifold3d
import numpy as np
from manifold3d import CrossSection, Manifold

from prep.geometry.solid import Solid


def solid(body: Manifold) -> Solid:
    """The kernel's body through the project's one door."""
    mesh = body.to_mesh64()
    return Solid.of(np.array(mesh.vert_properties)[:, :3], np.array(mesh.tri_verts))


def triangles(body: Manifold) -> np.ndarray:
    """Corners of every triangle of a body, (m, 3, 3)."""
    mesh = body.to_mesh64()
    return np.array(mesh.vert_properties)[:, :3][np.array(mesh.tri_verts)]


def box(x: float, y: float, z: float) -> Manifold:
    """A box about the origin."""
    return Manifold.cube([x, y, z], True)


def ball(radius: float, segments: int = 128) -> Manifold:
    """A sphere about the origin."""
    return Manifold.sphere(radius, segments)


def rod(height: float, radius: float, segments: int = 128, top: float | None = None) -> Manifold:
    """An upright cylinder or cone about the origin."""
    return Manifold.cylinder(height, radius, radius if top is None else top, segments, True)


def wedge(angle_deg: float, length: float = 20.0, width: float = 10.0) -> Manifold:
    """A wedge with its edge on the z axis and one face in y = 0."""
    rise = length * np.tan(np.radians(angle_deg))
    return Manifold.extrude(CrossSection([[[0, 0], [length, 0], [length, rise]]]), width)


def torus(ring: float, tube: float, segments: int = 64) -> Manifold:
    """A ring about the z axis."""
    return Manifold.revolve(CrossSection.circle(tube, segments).translate([ring, 0]), 2 * segments)


def without(host: Manifold, *cutters: Manifold) -> Manifold:
    """The host less all cutters."""
    return Manifold.batch_boolean([host, *cutters], manifold3d.OpType.Subtract)


def dense_gap(one: np.ndarray, other: np.ndarray, steps: int = 8) -> float:
    """Least distance between two sets of triangles, by dense points of each against every triangle of the other.

    Slow and plain on purpose: it shares nothing with what it checks.
    """
    return min(_points_to_triangles(_dense(a, steps), b) for a, b in ((one, other), (other, one)))


def _dense(corners: np.ndarray, steps: int) -> np.ndarray:
    shares = [(i / steps, j / steps) for i in range(steps + 1) for j in range(steps + 1 - i)]
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    return np.unique(np.concatenate([a + (b - a) * u + (c - a) * v for u, v in shares]).round(12), axis=0)


def _points_to_triangles(points: np.ndarray, corners: np.ndarray) -> float:
    least = np.inf
    for a, b, c in corners:
        normal = np.cross(b - a, c - a)
        if not normal.any():
            continue
        normal /= np.linalg.norm(normal)
        height = (points - a) @ normal
        foot = points - height[:, None] * normal
        sides = [np.cross(q - p, foot - p) @ normal for p, q in ((a, b), (b, c), (c, a))]
        inside = np.all(np.array(sides) >= 0.0, axis=0)
        if inside.any():
            least = min(least, float(np.abs(height[inside]).min()))
        for p, q in ((a, b), (b, c), (c, a)):
            share = np.clip((points - p) @ (q - p) / ((q - p) @ (q - p)), 0.0, 1.0)
            least = min(least, float(np.linalg.norm(points - p - share[:, None] * (q - p), axis=1).min()))
    return least
