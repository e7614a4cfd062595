"""Free-standing pins."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from prep.geometry.pins import find_pins
from tests.geometry.walled import box, rod, solid


def on_plate(pin: object, height: float) -> object:
    """A pin standing on a plate of 20 x 20 x 4, its foot 0.5 mm inside."""
    return solid(box(20, 20, 4) + pin.translate([4, -3, 2.0 + height / 2.0 - 0.5]))


@settings(max_examples=12, deadline=None)
@given(st.floats(0.4, 1.3), st.floats(3.0, 12.0), st.integers(0, 1000), st.sampled_from([1e-3, 1.0, 1e3]))
def test_round_pin_by_its_diameter_and_height(width: float, tall: float, seed: int, scale: float) -> None:
    """A round pin is found with its diameter and height, however the part is turned, at any scale."""
    body = on_plate(rod(tall + 0.5, width / 2.0, 64), tall + 0.5)
    matrix = np.eye(4)
    matrix[:3, :3] = scale * Rotation.random(random_state=seed).as_matrix()
    (pin,) = find_pins(body.moved(matrix), 1.5 * scale)
    assert pin.width_mm == pytest.approx(width * scale, rel=0.03)
    assert pin.length_mm == pytest.approx(tall * scale, abs=width * scale)
    tip = matrix[:3, :3] @ np.array([4.0, -3.0, 2.0 + tall])
    assert np.linalg.norm(pin.tip_mm - tip) < width * scale


def test_square_pin_by_its_side() -> None:
    """A square pin is as thick as its side."""
    (pin,) = find_pins(on_plate(box(0.8, 0.8, 8.0), 8.0), 1.5)
    assert pin.width_mm == pytest.approx(0.8, rel=0.04)
    assert pin.slenderness == pytest.approx(7.5 / 0.8, rel=0.15)


@pytest.mark.parametrize(
    "body",
    [
        lambda: box(20, 20, 4),
        lambda: box(20, 20, 4) + box(10, 0.8, 10).translate([0, 0, 5]),
        lambda: box(20, 20, 4) + rod(9, 0.5, 32).translate([0, 0, 5]) + box(20, 20, 4).translate([0, 0, 10]),
        lambda: box(20, 20, 4) + rod(9, 1.0, 32).translate([0, 0, 5]),
        lambda: box(20, 20, 4) + rod(1.6, 0.6, 32).translate([0, 0, 2.3]),
        lambda: rod(20, 10) - rod(21, 9.2),
    ],
    ids=["plate", "rib", "strut", "thick pin", "bump", "thin tube"],
)
def test_what_is_no_thin_pin(body: Callable[[], object]) -> None:
    """A rib, a strut held at both ends, a thick pin, a bump and a thin tube are no thin pins."""
    assert find_pins(solid(body()), 1.5) == []


def test_each_pin_once_thinnest_first() -> None:
    """Three pins side by side are three, in the order of their thickness."""
    body = box(20, 20, 4)
    for x, radius in ((-6, 0.6), (0, 0.3), (6, 0.45)):
        body += rod(8, radius, 32).translate([x, 0, 5.5])
    assert [round(pin.tip_mm[0]) for pin in find_pins(solid(body), 1.5)] == [0, 6, -6]
