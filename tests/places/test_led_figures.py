"""Figures and the shop sheet's line."""

from __future__ import annotations

from fixtures.benches import shipped_tables
from prep.physics.led_circuit import led_circuit, supply_of
from prep.places.led_figures import circuit_figures, light_says, sheet_line, wall_figures
from prep.places.led_window import WindowWall

LED = shipped_tables().leds.get("round 3 mm white")
SNAPPED = WindowWall(0.9, 1.0, 0.4, 0.38, "2 beads", 2, True, "measured")
PLAIN = WindowWall(1.0, 1.0, 0.38, 0.38, "not snapped: it leans 45 deg", 0, False, "a default")


def test_the_line_names_beads_and_run_time() -> None:
    """As on the shop sheet: window in beads, stand-off, resistor or none, current, cell, hours."""
    circuit = led_circuit(LED, supply_of("CR2032", shipped_tables()), 5.0)
    line = sheet_line("L1", LED, SNAPPED, 9.0, circuit)
    assert line.startswith("L1 | round 3 mm white | window 0.90 mm = 2 beads | stand-off 9.0 mm | no resistor | ")
    assert line.endswith("h at most")
    assert sheet_line("L2", LED, PLAIN, 9.0, None) == "L2 | round 3 mm white | window 1.00 mm | stand-off 9.0 mm"


def test_the_light_says_what_was_made_and_asked() -> None:
    """Snapped: both; not measured: that too."""
    assert light_says(SNAPPED) == (
        "the window passes 40.00 % at 0.90 mm, 2 beads; asked 1.00 mm, which would pass 38.00 %"
    )
    assert light_says(PLAIN).endswith("not measured: a default")


def test_figures_carry_the_circuit_and_the_wall() -> None:
    """Reports read resistor and thickness by these keys."""
    circuit = led_circuit(LED, supply_of("5 V", shipped_tables()), 10.0)
    assert circuit_figures(circuit)["resistor_ohm"] == circuit.resistor_ohm
    assert wall_figures(SNAPPED)["light_wall_mm"] == 0.9
