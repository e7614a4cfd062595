"""`refuse_heat`: an LED must not soften the part it sits in."""

from __future__ import annotations

import pytest

from fixtures.benches import shipped_tables
from fixtures.drawn import box
from prep.errors import PocketTooHot
from prep.physics.led_circuit import led_circuit, supply_of
from prep.places.led_heat import refuse_heat
from tests.places.test_led_cut import cut


def test_20_ma_in_a_close_cavity_of_pla_is_too_much() -> None:
    """A white lamp at 20 mA is too warm for a plastic that gives way at 55 C; not at 5 mA, nor for one of 95 C."""
    tables = shipped_tables()
    leds = cut(box((40.0, 40.0, 12.4)), "0, 0, 6.2 mm").leds
    full, dim = (led_circuit(tables.leds.get("round 3 mm white"), supply_of("5 V", tables), ma) for ma in (20.0, 5.0))
    with pytest.raises(PocketTooHot):
        refuse_heat(full, leds, 0.8, 55.0)
    refuse_heat(dim, leds, 0.8, 55.0)
    refuse_heat(full, leds, 0.8, 95.0)
