"""`refuse_heat`: the heat of an LED against the plastic of the cavity it is closed in."""

from __future__ import annotations

from collections.abc import Sequence

from prep.physics.led_circuit import LedCircuit
from prep.physics.pocket_heat import pocket_heat, refuse_hot_pocket
from prep.places.led_cut import CutLed


def refuse_heat(circuit: LedCircuit, leds: Sequence[CutLed], wall_mm: float, softens_c: float) -> None:
    """Raise where the smallest cavity would get too warm from the LED in it; resistors lie behind, in the open.

    Raises
    ------
    PocketTooHot
    """
    power = circuit.lamps_mw / (circuit.in_series * circuit.in_parallel)
    area = min(led.cutter.area_mm2 for led in leds)
    refuse_hot_pocket(pocket_heat(power, area, wall_mm, softens_c), power)
