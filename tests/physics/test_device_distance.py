"""Distance from heart devices."""

from __future__ import annotations

import pytest

from prep.physics.device_distance import device_distance
from prep.physics.magnet_field import axis_field


@pytest.mark.parametrize(
    ("d", "t", "ten_gauss", "five_gauss"),
    # computed from the axis field at 1.30 T; 10 G is the field at which magnet mode may trip (FDA advice, 2021)
    [
        (3, 1, 10.77, 13.73),
        (6, 2, 21.53, 27.47),
        (10, 3, 34.73, 44.29),
        (12.7, 6.35, 51.58, 65.93),
        (20, 5, 65.58, 83.59),
    ],
)
def test_distance_to_ten_and_five_gauss(d, t, ten_gauss, five_gauss):
    """The field has fallen to 10 and 5 gauss at the published distances."""
    assert device_distance(d, t, 1.3) == pytest.approx(ten_gauss, abs=6e-3)
    assert device_distance(d, t, 1.3, 0.5e-3) == pytest.approx(five_gauss, abs=6e-3)


def test_a_weak_magnet_needs_no_distance():
    """Where the field is below the limit at the face, the distance is 0."""
    assert device_distance(10, 0.001, 0.01) == 0.0


def test_the_field_there_is_the_limit():
    """The distance found is where the axis field is the limit."""
    assert float(axis_field(8, 3, 1.2, device_distance(8, 3, 1.2))) == pytest.approx(1e-3, rel=1e-8)
