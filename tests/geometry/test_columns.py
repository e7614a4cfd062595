"""Volume shared with a cutter, by columns of rays, against closed forms and the solid kernel."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fixtures.drawn import blob, box, ico_sphere, joined, moved, scaled, spherical_shell
from prep.errors import EmptySolid
from prep.geometry.columns import shared_by_all, shared_by_columns
from prep.geometry.lathe import lathe
from prep.geometry.rays import RayScene
from prep.geometry.solid import Solid, intersect

Z = np.array([0.0, 0.0, 1.0])


def at(x: float, y: float, z: float) -> np.ndarray:
    """A frame shifted to a place."""
    frame = np.eye(4)
    frame[:3, 3] = (x, y, z)
    return frame


@pytest.mark.parametrize("away", [0.0, 1000.0])
@pytest.mark.parametrize("radius", [0.5, 3.25, 20.0])
def test_a_cylinder_sunk_in_a_plate(radius, away) -> None:
    """The sunk part is pi r^2 depth within the error said, its middle half way down, far away as well."""
    host = Solid.of(*moved(box((60.0, 60.0, 12.0), (0.0, 0.0, -6.0)), (away, away, away)))
    cutter = lathe(np.array([[radius, -5.0], [radius, 3.0]]), at(away + 1.0, away - 2.0, away))
    shared = shared_by_columns(RayScene([host]), cutter, Z)
    assert abs(shared.volume_mm3 - math.pi * radius**2 * 5.0) <= shared.error_mm3
    assert shared.error_mm3 < 0.01 * shared.volume_mm3
    assert shared.centre_mm - away == pytest.approx([1.0, -2.0, -2.5], abs=2e-3 * radius)


def test_several_crossings_are_summed() -> None:
    """A column through four plates counts each: a box cutter across them shares their volumes exactly."""
    plates = Solid.of(*joined(*(box((20.0, 20.0, 1.0), (0.0, 0.0, 3.0 * k)) for k in range(4))))
    cutter = Solid.of(*box((6.0, 5.0, 30.0), (0.0, 0.0, 4.0)))
    shared = shared_by_columns(RayScene([plates]), cutter, Z)
    assert shared.volume_mm3 == pytest.approx(4.0 * 30.0, rel=1e-5)
    assert shared.centre_mm == pytest.approx([0.0, 0.0, 4.5], abs=1e-4)


def test_columns_that_begin_inside_the_host() -> None:
    """A cutter wholly inside the material shares all of itself; beside it in a hollow, nothing."""
    block = RayScene([Solid.of(*box((80.0, 80.0, 80.0)))])
    cutter = Solid.of(*box((6.0, 5.0, 4.0)))
    assert shared_by_columns(block, cutter, Z).volume_mm3 == pytest.approx(120.0, rel=1e-5)
    hollow = RayScene([Solid.of(*spherical_shell(30.0, 20.0, 3))])
    nothing = shared_by_columns(hollow, cutter, Z)
    assert nothing.volume_mm3 == 0.0
    assert nothing.centre_mm == pytest.approx(cutter.centre_mm)


def test_apart_they_share_nothing() -> None:
    """A cutter beside or above the host shares nothing."""
    host = RayScene([Solid.of(*box())])
    for shift in ((30.0, 0, 0), (0, 0, 30.0), (0, 0, -30.0)):
        assert shared_by_columns(host, Solid.of(*moved(box(), shift)), Z).volume_mm3 == 0.0


@settings(max_examples=12, deadline=None)
@given(seed=st.integers(0, 999), scale=st.sampled_from([1e-3, 1.0, 1e3]))
def test_agrees_with_the_kernel_within_its_own_error(seed, scale) -> None:
    """A slanted cylinder through a random lump shares what the solid kernel says, within the error stated."""
    random = np.random.default_rng(seed)
    host = Solid.of(*scaled(blob(seed, subdivisions=3), scale))
    axis = random.normal(size=3)
    axis /= np.linalg.norm(axis)
    side = np.cross(axis, [0.3, 0.5, -0.8])
    side /= np.linalg.norm(side)
    frame = np.eye(4)
    frame[:3, 0], frame[:3, 1], frame[:3, 2] = side, np.cross(axis, side), axis
    frame[:3, 3] = random.normal(size=3) * 4.0 * scale
    cutter = lathe(np.array([[3.0, -6.0], [3.0, 6.0]]) * scale, frame)
    shared = shared_by_columns(RayScene([host]), cutter, axis)
    try:
        exact = intersect([host, cutter]).volume_mm3
    except EmptySolid:
        exact = 0.0
    assert abs(shared.volume_mm3 - exact) <= shared.error_mm3


@pytest.mark.parametrize("columns", [24, 48, 96, 192])
def test_across_a_ball_the_error_is_bounded(columns) -> None:
    """Across a ball, where the columns meet no straight wall, the error stated holds and shrinks with the columns."""
    host, ball = Solid.of(*box((9.0, 30.0, 30.0), (4.5, 0.0, 0.0))), Solid.of(*ico_sphere(8.0, 4))
    exact = intersect([host, ball]).volume_mm3
    shared = shared_by_columns(RayScene([host]), ball, Z, columns)
    assert abs(shared.volume_mm3 - exact) <= shared.error_mm3
    assert shared.error_mm3 <= 0.05 * exact * (24.0 / columns) ** 1.5


def test_a_host_of_metres() -> None:
    """Far larger than any printer, no surface is met twice: single precision is allowed for."""
    host = Solid.of(*scaled(blob(22, subdivisions=3), 30.0))
    cutter = lathe(np.array([[90.0, -180.0], [90.0, 180.0]]), at(100.0, -70.0, 30.0))
    shared = shared_by_columns(RayScene([host]), cutter, Z)
    assert abs(shared.volume_mm3 - intersect([host, cutter]).volume_mm3) <= shared.error_mm3


def test_the_sum_over_several() -> None:
    """Several cutters add up, with the centre of the whole."""
    host = RayScene([Solid.of(*box((40.0, 40.0, 10.0)))])
    cutters = [Solid.of(*box((4.0, 4.0, 4.0), (x, 0.0, 0.0))) for x in (-10.0, 10.0, 15.0)]
    total = shared_by_all(host, cutters, [Z] * 3)
    assert total.volume_mm3 == pytest.approx(192.0, rel=1e-5)
    assert total.centre_mm == pytest.approx([5.0, 0.0, 0.0], abs=1e-4)
    assert shared_by_all(host, [], []).volume_mm3 == 0.0
