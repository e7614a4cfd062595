"""Field above a magnet."""

from __future__ import annotations

import numpy as np
import pytest

from prep.physics.magnet_field import axis_field, block_field, face_field


@pytest.mark.parametrize(("z", "millitesla"), [(0, 334.4222), (0.38, 314.7693), (5, 91.5795), (10, 25.2970)])
def test_the_axis_field_of_a_disc(z, millitesla):
    """A 10x3 disc of 1.30 T has the anchor values on its axis."""
    # anchor values agreed on with magpylib to 1e-15
    assert float(axis_field(10, 3, 1.3, z)) * 1e3 == pytest.approx(millitesla, abs=5.1e-5)


@pytest.mark.parametrize(
    ("d", "t", "millitesla"),
    [(4, 2, 459.6), (6, 3, 459.6), (12.7, 6.35, 459.6), (3, 1, 360.6), (20, 3, 186.8), (8, 3, 390.0)],
)
def test_the_face_field_depends_on_the_shape_alone(d, t, millitesla):
    """The field in the middle of the face follows thickness over diameter, at any scale."""
    # reference table at 1.30 T
    assert float(axis_field(d, t, 1.3, 0.0)) * 1e3 == pytest.approx(millitesla, abs=0.06)
    assert float(axis_field(d * 1e3, t * 1e3, 1.3, 0.0)) == pytest.approx(float(axis_field(d, t, 1.3, 0.0)), rel=1e-12)


def test_the_axis_field_keeps_its_digits_far_away():
    """Far away the field is that of a dipole, Br V / (2 pi z^3), without lost digits."""
    z = 1e6
    assert float(axis_field(10, 3, 1.3, z)) == pytest.approx(
        1.3 * np.pi * 25 * 3 / (2 * np.pi * (z + 1.5) ** 3), rel=1e-9
    )


def test_off_the_axis_it_agrees_with_magpylib():
    """Anywhere over the face, inside and outside the rim, the field agrees with an independent library."""
    magpy = pytest.importorskip("magpylib")
    for d, t in [(10, 3), (20, 3), (3, 1)]:
        disc = magpy.magnet.Cylinder(polarization=(0, 0, 1.3), dimension=(d * 1e-3, t * 1e-3))
        radius = np.linspace(0, d, 41)
        for z in (0.05, 0.38, 2.0, 30.0):
            points = np.stack([radius, 0 * radius, np.full_like(radius, t / 2 + z)], axis=1) * 1e-3
            assert face_field(d, t, 1.3, radius, z) == pytest.approx(disc.getB(points)[:, 2], rel=1e-9, abs=1e-12)


def test_on_the_axis_both_forms_agree():
    """At radius 0 the elliptic form is the axis form."""
    z = np.array([0.0, 0.1, 1.0, 20.0])
    assert face_field(10, 3, 1.3, 0.0, z) == pytest.approx(axis_field(10, 3, 1.3, z), rel=1e-12)


def test_through_the_rim_it_is_continuous():
    """Crossing the radius of the disc above the face changes the field smoothly."""
    low, rim, high = face_field(10, 3, 1.3, np.array([5 - 1e-9, 5.0, 5 + 1e-9]), 0.38)
    assert low == pytest.approx(rim, rel=1e-7)
    assert high == pytest.approx(rim, rel=1e-7)


@pytest.mark.parametrize(
    ("length", "width", "t", "millitesla"),
    # fields a seller publishes for N38 blocks in the middle of the face; at 1.24 T they agree within 0.12 %
    [(10, 5, 1.5, 239.33), (12, 10, 4, 340.59), (40, 10, 5, 321.37), (40, 20, 10, 349.60), (42, 20, 5, 203.37)],
)
def test_published_block_fields(length, width, t, millitesla):
    """The field in the middle of a block's face agrees with a seller's published figures."""
    assert float(block_field(length, width, t, 1.24, 0.0, 0.0, 0.0)) * 1e3 == pytest.approx(millitesla, rel=1.3e-3)


def test_blocks_agree_with_magpylib():
    """Anywhere above a block, beside it too, the field agrees with an independent library."""
    magpy = pytest.importorskip("magpylib")
    block = magpy.magnet.Cuboid(polarization=(0, 0, 1.3), dimension=(0.01, 0.005, 0.002))
    x, y, z = (grid.ravel() for grid in np.meshgrid([-7.0, 0.0, 4.9], [-3.0, 0.5, 2.4], [0.1, 1.0, 9.0]))
    points = np.stack([x, y, z + 1.0], axis=1) * 1e-3
    assert block_field(10, 5, 2, 1.3, x, y, z) == pytest.approx(block.getB(points)[:, 2], rel=1e-9, abs=1e-12)
