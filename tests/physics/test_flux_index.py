"""Flux index of loose magnets."""

from __future__ import annotations

import numpy as np
import pytest

from prep.physics.flux_index import INGESTION_LIMIT, block_flux_index, flux_index, largest_face_field
from prep.physics.magnet_field import axis_field, face_field


@pytest.mark.parametrize(
    ("d", "t", "indices"),
    # computed from the field at 0.38 mm, at 1.17, 1.30 and 1.48 T; method of ASTM F963-17 8.25, limit of 16 CFR 1262
    [
        (2, 1, [22.2, 27.4, 35.5]),
        (2.5, 1, [34.1, 42.1, 54.5]),
        (3, 0.5, [17.2, 21.2, 27.5]),
        (2, 2, [34.5, 42.6, 55.3]),
        (3, 1, [45.0, 55.6, 72.1]),
    ],
)
def test_small_discs_lie_about_the_limit(d, t, indices):
    """The grade decides on which side of the limit a small disc lies."""
    assert [flux_index(d, t, br) for br in (1.17, 1.30, 1.48)] == pytest.approx(indices, abs=0.051)


@pytest.mark.parametrize(
    ("d", "t", "index", "millitesla"),
    # reference table at 1.30 T: the largest over the face, not the value on the axis
    [(5, 1, 109.0, 235.6), (6, 2, 312.5, 332.5), (10, 3, 952.8, 348.3), (20, 3, 2624.4, 289.0), (20, 5, 4056.8, 359.3)],
)
def test_wide_discs_are_strongest_near_the_rim(d, t, index, millitesla):
    """The index takes the largest field over the face, near the rim of a wide disc."""
    assert flux_index(d, t, 1.3) == pytest.approx(index, abs=0.06)
    assert largest_face_field(d, t, 1.3) * 1e3 == pytest.approx(millitesla, abs=0.06)


def test_the_axis_alone_would_understate():
    """On a 20x3 disc the value on the axis is 2.5 times too small."""
    on_axis = (float(axis_field(20, 3, 1.3, 0.38)) * 10) ** 2 * np.pi * 100
    assert on_axis == pytest.approx(1057.3, abs=0.06)
    assert flux_index(20, 3, 1.3) / on_axis == pytest.approx(2.482, abs=1e-3)


def test_the_refined_top_is_the_top():
    """The parabola through the samples finds the same top as a search a thousand times finer."""
    fine = np.abs(face_field(20, 3, 1.3, np.linspace(8.7, 8.9, 20001), 0.38)).max()
    assert largest_face_field(20, 3, 1.3) == pytest.approx(fine, rel=1e-6)


def test_every_common_magnet_is_a_hazard_loose():
    """Ordinary blocks exceed the limit by far."""
    assert block_flux_index(10, 5, 2, 1.3) > 8 * INGESTION_LIMIT
    assert block_flux_index(5, 10, 2, 1.3) == pytest.approx(block_flux_index(10, 5, 2, 1.3))
