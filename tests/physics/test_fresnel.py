"""Light at a clear face, against published indices and what follows from them exactly."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from prep.physics.fresnel import (
    brewster_angle_deg,
    critical_angle_deg,
    escape_share,
    normal_loss,
    reflectance,
    slab_transmission,
)
from prep.tables import Tables


@pytest.mark.parametrize(
    ("n", "critical", "loss", "slab", "brewster", "escape"),
    [
        # PMMA 1.4914 (Kasarova 2007), PC 1.585 (Sultanova 2009), cured resin 1.51-1.53; the rest computed by hand
        (1.491, 42.1204, 0.038852, 0.925202, 56.1506, 0.12913),
        (1.4914, 42.1065, 0.038903, 0.925107, 56.1577, 0.12905),
        (1.51, 41.4718, 0.041285, 0.920704, 56.4854, 0.12536),
        (1.53, 40.8132, 0.043884, 0.915921, 56.8316, 0.12158),
        (1.585, 39.1176, 0.051214, 0.902562, 57.7516, 0.11207),
    ],
)
def test_published_indices_lead_to_the_published_angles(n, critical, loss, slab, brewster, escape):
    """Critical and Brewster angles, loss, slab and escape cone of clear plastics come out as printed."""
    assert critical_angle_deg(n) == pytest.approx(critical, abs=6e-5)
    assert brewster_angle_deg(n) == pytest.approx(brewster, abs=6e-5)
    assert normal_loss(n) == pytest.approx(loss, abs=6e-7)
    assert slab_transmission(n) == pytest.approx(slab, abs=6e-7)
    assert escape_share(n) == pytest.approx(escape, abs=6e-6)


def test_square_light_loses_what_the_closed_form_says():
    """At square incidence the angle law is the closed form, from both sides."""
    assert float(reflectance(1.0, 1.4914, 1.0)) == pytest.approx(normal_loss(1.4914), abs=1e-15)
    assert float(reflectance(1.4914, 1.0, 1.0)) == pytest.approx(normal_loss(1.4914), abs=1e-15)


def test_a_slab_is_the_sum_of_all_its_passes():
    """The slab's closed form is the sum of every pass to and fro within it."""
    loss = normal_loss(1.585)
    passes = sum((1.0 - loss) ** 2 * loss ** (2 * k) for k in range(60))
    assert slab_transmission(1.585) == pytest.approx(passes, abs=1e-14)


def test_beyond_the_critical_angle_all_is_sent_back():
    """Total internal reflection is exactly one, begins at the critical angle, and grazing light is all sent back."""
    edge = critical_angle_deg(1.4914)
    assert float(reflectance(1.4914, 1.0, math.cos(math.radians(edge + 1e-4)))) == 1.0
    assert float(reflectance(1.4914, 1.0, math.cos(math.radians(edge - 0.01)))) < 0.95
    assert float(reflectance(1.0, 1.4914, 0.0)) == 1.0


def test_at_brewster_half_of_the_polarised_loss_is_left():
    """At Brewster's angle only the light across the plane of incidence is sent back: half of its own share."""
    n = 1.4914
    share = float(reflectance(1.0, n, math.cos(math.radians(brewster_angle_deg(n)))))
    assert share == pytest.approx(0.5 * ((n * n - 1.0) / (n * n + 1.0)) ** 2, abs=1e-15)


@settings(max_examples=40, deadline=None)
@given(st.floats(1.3, 1.8), st.floats(0.01, 1.0))
def test_a_face_is_the_same_from_both_sides(n, cosine):
    """Light that goes in at an angle and light that comes out along the same way lose the same share."""
    inside = math.sqrt(1.0 - (1.0 - cosine**2) / n**2)
    assert float(reflectance(1.0, n, cosine)) == pytest.approx(float(reflectance(n, 1.0, inside)), abs=1e-12)


def test_the_escape_cone_is_the_share_of_directions_within_it():
    """Directions drawn evenly over the sphere leave through one face as often as the closed form says."""
    up = np.random.default_rng(4).uniform(-1.0, 1.0, 400_000)
    leaves = np.mean(up > math.cos(math.radians(critical_angle_deg(1.4914))))
    assert escape_share(1.4914) == pytest.approx(leaves, abs=0.002)


def test_clear_rows_carry_the_published_index():
    """The rods of the materials table are the published plastics; printed clear ones lie in the trade's range."""
    materials = Tables.load().materials
    assert (materials.get("pmma rod").index, materials.get("pc rod").index) == (1.4914, 1.585)
    for name in ("jetted-clear", "resin clear"):
        assert 1.51 <= materials.get(name).index <= 1.53
    assert materials.get("pla").index == 0.0
