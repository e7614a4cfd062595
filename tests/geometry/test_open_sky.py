"""`open_sky`: the free share of the space before a skin, against view factors in closed form."""

from __future__ import annotations

import numpy as np
import pytest

from fixtures.drawn import hemisphere_bowl, ico_sphere, spherical_shell, tray
from prep.geometry.open_sky import open_sky, spread_points
from prep.geometry.rays import RayScene
from prep.geometry.solid import Solid


def sky_of(solid: Solid, chosen: np.ndarray) -> float:
    """Mean share of sky over some triangles."""
    points, normals = spread_points(solid.corners[chosen], 200)
    return float(open_sky(RayScene([solid]), points, normals, 256).mean())


def test_a_ball_sees_all() -> None:
    """Nothing stands before a convex skin."""
    ball = Solid.of(*ico_sphere(10.0, 3))
    assert sky_of(ball, np.full(len(ball.triangles), True)) == 1.0


def test_a_sealed_void_sees_none() -> None:
    """The inner skin of a hollow ball has no sky."""
    shell = Solid.of(*spherical_shell(10.0, 8.0))
    assert sky_of(shell, np.linalg.norm(shell.corners, axis=2).max(axis=1) < 9.0) == 0.0


def test_inside_of_a_half_sphere() -> None:
    """The inside of a hemisphere sees its opening with a view factor of one half.

    J. R. Howell, A Catalog of Radiation Heat Transfer Configuration Factors, C-2: spherical cap to its opening, A2/A1.
    """
    bowl = Solid.of(*hemisphere_bowl(10.0, 8.0, 96, 36))
    inner = (np.linalg.norm(bowl.corners, axis=2) < 8.01).all(axis=1)
    assert bowl.triangle_areas[inner].sum() == pytest.approx(2.0 * np.pi * 64.0, rel=0.01)
    assert sky_of(bowl, inner) == pytest.approx(0.5, abs=0.015)


def test_floor_of_a_tray() -> None:
    """A tray's floor sees its mouth: two equal parallel rectangles.

    F. P. Incropera, D. P. DeWitt, Fundamentals of Heat and Mass Transfer, 1996, table 13.2, aligned rectangles.
    """
    solid = Solid.of(*tray((46.0, 36.0, 24.0), 3.0, 4.0))
    normals = solid.triangle_normals
    heights = solid.corners[:, :, 2]
    floor = (normals[:, 2] > 0.99) & (heights.max(axis=1) < solid.bounds_mm[1, 2] - 1.0)
    a, b, c = 40.0, 30.0, 20.0
    x, y = a / c, b / c
    p, q = np.hypot(1.0, x), np.hypot(1.0, y)
    terms = np.log((p * q) ** 2 / (1.0 + x * x + y * y)) / 2.0 + x * q * np.arctan(x / q) + y * p * np.arctan(y / p)
    factor = 2.0 / (np.pi * x * y) * (terms - x * np.arctan(x) - y * np.arctan(y))
    assert sky_of(solid, floor) == pytest.approx(factor, abs=0.015)


def test_points_are_spread_by_area() -> None:
    """Points lie on the triangles, in number with their areas."""
    corners = np.array([[[0, 0, 0], [4, 0, 0], [0, 2, 0]], [[0, 0, 5], [1, 0, 5], [0, 1, 5]]], dtype=np.float64)
    points, normals = spread_points(corners, 90)
    assert (points[:, 2] == 0.0).sum() == pytest.approx(80, abs=1)
    assert (points >= 0.0).all()
    assert (points[:, 0] / 4.0 + points[:, 1] / 2.0 <= 1.0 + 1e-12).all()
    assert np.allclose(normals, [0.0, 0.0, 1.0])
