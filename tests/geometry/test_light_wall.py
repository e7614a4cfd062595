"""`LightWall`: the surface a given depth under the outer skin."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fixtures.drawn import box, bumpy_dome, ico_sphere, scaled, turned
from fixtures.gauges import distances
from prep.errors import DoesNotFit
from prep.geometry.light_wall import LightWall
from prep.geometry.solid import Solid

SPOTS = np.array([[0.0, 0.0], [1.0, 0.5], [-2.0, 1.0], [0.3, -2.4]])


def upright(at: tuple[float, float, float]) -> np.ndarray:
    """Axes with z up at a point."""
    frame = np.eye(4)
    frame[:3, 3] = at
    return frame


@pytest.mark.parametrize("scale", [1e-3, 1.0, 1e3])
@pytest.mark.parametrize("lean", [0.0, 35.0, 60.0])
def test_under_a_slanted_flat_the_height_is_the_closed_form(scale: float, lean: float) -> None:
    """A depth t under a flat leaning by a lies t / cos a lower along the axis, at any scale."""
    slab = Solid.of(*scaled(turned(box((60.0, 60.0, 20.0), (0.0, 0.0, -10.0)), (0.0, 1.0, 0.0), lean), scale))
    front = LightWall(slab, upright((0.0, 0.0, 0.0)), 4.0 * scale).under(SPOTS * scale, 1.2 * scale)
    skin = -SPOTS[:, 0] * math.tan(math.radians(lean)) * scale
    assert front.skin_mm == pytest.approx(skin, abs=1e-5 * max(scale, 1.0))
    assert front.height_mm == pytest.approx(skin - 1.2 * scale / math.cos(math.radians(lean)), abs=6e-6 * max(scale, 1))
    assert front.slope == pytest.approx(math.cos(math.radians(lean)))


def test_under_a_ball_the_height_is_the_closed_form() -> None:
    """A depth t under a ball of radius R is the ball of R - t, within what its facets leave out."""
    ball = Solid.of(*ico_sphere(20.0, 6))
    front = LightWall(ball, upright((0.0, 0.0, 20.0)), 6.0).under(SPOTS, 1.5)
    assert front.height_mm == pytest.approx(np.sqrt(18.5**2 - (SPOTS**2).sum(axis=1)) - 20.0, abs=0.006)


@settings(max_examples=6, deadline=None)
@given(st.integers(0, 50), st.floats(0.5, 1.1), st.floats(0.4, 2.0))
def test_the_surface_is_its_depth_from_a_free_form(seed: int, rise: float, depth: float) -> None:
    """On any bumpy shell every point of the surface is its depth from the skin as libigl measures it."""
    drawn = bumpy_dome(30.0, 4.0, seed=seed)
    shell = Solid.of(*drawn)
    way = np.array([math.cos(rise), 0.0, math.sin(rise)])
    corner = shell.vertices[int(np.argmax(shell.vertices @ way))]
    frame = upright(tuple(corner))
    frame[:3, :3] = np.column_stack([[-math.sin(rise), 0.0, math.cos(rise)], [0.0, -1.0, 0.0], way])
    frame[:3, 0] = np.cross(frame[:3, 1], way)
    front = LightWall(shell, frame, 5.0).under(SPOTS, depth)
    points = np.column_stack([SPOTS, front.height_mm]) @ frame[:3, :3].T + frame[:3, 3]
    outer = shell.triangles[shell.triangle_normals @ way > 0.2]
    assert distances((shell.vertices, outer), points) == pytest.approx(depth, abs=1e-5)


def test_the_inner_skin_is_no_part_of_the_outer() -> None:
    """In a shell thinner than the depth asked, the surface lies in the air behind and not near the inner skin."""
    shell = Solid.of(*bumpy_dome(30.0, 1.0, 0.0))
    top = float(shell.vertices[:, 2].max())
    front = LightWall(shell, upright((0.0, 0.0, top)), 4.0).under(np.zeros((1, 2)), 3.0)
    assert front.height_mm[0] == pytest.approx(-3.0, abs=0.02)


def test_the_wall_there_is_is_measured_along_the_normal() -> None:
    """A shell of 2.5 mm has 2.5 mm under every spot."""
    shell = Solid.of(*bumpy_dome(30.0, 2.5, 0.0))
    skin = LightWall(shell, upright((0.0, 0.0, float(shell.vertices[:, 2].max()))), 4.0)
    assert skin.thickness(SPOTS) == pytest.approx(2.5, abs=0.03)


def test_a_window_off_the_skin_is_refused() -> None:
    """Over the edge of a box there is no skin."""
    slab = Solid.of(*box((10.0, 10.0, 6.0)))
    with pytest.raises(DoesNotFit, match="run off the skin") as fault:
        LightWall(slab, upright((3.0, 0.0, 3.0)), 3.0).under(np.array([[0.0, 0.0], [2.5, 0.0]]), 1.0)
    assert "50%" in fault.value.found


def test_a_skin_too_steep_is_refused_with_its_angle() -> None:
    """A flat leaning 75 degrees takes no window along the axis."""
    slab = Solid.of(*turned(box((60.0, 60.0, 20.0), (0.0, 0.0, -10.0)), (0.0, 1.0, 0.0), 75.0))
    with pytest.raises(DoesNotFit, match="turns too far") as fault:
        LightWall(slab, upright((0.0, 0.0, 0.0)), 3.0).under(np.zeros((1, 2)), 1.0)
    assert "75.0 deg" in fault.value.found


def test_a_skin_that_looks_away_is_refused() -> None:
    """From below, no face looks up."""
    tray = Solid.of(*box((10.0, 10.0, 6.0)))
    frame = upright((20.0, 0.0, 3.0))
    with pytest.raises(DoesNotFit, match="no skin faces"):
        LightWall(tray, frame, 2.0)
