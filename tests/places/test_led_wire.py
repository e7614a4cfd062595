"""`lead_wire`: from a cavity to a named place."""

from __future__ import annotations

import numpy as np
import pytest

from fixtures.drawn import box
from fixtures.gauges import within
from prep.geometry.solid import Solid
from prep.geometry.wire_room import WireEnd
from prep.places.led_wire import LedWire, lead_wire, leads_out
from tests.places.test_led_cut import UP, cut

SLAB = box((40.0, 40.0, 24.0))
SIDE = WireEnd(np.array([-20.0, 0.0, -6.0]), np.array([1.0, 0.0, 0.0]))


def wired(*ends: WireEnd) -> LedWire:
    """A lamp in a slab, wired to the nearest of several places."""
    done = cut(SLAB, "0, 0, 12 mm")
    return lead_wire(
        done.solid,
        done.leds,
        ends,
        others=(),
        blocked=[led.cutter for led in done.leds],
        width_mm=2.0,
        bend_mm=3.0,
        wall_mm=0.8,
        toward=-UP,
        up=UP,
        tell=lambda *_: None,
    )


def test_leads_leave_a_bore_by_its_side_toward_their_place() -> None:
    """The channel begins on the bore's wall behind the package, on the side of its end."""
    led = cut(SLAB, "0, 0, 12 mm").leds[0]
    start = leads_out(led, SIDE.at_mm, 2.0)
    assert start.into == pytest.approx([-1.0, 0.0, 0.0])
    assert start.at_mm[:2] == pytest.approx([-2.15, 0.0], abs=1e-6)
    assert -12.0 < start.at_mm[2] < 12.0 - 0.9 - 4.0 - 6.12
    keyed = leads_out(led, np.array([20.0, 0.0, -6.0]), 2.0)
    assert keyed.at_mm[0] == pytest.approx(1.5 + 0.25)


def test_leads_leave_a_holder_straight_behind() -> None:
    """In a part that is all taken up, they leave where the package went in."""
    led = cut(box((40.0, 40.0, 12.4)), "0, 0, 6.2 mm").leds[0]
    start = leads_out(led, SIDE.at_mm, 2.0)
    assert start.into == pytest.approx([0.0, 0.0, -1.0])


def test_the_channel_is_cut_as_predicted_and_joins_both_ends() -> None:
    """One handle, the volume foretold, and air along all of its middle line."""
    wire = wired(SIDE)
    before = cut(SLAB, "0, 0, 12 mm").solid
    change = wire.solid.volume_mm3 - before.volume_mm3
    assert change == pytest.approx(wire.volume_mm3, abs=wire.error_mm3)
    assert wire.solid.topology.genus - before.topology.genus == wire.handles == 1
    assert not within((wire.solid.vertices, wire.solid.triangles), wire.route.points[1:-1]).any()
    assert wire.mass_g == pytest.approx(0.005 * wire.route.length_mm)
    assert (wire.middle > Solid.of(*SLAB).bounds_mm[0]).all()


def test_the_nearest_end_is_taken() -> None:
    """Of two contacts the one nearer to the cavity gets the wire."""
    far = WireEnd(np.array([20.0, 18.0, 6.0]), np.array([-1.0, 0.0, 0.0]))
    assert wired(far, SIDE).route.points[-1] == pytest.approx(SIDE.at_mm)
