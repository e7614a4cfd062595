"""Heat of a lamp in a closed pocket."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from prep.errors import PocketTooHot
from prep.physics.pocket_heat import pocket_heat, refuse_hot_pocket


def test_against_the_heat_equation_solved_on_shells():
    """The steady temperature of a hollow ball, solved shell by shell, is the closed form's."""
    # finite volumes on 4000 shells, k = 0.13 W/(m K), surface resistance 0.13 m2 K/W (ISO 6946)
    watts, area, wall = 0.066, 600e-6, 2e-3
    inner = math.sqrt(area / (4.0 * math.pi))
    r = np.linspace(inner, inner + wall, 4001)
    middle = (r[1:] + r[:-1]) / 2.0
    drop = float(np.sum(watts * np.diff(r) / (0.13 * 4.0 * math.pi * middle**2)))
    outside = 30.0 + watts * 0.13 / (4.0 * math.pi * r[-1] ** 2)
    heat = pocket_heat(66.0, 600.0, 2.0, 55.0)
    assert heat.outside_c == pytest.approx(outside, rel=1e-9)
    assert heat.wall_c == pytest.approx(outside + drop, rel=1e-7)
    assert heat.air_c == pytest.approx(heat.wall_c + watts * 0.13 / area, rel=1e-9)
    assert heat.margin_c == pytest.approx(55.0 - heat.wall_c)


def test_a_thin_shell_is_a_plane_wall():
    """In a large pocket the ball's formula is that of three plane resistances in a row."""
    heat = pocket_heat(1000.0, 1e6, 1.0, 100.0, room_c=20.0)
    assert heat.rise_c == pytest.approx(1.0 / 1.0 * (0.13 + 1e-3 / 0.13), rel=0.01)


@settings(max_examples=40, deadline=None)
@given(st.floats(1.0, 500.0), st.floats(100.0, 5000.0), st.floats(0.5, 10.0))
def test_more_power_is_hotter_and_more_room_is_cooler(power, area, wall):
    """The rise is in proportion to the power and falls with the pocket's area; heat flows outward."""
    heat = pocket_heat(power, area, wall, 60.0)
    assert pocket_heat(2.0 * power, area, wall, 60.0).rise_c == pytest.approx(2.0 * heat.rise_c)
    assert pocket_heat(power, 1.5 * area, wall, 60.0).rise_c < heat.rise_c
    assert heat.air_c > heat.wall_c > heat.outside_c > 30.0


def test_a_hot_pocket_is_refused():
    """Where the wall comes too near softening the pocket is refused with the power that would do; that power passes."""
    heat = pocket_heat(200.0, 300.0, 2.0, 55.0)
    with pytest.raises(PocketTooHot, match="too warm") as caught:
        refuse_hot_pocket(heat, 200.0)
    allowed = float(caught.value.fix.split("under ")[1].split(" mW")[0])
    assert 0.0 < allowed < 200.0
    refuse_hot_pocket(pocket_heat(allowed - 0.5, 300.0, 2.0, 55.0), allowed - 0.5)
    with pytest.raises(PocketTooHot):
        refuse_hot_pocket(pocket_heat(allowed + 0.6, 300.0, 2.0, 55.0), allowed + 0.6)


def test_an_indicator_in_a_usual_pocket_is_fine():
    """A lamp of 66 mW in a pocket of some square centimetres of the softest plastic passes."""
    refuse_hot_pocket(pocket_heat(66.0, 600.0, 2.0, 55.0), 66.0)
