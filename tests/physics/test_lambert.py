"""Lamps on a surface, against worked values of the cosine law."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from prep.physics.lambert import evenness, flux_of, illuminance, intensity, lambert_order

UP = np.array([[0.0, 0.0, 1.0]])


@pytest.mark.parametrize(
    ("half", "order"),
    [
        # computed from m = -ln 2 / ln cos, to six digits
        (60, 1.0), (55, 1.246972), (45, 2.0), (30, 4.818842),
        (20, 11.143405), (15, 19.993727), (10, 45.277602), (7.5, 80.674081),
    ],
)  # fmt: skip
def test_order_of_a_half_angle(half, order):
    """Narrow beams have high orders, as worked out, and fall to half at that angle."""
    assert lambert_order(half) == pytest.approx(order, abs=6e-7)
    assert float(intensity(lambert_order(half), half)) == pytest.approx(0.5, abs=1e-12)


@pytest.mark.parametrize(("angle", "lux"), [(0, 1.0), (15, 0.870512702), (30, 0.5625), (45, 0.25), (60, 0.0625)])
def test_a_lambertian_lamp_over_a_plane(angle, lux):
    """A matt lamp lights a plane by the fourth power of the cosine; 1 cd at 1 m is 1 lux."""
    # E = I cos^4 / h^2
    point = np.array([[1000.0 * math.tan(math.radians(angle)), 0.0, 1000.0]])
    got = illuminance(point, -UP, np.zeros((1, 3)), UP, [1.0], [1.0])
    assert got[0] == pytest.approx(lux, abs=1e-9)


@pytest.mark.parametrize(("order", "lumen"), [(1.0, math.pi), (2.0, 2.094395), (20.0, 0.299199)])
def test_flux(order, lumen):
    """All light of a lamp is 2 pi I / (m + 1), which numeric integration over its half sphere confirms."""
    cosine = (np.arange(20000) + 0.5) / 20000
    summed = float(np.sum(2.0 * math.pi * intensity(order, np.degrees(np.arccos(cosine)))) / 20000)
    assert flux_of(order, 1.0) == pytest.approx(lumen, abs=1e-6)
    assert flux_of(order, 1.0) == pytest.approx(summed, rel=1e-5)


def test_all_light_arrives_on_a_ball_around_the_lamp():
    """Illuminance summed over a ball around a lamp off its middle is the lamp's flux."""
    k = np.arange(200_000) + 0.5
    z = 1.0 - 2.0 * k / len(k)
    turn = math.pi * (1.0 + math.sqrt(5.0)) * k
    ball = np.stack([np.sqrt(1.0 - z * z) * np.cos(turn), np.sqrt(1.0 - z * z) * np.sin(turn), z], axis=1)
    axis = np.array([[0.6, 0.0, 0.8]])
    lux = illuminance(50.0 * ball, -ball, np.array([[5.0, -8.0, 11.0]]), axis, [4.0], [3.0])
    area_m2 = 4.0 * math.pi * 0.05**2
    assert lux.mean() * area_m2 == pytest.approx(flux_of(4.0, 3.0), rel=1e-4)


def test_no_light_behind_the_lamp_or_on_the_back():
    """Points behind a lamp and faces turned away get nothing; lamps add up."""
    points = np.array([[0.0, 0.0, -10.0], [0.0, 0.0, 10.0], [0.0, 0.0, 10.0]])
    normals = np.concatenate([UP, UP, -UP])
    lamps = np.zeros((2, 3))
    lux = illuminance(points, normals, lamps, np.repeat(UP, 2, axis=0), 1.0, 0.5)
    assert lux.tolist() == pytest.approx([0.0, 0.0, 1.0 / 0.01**2])


@settings(max_examples=30, deadline=None)
@given(st.floats(0.5, 40.0), st.floats(-2.0, 2.0), st.sampled_from([1e-3, 1.0, 1e3]))
def test_light_falls_with_the_square_of_the_scale(order, aside, scale):
    """A scene at another scale keeps its shape and loses light by the square of the scale."""
    point = np.array([[aside, 0.3, 1.0]])
    small = illuminance(point, -UP, np.zeros((1, 3)), UP, order, 1.0)
    large = illuminance(point * scale, -UP, np.zeros((1, 3)), UP, order, 1.0)
    assert large[0] * scale**2 == pytest.approx(small[0], rel=1e-9)


def test_evenness():
    """Least, mean and most of a set; darkness is not even."""
    even = evenness([1.0, 2.0, 3.0])
    assert (even.min_over_max, even.min_over_mean, even.max_over_mean) == pytest.approx((1 / 3, 0.5, 1.5))
    assert evenness([0.0, 0.0]).min_over_max == 0.0
