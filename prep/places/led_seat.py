"""`led_seat`: the room one LED package needs, by row of the table and process, with its sums in words."""

from __future__ import annotations

import math
from dataclasses import dataclass

from prep.errors import DoesNotFit
from prep.geometry.led_cavity import LedSeat
from prep.geometry.led_cavity_outline import Outline
from prep.physics.flat_field import depth_for
from prep.physics.lambert import lambert_order
from prep.tables import LedRow, ProcessRow

LEDGE_MM = 0.4
"""What a flat package rests on all round; its light comes from farther in."""
LOOK_MM = 0.6
"""Thickness of that ledge."""
SLOT_MM = 1.6
"""Width of the way for wires beside a flat package; its solder stands out by about as much."""
BEHIND_MM = 0.5
"""How far the recess goes on behind the package, so that a drop of glue stays in it."""
AROUND_MM = 0.6
"""How much larger than its opening a chip's window is on each side, if the recipe does not say."""
CORNER_MM = 1.0
STEP_MM = 0.8
"""Width of the step that a clear insert rests on."""
EVEN = 0.7
"""Least over most light on a window, straight from the LED, that counts as even."""


@dataclass(frozen=True)
class LedFit:
    """A seat and its sums.

    Attributes
    ----------
    seat : sizes with fits
    window : outline of the smallest window it shines through whole, the default
    clearance_mm : on every side of the package
    says : the sums in words
    """

    seat: LedSeat
    window: Outline
    clearance_mm: float
    says: str


def led_seat(led: LedRow, process: ProcessRow) -> LedFit:
    """Sizes of the seat for a package.

    Raises
    ------
    UnfinishedRow
        The row has no size.

    Notes
    -----
    Clearance per side is the process's for glued parts, and never so small that the largest package allowed is left
    with less than half of it.
    """
    led.refuse_if_unfinished()
    fit = max(process.glue_fit_mm, (led.size_tolerance_mm + process.glue_fit_mm) / 2.0)
    if led.shape == "round":
        body, flange = (Outline.round(size + 2.0 * fit) for size in (led.diameter_mm, led.flange_mm))
        ledge = led.height_mm - led.flange_height_mm
        flat = led.flat_mm + fit if led.flat_mm else 0.0
        shoulder = min(led.diameter_mm / 2.0, ledge - 0.5)
        seat = LedSeat(body, flange, flat, None, shoulder, ledge, led.height_mm + BEHIND_MM)
        says = f"bore {led.diameter_mm:g} + 2 x {fit:g}, flange {led.flange_mm:g} + 2 x {fit:g} mm"
        return LedFit(seat, body, fit, says)
    if led.diameter_mm > 0.0:
        recess, look = Outline.round(led.diameter_mm + 2.0 * fit), Outline.round(led.diameter_mm - 2.0 * LEDGE_MM)
        window, says = look, f"recess {led.diameter_mm:g} + 2 x {fit:g} mm"
    else:
        long, wide = led.length_mm, led.width_mm
        recess = Outline.rectangle(long + 2.0 * fit, wide + 2.0 * fit)
        look = Outline.rectangle(long - 2.0 * LEDGE_MM, wide - 2.0 * LEDGE_MM)
        window = Outline(look.half_u_mm + AROUND_MM, look.half_v_mm + AROUND_MM, CORNER_MM)
        says = f"recess {long:g} x {wide:g} + 2 x {fit:g} mm"
    slot = Outline.rectangle(2.0 * recess.half_u_mm + 2.0 * SLOT_MM, SLOT_MM)
    seat = LedSeat(look, recess, 0.0, slot, -LOOK_MM, 0.0, led.height_mm + led.size_tolerance_mm + BEHIND_MM)
    return LedFit(seat, window, fit, says)


def window_of(fit: LedFit, size_mm: tuple[float, ...] | None, insert: bool) -> Outline:
    """Outline of the window: a round, a slot, or the smallest there can be.

    Parameters
    ----------
    size_mm : diameter, or length and width of a slot
    insert : whether a clear piece fills it, whose step takes from its width

    Raises
    ------
    DoesNotFit
        It is smaller than what the LED looks through.
    """
    step = STEP_MM if insert else 0.0
    if size_mm is None:
        return fit.window.grown(step)
    window = Outline.round(size_mm[0]) if len(size_mm) == 1 else Outline.slot(size_mm[0], size_mm[1])
    if window.grown(-step).holds(fit.seat.body):
        return window
    least = 2.0 * (fit.seat.body.farthest_mm + step)
    raise DoesNotFit(
        "the window is smaller than what the LED looks through",
        found=f"{2 * window.half_u_mm:.2f} x {2 * window.half_v_mm:.2f} mm, the LED asks {least:.2f} mm across",
        fix=f"set `size: {math.ceil(least * 10) / 10:g} mm` or more, or choose a smaller LED",
    )


def even_standoff(led: LedRow, window: Outline) -> float:
    """Stand-off at which one LED lights the rim of its window `EVEN` as well as its middle, and at least its pitch.

    Notes
    -----
    The pitch counts where the piece holds several points of light (common practice, no source).
    """
    side = math.sqrt(2.0) * window.farthest_mm
    even = depth_for((side, side), lambert_order(led.half_angle_deg), EVEN)
    return max(even, led.pitch_mm if led.lamps > 1 else 0.0)
