"""What reports say of LEDs: figures of cavity, light wall, circuit and wire, and the line of the shop sheet."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from prep.geometry.led_cavity_room import Walls
from prep.physics.flat_field import window_evenness
from prep.physics.lambert import lambert_order
from prep.physics.led_circuit import LedCircuit
from prep.places.led_cut import CutLed
from prep.places.led_window import WindowWall
from prep.places.led_wire import LedWire
from prep.tables import LedRow
from prep.units import show_percent


def sheet_line(name: str, led: LedRow, wall: WindowWall, standoff_mm: float, circuit: LedCircuit | None) -> str:
    """`L1 | round 3 mm white | window 0.90 mm = 2 beads | stand-off 9.0 mm | 68 ohm | 5 mA | CR2032 | 44 h at most`."""
    words = [name, led.name, f"window {wall.wall_mm:.2f} mm" + (f" = {wall.snapped}" if wall.count else "")]
    words.append(f"stand-off {standoff_mm:.1f} mm")
    if circuit is not None:
        words.append(f"{circuit.resistor_ohm:g} ohm" if circuit.resistor_ohm else "no resistor")
        words += [f"{circuit.current_ma:.2g} mA", circuit.supply.says]
        words += [f"{circuit.run_h:.0f} h at most"] if circuit.run_h else []
    return " | ".join(words)


def light_says(wall: WindowWall) -> str:
    """The light a window passes, as made and as asked."""
    says = f"the window passes {show_percent(wall.passes)} at {wall.wall_mm:.2f} mm"
    says += f", {wall.snapped}" if wall.count else ""
    if abs(wall.wall_mm - wall.asked_mm) > 1e-9:
        says += f"; asked {wall.asked_mm:.2f} mm, which would pass {show_percent(wall.asked_passes)}"
    return says if wall.verified else f"{says}; not measured: {wall.says}"


def cavity_figures(led: LedRow, one: CutLed, walls: Walls) -> dict[str, Any]:
    """Sizes of one cavity, and how evenly its window is lit straight from the LED."""
    window = one.cavity.opening or one.cavity.window
    size = (2.0 * window.half_u_mm, 2.0 * window.half_v_mm)
    even = window_evenness(size, one.cavity.standoff_mm, lambert_order(led.half_angle_deg), np.zeros((1, 2)))
    return {
        "window_size_mm": list(size),
        "standoff_mm": one.cavity.standoff_mm,
        "evenness": even.min_over_max,
        "least_wall_mm": _finite(walls.least_mm),
        "grown": one.grown is not None,
    }


def wall_figures(wall: WindowWall) -> dict[str, Any]:
    """Thickness and light of the window."""
    return {
        "light_wall_mm": wall.wall_mm,
        "light_wall_asked_mm": wall.asked_mm,
        "light_wall": wall.snapped,
        "passes": wall.passes,
        "passes_asked": wall.asked_passes,
        "light_measured": wall.verified,
        "light": wall.says,
    }


def circuit_figures(circuit: LedCircuit) -> dict[str, Any]:
    """What to solder and what it does."""
    return {
        "supply": circuit.supply.says,
        "resistor_ohm": circuit.resistor_ohm,
        "resistor_mw": circuit.resistor_mw,
        "current_ma": circuit.current_ma,
        "intensity_cd": circuit.intensity_cd,
        "run_h": circuit.run_h,
        "heat_mw": circuit.heat_mw,
        "circuit": list(circuit.says),
    }


def wire_figures(wire: LedWire) -> dict[str, Any]:
    """The wire's way."""
    return {
        "wire_length_mm": wire.route.length_mm,
        "wire_cut_mm": wire.route.cut_mm,
        "wire_width_mm": wire.route.width_mm,
        "wire_bend_mm": wire.route.bend_mm,
        "wire_least_wall_mm": _finite(wire.route.least_wall_mm),
    }


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None
