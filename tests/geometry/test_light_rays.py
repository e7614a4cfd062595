"""`lamp_rays`: power and spread of a lamp's rays."""

from __future__ import annotations

import math

import numpy as np
import pytest

from prep.geometry.light_rays import lamp_rays


# values.md section 6: orders of half-angles 60, 45, 30 and 15 degrees
@pytest.mark.parametrize(("half_deg", "order"), [(60, 1.0), (45, 2.0), (30, 4.818842), (15, 19.993727)])
def test_flux_within_the_half_angle(half_deg, order) -> None:
    """Within an angle lies 1 - cos^(m + 1) of the light, and at the half angle cos^m is one half."""
    axis = np.array([0.6, 0.0, 0.8])
    light = lamp_rays(np.array([1.0, 2.0, 3.0]), axis, order, 50_000, seed=1)
    cosine = light.directions @ axis
    edge = math.cos(math.radians(half_deg))
    assert light.power[cosine > edge].sum() == pytest.approx(1.0 - 0.5 * edge, abs=2e-4)
    assert light.total == pytest.approx(1.0, abs=1e-12)
    assert np.allclose(np.linalg.norm(light.directions, axis=1), 1.0)
    assert (cosine >= -1e-12).all()
    assert (light.origins == [1.0, 2.0, 3.0]).all()


def test_even_about_the_axis() -> None:
    """Light leans to no side."""
    light = lamp_rays(np.zeros(3), np.array([0.0, 1.0, 0.0]), 1.0, 50_000, seed=2)
    assert np.abs(light.directions[:, [0, 2]].mean(axis=0)).max() < 0.01


def test_seed() -> None:
    """The same seed gives the same rays, another one others."""
    first, same, other = (lamp_rays(np.zeros(3), np.array([0.0, 0.0, 1.0]), 1.0, 100, seed=s) for s in (1, 1, 2))
    assert np.array_equal(first.directions, same.directions)
    assert not np.array_equal(first.directions, other.directions)
