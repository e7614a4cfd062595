"""Plugs that keep paint out of a mouth."""

from __future__ import annotations

import manifold3d
import numpy as np
import pytest
import trimesh

from prep.geometry.plug import STEM_MM, plug
from prep.geometry.solid import Solid


def as_mesh(solid: Solid) -> trimesh.Trimesh:
    """The same triangles in trimesh."""
    return trimesh.Trimesh(solid.vertices, solid.triangles, process=False)


@pytest.mark.parametrize(("shape", "half", "corner"), [("round", (3.0, 3.0), 0.0), ("slot", (6.0, 3.0), 1.0)])
def test_solid_and_its_volume(shape, half, corner) -> None:
    """One closed body; its skirt's volume is that of the frustum between mouth and tip (prismoidal formula)."""
    # prismoidal formula: V = h / 6 (A0 + 4 Am + A1), exact for a loft between parallel outlines
    body = plug(shape, half, corner, 4.0, 0.2, np.eye(4))
    mesh = as_mesh(body)
    assert mesh.is_watertight
    assert mesh.body_count == 1

    def area(less):
        a, b = half[0] - less, half[1] - less
        r = min(half) - less if shape == "round" else corner - less
        return 4.0 * a * b - (4.0 - np.pi) * r * r

    skirt = 4.0 / 6.0 * (area(0.2) + 4.0 * area(0.1) + area(0.0))
    kernel = manifold3d.Manifold(manifold3d.Mesh64(np.array(body.vertices), body.triangles.astype(np.uint64)))
    below = kernel.trim_by_plane((0.0, 0.0, -1.0), 0.0)
    # 96 points on the outline: an inscribed polygon, less than the true curve by (pi / 96)^2 * 2 / 3 of the round part
    assert below.volume() == pytest.approx(skirt, rel=1e-3)
    assert below.bounding_box()[2] == pytest.approx(-4.0)


def test_goes_in_and_does_not_shade_the_rim() -> None:
    """Below the mouth it is never wider than the mouth, above it is narrower, and it stands a finger high."""
    mesh = as_mesh(plug("round", (5.0, 5.0), 0.0, 3.0, 0.15, np.eye(4)))
    reach = np.hypot(mesh.vertices[:, 0], mesh.vertices[:, 1])
    assert reach.max() <= 5.0 + 1e-9
    assert reach[mesh.vertices[:, 2] > 0.1].max() < 3.0
    assert mesh.bounds[1, 2] > STEM_MM


def test_placed_by_its_frame() -> None:
    """It points out of the mouth, wherever that faces."""
    frame = np.array([[0.0, 0.0, 1.0, 7.0], [1.0, 0.0, 0.0, 8.0], [0.0, 1.0, 0.0, 9.0], [0.0, 0.0, 0.0, 1.0]])
    mesh = as_mesh(plug("round", (2.0, 2.0), 0.0, 2.0, 0.1, frame))
    assert mesh.bounds[0] == pytest.approx([5.0, 6.0, 7.0], abs=2e-3)
    assert mesh.volume > 0.0


@pytest.mark.parametrize("scale", [0.3, 30.0])
def test_small_and_large_mouths(scale) -> None:
    """A closed body for the smallest and largest mouths."""
    mesh = as_mesh(plug("slot", (2.0 * scale, scale), 0.3 * scale, 2.0 * scale, 0.05 * scale, np.eye(4)))
    assert mesh.is_watertight
    assert mesh.volume > 0.0
