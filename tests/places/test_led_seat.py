"""`led_seat`: sizes of seat, window and stand-off from the table's row and the process."""

from __future__ import annotations

import math

import pytest

from fixtures.benches import shipped_tables
from prep.errors import DoesNotFit, UnfinishedRow
from prep.geometry.led_cavity_outline import Outline
from prep.places.led_seat import even_standoff, led_seat, window_of

TABLES = shipped_tables()
FDM, JET = TABLES.processes.get("extrusion-0.4"), TABLES.processes.get("jetting-0.027")


def test_seat_of_a_5_mm_lamp() -> None:
    """5.00 body, 5.9 flange and 8.71 tall (Broadcom HLMP-BL01 datasheet, flange by practice) with 0.25 a side."""
    seat = led_seat(TABLES.leds.get("round 5 mm white"), FDM).seat
    assert 2.0 * seat.body.half_u_mm == pytest.approx(5.0 + 0.5)
    assert 2.0 * seat.recess.half_u_mm == pytest.approx(5.9 + 0.5)
    assert seat.flat_mm == pytest.approx(2.5 + 0.25)
    assert seat.ledge_mm == pytest.approx(8.71 - 1.0)
    assert seat.length_mm >= 8.71


@pytest.mark.parametrize("process", [row.name for row in TABLES.processes.rows])
@pytest.mark.parametrize("name", ["round 3 mm red", "round 5 mm white", "round 8 mm red", "round 10 mm white"])
def test_the_largest_lamp_allowed_still_goes_in(process: str, name: str) -> None:
    """Body and flange at the top of their tolerance keep play on both sides, in every process."""
    led = TABLES.leds.get(name)
    seat = led_seat(led, TABLES.processes.get(process)).seat
    assert 2.0 * seat.body.half_u_mm > led.diameter_mm + led.size_tolerance_mm + 0.05
    assert 2.0 * seat.recess.half_u_mm > led.flange_mm + led.size_tolerance_mm + 0.05
    assert seat.body.half_u_mm < seat.recess.half_u_mm
    assert 0.0 < seat.shoulder_mm < seat.ledge_mm < seat.length_mm


def test_a_chip_lies_on_a_ledge_with_a_slot_for_its_wires() -> None:
    """5.0 x 5.0 x 1.6 (public table of lamp packages): recess wider, opening narrower, slot across."""
    seat = led_seat(TABLES.leds.get("chip 5050 white"), FDM).seat
    assert 2.0 * seat.recess.half_u_mm == pytest.approx(5.5)
    assert 2.0 * seat.body.half_u_mm == pytest.approx(4.2)
    assert seat.slot is not None
    assert seat.behind.holds(seat.slot)
    assert seat.ledge_mm == 0.0
    assert seat.length_mm > 1.6


def test_a_module_without_a_size_is_refused() -> None:
    """Makers of tea lights differ: the shop gives the size."""
    with pytest.raises(UnfinishedRow):
        led_seat(TABLES.leds.get("tea light module"), FDM)


def test_windows_are_rounds_slots_or_the_bore() -> None:
    """One figure is a diameter, two are a slot, none is the smallest window."""
    fit = led_seat(TABLES.leds.get("round 3 mm white"), JET)
    assert window_of(fit, None, insert=False) == fit.window
    assert window_of(fit, (9.0,), insert=False) == Outline.round(9.0)
    assert window_of(fit, (20.0, 8.0), insert=False) == Outline.slot(20.0, 8.0)
    assert window_of(fit, None, insert=True).half_u_mm == pytest.approx(fit.window.half_u_mm + 0.8)


def test_a_window_smaller_than_the_bore_is_refused() -> None:
    """A 4 mm window before a 5.5 mm bore would shade the lamp; the size asked is named."""
    fit = led_seat(TABLES.leds.get("round 5 mm white"), FDM)
    with pytest.raises(DoesNotFit, match="smaller than what the LED looks through") as fault:
        window_of(fit, (4.0,), insert=False)
    assert "5.5 mm" in fault.value.fix
    with pytest.raises(DoesNotFit):
        window_of(fit, (6.5,), insert=True)


def test_the_even_standoff_lights_the_rim_seven_tenths() -> None:
    """At the rim cos^(m + 3) is 0.7, the order m from the half-angle (15 degrees: 19.993727, -ln 2 / ln cos)."""
    led, window = TABLES.leds.get("round 5 mm white"), Outline.round(8.0)
    angle = math.atan(4.0 / even_standoff(led, window))
    assert math.cos(angle) ** (19.993727 + 3.0) == pytest.approx(0.7, abs=1e-6)


def test_a_strip_keeps_its_pitch() -> None:
    """Light points 16.7 mm apart stand at least as far from the window."""
    strip = TABLES.leds.get("strip 8 mm white 12 V")
    assert even_standoff(strip, Outline.round(1.0)) == pytest.approx(16.7)
