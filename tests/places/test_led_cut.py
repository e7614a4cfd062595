"""`cut_leds`: the axis a cavity takes, its frame, and the volume predicted."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fixtures.benches import shipped_tables
from fixtures.drawn import box, bumpy_dome, hemisphere_bowl, turned
from prep.errors import DoesNotFit
from prep.geometry.led_cavity_outline import Outline
from prep.geometry.solid import Solid
from prep.places.find import find_places
from prep.places.led_cut import CutLeds, LedAim, cut_leds, window_frame
from prep.places.led_seat import led_seat
from prep.places.wanted import PlaceWanted

FIT = led_seat(shipped_tables().leds.get("round 3 mm white"), shipped_tables().processes.get("extrusion-0.4"))
UP = np.array([0.0, 0.0, 1.0])


def cut(part: tuple, *points: str, toward: np.ndarray = -UP, standoff: float | None = 4.0, **more) -> CutLeds:
    """Lamps of 3 mm in a drawn part."""
    solid = Solid.of(*part)
    places = find_places(solid, [PlaceWanted(point=point) for point in points])
    given = {"window": FIT.window, "turn_deg": 0.0, "insert": False, "even_mm": 6.0} | more
    aim = LedAim(fit=FIT, wall_mm=0.9, standoff_mm=standoff, beside_mm=0.8, toward=toward, up=UP, **given)
    return cut_leds(solid, places, aim, {})


def test_a_window_near_the_top_is_lit_straight_up() -> None:
    """Within 30 degrees of the way in, the axis is the way in itself; beyond, it is the skin's normal."""
    shell = bumpy_dome(30.0, 2.5, 0.0)
    near, far = cut(shell, "8, 0, 28.9 mm").leds[0], cut(shell, "22, 0, 20 mm").leds[0]
    assert near.axis == pytest.approx(UP)
    assert far.axis @ (np.array([22.0, 0.0, 20.0]) / math.hypot(22.0, 20.0)) > 0.995


def test_a_slanted_window_of_a_thick_part_is_lit_from_straight_behind() -> None:
    """Where no lamp could come out along the normal, the axis is the way in, up to 70 degrees off the skin's normal."""
    hill = turned(hemisphere_bowl(30.0, 1.0, 96, 36), (1.0, 0.0, 0.0), 180.0)
    led = cut(hill, "18, 0, 24 mm").leds[0]
    assert led.axis == pytest.approx(UP)
    assert led.grown is None


def test_the_standoff_left_open_is_even_or_what_the_slant_asks() -> None:
    """The even stand-off, or more where the chamber's lowest rim lies behind it."""
    slab = box((40.0, 40.0, 30.0))
    assert cut(slab, "0, 0, 15 mm", standoff=None).leds[0].cavity.standoff_mm == 6.0
    hill = turned(hemisphere_bowl(30.0, 1.0, 96, 36), (1.0, 0.0, 0.0), 180.0)
    wide = cut(hill, "18, 0, 24 mm", standoff=None, even_mm=0.5, window=Outline.round(7.0)).leds[0].cavity
    assert wide.standoff_mm == pytest.approx(wide.least_standoff_mm + 3.5 - 1.75)
    assert wide.standoff_mm > 1.5


@settings(max_examples=8, deadline=None)
@given(st.floats(-14.0, 14.0), st.floats(-14.0, 14.0), st.sampled_from([(), (10.0, 6.0)]))
def test_the_volume_is_predicted(x: float, y: float, size: tuple) -> None:
    """Anywhere on a slab, bored or slotted, the change is what columns of rays foretold."""
    part = box((60.0, 60.0, 30.0))
    window = Outline.slot(*size) if size else FIT.window
    done = cut(part, f"{x}, {y}, 15 mm", window=window, standoff=6.0)
    change = done.solid.volume_mm3 - 60.0 * 60.0 * 30.0
    assert change == pytest.approx(done.volume_mm3, abs=done.error_mm3 + 0.002 * abs(change))
    assert done.error_mm3 < 0.02 * abs(change)


def test_tubes_that_would_meet_are_refused() -> None:
    """Two lamps 5.4 mm apart behind a shell need 5.9 mm; at 9 mm each has its own tube, the volume as foretold."""
    part = bumpy_dome(40.0, 2.5, 0.0)
    with pytest.raises(DoesNotFit, match="run into one another") as fault:
        cut(part, "2.7, 0, 40 mm", "-2.7, 0, 40 mm")
    assert "5.4 mm apart" in fault.value.found
    done = cut(part, "4.5, 0, 40 mm", "-4.5, 0, 40 mm")
    change = done.solid.volume_mm3 - Solid.of(*part).volume_mm3
    assert change == pytest.approx(done.volume_mm3, abs=done.error_mm3)
    assert done.solid.topology.genus == 0


@settings(max_examples=30, deadline=None)
@given(st.floats(0.0, 3.1), st.floats(0.0, 6.2), st.floats(-180.0, 180.0))
def test_a_window_s_frame_is_square_and_level(rise: float, turn: float, roll: float) -> None:
    """Its axes are square to one another, right-handed, and its first axis is level unless turned."""
    axis = np.array([math.sin(rise) * math.cos(turn), math.sin(rise) * math.sin(turn), math.cos(rise)])
    frame = window_frame(np.array([1.0, 2.0, 3.0]), axis, UP, roll)
    assert frame[:3, :3].T @ frame[:3, :3] == pytest.approx(np.eye(3), abs=1e-9)
    assert np.linalg.det(frame[:3, :3]) == pytest.approx(1.0)
    assert frame[:3, 2] == pytest.approx(axis)
    if math.sin(rise) > 1e-3:
        assert window_frame(np.zeros(3), axis, UP, 0.0)[2, 0] == pytest.approx(0.0, abs=1e-9)
