"""Caps that follow a curved skin."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from prep.errors import CapHangsOver
from prep.geometry.cap import cap
from prep.geometry.rays import RayScene
from prep.geometry.solid import Solid, shared_volume

BALL = trimesh.creation.icosphere(subdivisions=5, radius=30.0)
SOLID = Solid.of(np.array(BALL.vertices), np.array(BALL.faces))
FRAME = np.array([[0.0, 0.0, 1.0, 30.0], [1.0, 0.0, 0.0, 0.0], [0.0, 1.0, 0.0, 0.0], [0.0, 0.0, 0.0, 1.0]])


def made(half=(6.0, 6.0), shape="round", gap=0.05):
    """A cap on a ball of radius 30, seen from +x."""
    return cap(RayScene([SOLID]), shape, half, 1.5, FRAME, gap_mm=gap, thick_mm=1.2)


@pytest.mark.parametrize(("shape", "half"), [("round", (6.0, 6.0)), ("slot", (10.0, 4.0))])
def test_keeps_its_gap_all_over(shape, half) -> None:
    """One closed body, nowhere in the ball, its underside everywhere a gap away."""
    body = made(half, shape)
    mesh = trimesh.Trimesh(body.vertices, body.triangles, process=False)
    assert mesh.is_watertight
    assert mesh.body_count == 1
    assert shared_volume(body, SOLID) == 0.0
    # a ball needs no tool to measure a gap: the distance from its middle, less the radius
    points, rows = trimesh.sample.sample_surface(mesh, 20_000, seed=1)
    under = mesh.face_normals[rows] @ [1.0, 0.0, 0.0] < -0.5
    gaps = np.linalg.norm(points[under], axis=1) - 30.0
    assert under.sum() > 2_000
    assert gaps.min() > 0.05 - 0.03
    assert gaps.max() < 0.05 + 0.03


def test_covers_its_outline_and_no_more() -> None:
    """Seen along its axis it is the round that was asked for."""
    body = made()
    reach = np.hypot(body.vertices[:, 1], body.vertices[:, 2])
    assert reach.max() == pytest.approx(6.0, abs=5e-3)


def test_refuses_to_hang_over() -> None:
    """A cap larger than the ball, or one that would reach skin too steep, is refused with the place."""
    with pytest.raises(CapHangsOver, match="no skin"):
        made((31.0, 31.0))
    with pytest.raises(CapHangsOver, match="leans"):
        made((29.0, 29.0))
