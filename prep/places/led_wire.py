"""`lead_wire`: the channel of a wire from an LED's cavity to a named place, cut."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from prep.geometry.solid import Array, Progress, Solid, subtract
from prep.geometry.wire_channel import channel, channel_takes
from prep.geometry.wire_route import WireEnd, WireRoute, route_wire
from prep.places.led_cut import CutLed

COPPER_G_MM = 2 * 0.0025
"""Two stranded hook-up wires, plastic and all, g per mm (from memory)."""


@dataclass(frozen=True)
class LedWire:
    """A wire led through a part.

    Attributes
    ----------
    solid : the part with the channel
    volume_mm3, error_mm3 : change of volume, found without the kernel
    handles : tunnels the channel makes
    """

    solid: Solid
    route: WireRoute
    volume_mm3: float
    error_mm3: float

    @property
    def handles(self) -> int:
        """Handles the part gains."""
        return self.route.handles

    @property
    def mass_g(self) -> float:
        """Of both wires."""
        return self.route.length_mm * COPPER_G_MM

    @property
    def middle(self) -> Array:
        """Middle of the wire's way, (3,)."""
        lengths = np.linalg.norm(np.diff(self.route.points, axis=0), axis=1)
        return np.asarray(lengths @ (self.route.points[1:] + self.route.points[:-1]) / 2.0 / lengths.sum())


def lead_wire(
    solid: Solid,
    leds: Sequence[CutLed],
    ends: Sequence[WireEnd],
    *,
    others: Sequence[Solid],
    blocked: Sequence[Solid],
    width_mm: float,
    bend_mm: float,
    wall_mm: float,
    toward: Array,
    up: Array,
    tell: Progress,
) -> LedWire:
    """Find a way from the cavity nearest to a place, and cut it; leads of the other LEDs join it behind their cavities.

    Parameters
    ----------
    solid : the part with its cavities cut
    ends : where it may lead; the one nearest to a cavity is taken
    blocked : cavities and items the wire keeps the wall from

    Raises
    ------
    NoWireRoute
    """
    led, end = min(
        ((led, end) for led in leds for end in ends),
        key=lambda pair: float(np.linalg.norm(pair[0].mouth - pair[1].at_mm)),
    )
    start = leads_out(led, end.at_mm, width_mm)
    route = route_wire(
        solid,
        others,
        blocked,
        start,
        end,
        width_mm=width_mm,
        wall_mm=wall_mm,
        bend_mm=bend_mm,
        open_toward=None if others else toward,
        tell=tell,
    )
    cutters = channel(route, up=up)
    if not cutters:
        return LedWire(solid, route, 0.0, 0.0)
    takes = channel_takes(solid, route)
    return LedWire(subtract(solid, cutters), route, -takes.volume_mm3, takes.error_mm3)


def leads_out(led: CutLed, target: Array, width_mm: float) -> WireEnd:
    """Where the leads leave: out of the side of a bore, toward the target, else straight behind.

    Notes
    -----
    A bore that ends sooner than half a width beyond its recess has no side for a channel to begin in.
    """
    cavity, frame = led.cavity, led.cavity.skin.frame
    room = cavity.back_mm - led.mouth_mm
    if led.grown is not None or room < width_mm:
        return WireEnd(cavity.to_part(np.array([[0.0, 0.0, led.back_mm]]))[0], -frame[:3, 2])
    local = (target - frame[:3, 3]) @ frame[:3, :3]
    angle = math.atan2(local[1], local[0])
    reach = float(cavity.seat.behind.reach(np.array([angle]))[0])
    if cavity.seat.flat_mm > 0.0 and math.cos(angle) > 1e-9:
        reach = min(reach, cavity.seat.flat_mm / math.cos(angle))
    spot = np.array([reach * math.cos(angle), reach * math.sin(angle), cavity.back_mm - room / 2.0])
    into = frame[:3, 0] * math.cos(angle) + frame[:3, 1] * math.sin(angle)
    return WireEnd(cavity.to_part(spot[None])[0], into)
