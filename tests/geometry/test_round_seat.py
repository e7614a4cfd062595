"""`RoundSeat`: its cutter in closed form, and the cut it leaves."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fixtures.drawn import box
from fixtures.gauges import first_hits, gauge_bore, ring_about
from prep.geometry.lathe import sides_for
from prep.geometry.round_seat import RIBS, RoundSeat
from prep.geometry.solid import Solid, Topology, subtract

HOST = Solid.of(*box((30.0, 30.0, 12.0), (0.0, 0.0, -6.0)))
"""Its top face is z = 0."""
UP = np.array([0.0, 0.0, 1.0])


def share(radius: float) -> float:
    """Area of the polygon about a circle over the circle's."""
    n = sides_for(radius)
    return n * math.tan(math.pi / n) / math.pi


def taken(seat: RoundSeat, **where) -> tuple[Solid, float]:
    """The host with the seat cut at the middle of its top, and the volume that went."""
    cut = subtract(HOST, [seat.cutter(np.eye(4), **where)])
    return cut, HOST.volume_mm3 - cut.volume_mm3


def radial(cut: Solid, height: float) -> np.ndarray:
    """Ways from the axis to the wall at one height."""
    ways = ring_about(UP, 720)
    return first_hits(cut.corners, np.full((720, 3), [0.0, 0.0, height]), ways)[0]


@pytest.mark.parametrize(("radius", "depth"), [(1.75, 1.3), (3.25, 2.3), (10.25, 5.3)])
def test_a_plain_seat(radius, depth) -> None:
    """Diameter and depth are those asked for, never under; the volume is the closed form."""
    cut, volume = taken(RoundSeat(radius, depth))
    bore = gauge_bore(cut.corners, [0.0, 0.0, -depth / 2.0], UP)
    assert 2.0 * bore.radius == pytest.approx(2.0 * radius, abs=0.02)
    assert bore.least >= radius - 1e-9
    assert bore.floor == pytest.approx(depth / 2.0, abs=1e-9)
    assert volume == pytest.approx(math.pi * radius**2 * depth * share(radius), rel=1e-9)
    assert cut.topology == Topology(1, 0, 0)


def test_the_cutter_goes_on_past_the_skin() -> None:
    """It overshoots by a tenth of the depth or 0.2 mm, above the highest skin it was told of."""
    assert RoundSeat(3.0, 1.0).cutter(np.eye(4)).bounds_mm[1, 2] == pytest.approx(0.2)
    assert RoundSeat(3.0, 8.0).cutter(np.eye(4), skin_high_mm=0.6).bounds_mm[1, 2] == pytest.approx(1.4)


def test_a_lead_in() -> None:
    """The mouth is chamfered at 45 degrees by the rim, on the radius; under it the seat is straight."""
    seat = RoundSeat(3.25, 2.3, rim_mm=0.5)
    cut, volume = taken(seat)
    assert seat.mouth_radius_mm == 3.75
    straight = math.pi * 3.25**2 * 1.8
    taper = math.pi * 0.5 * (3.25**2 + 3.25 * 3.75 + 3.75**2) / 3.0
    assert volume == pytest.approx((straight + taper) * share(3.75), rel=1e-9)
    for height, radius in ((-1.0, 3.25), (-0.25, 3.5), (-1e-6, 3.75)):
        reach = radial(cut, height)
        assert radius - 2e-6 <= reach.min() <= radius + 1e-5
        assert reach.max() <= radius + 0.004 + 2e-6


def test_crush_ribs_stand_on_their_circle() -> None:
    """Eight ribs reach in to the tip circle and no farther, begin below the rim, and leave the wall between them."""
    cut, _ = taken(RoundSeat(3.25, 2.3, rim_mm=0.5, rib_tip_mm=2.95))
    reach = radial(cut, -1.6)
    assert reach.min() == pytest.approx(2.95, abs=0.01)
    assert reach.min() >= 2.95 - 0.01
    assert np.median(reach) == pytest.approx(3.25, abs=0.01)
    inward = reach < 3.2
    assert int((inward & ~np.roll(inward, 1)).sum()) == RIBS
    assert radial(cut, -0.6).min() >= 3.25 - 1e-9
    assert cut.topology == Topology(1, 0, 0)


@pytest.mark.parametrize("angle", [0.0, 1.0, math.pi])
def test_a_groove_runs_up_the_side(angle) -> None:
    """The air groove reaches half its diameter past the wall, where it was asked for, from the floor to the skin."""
    cut, volume = taken(RoundSeat(3.25, 2.3, groove_mm=1.0), groove_angle_rad=angle)
    way = np.array([[math.cos(angle), math.sin(angle), 0.0]])
    for height in (-2.29, -1.0, -0.01):
        reach, _ = first_hits(cut.corners, np.array([[0.0, 0.0, height]]), way)
        assert reach[0] == pytest.approx(3.75, abs=0.005)
        behind, _ = first_hits(cut.corners, np.array([[0.0, 0.0, height]]), -way)
        assert behind[0] == pytest.approx(3.25, abs=0.005)
    # the part of a small circle outside a large one through its middle: circle-circle lens in closed form
    r, q, d = 0.5, 3.25, 3.25
    lens = r * r * math.acos((d * d + r * r - q * q) / (2 * d * r)) + q * q * math.acos(
        (d * d + q * q - r * r) / (2 * d * q)
    )
    lens -= 0.5 * math.sqrt((-d + r + q) * (d + r - q) * (d - r + q) * (d + r + q))
    assert volume == pytest.approx((math.pi * (q * q + r * r) - lens) * 2.3, rel=3e-3)
    assert cut.topology == Topology(1, 0, 0)


def test_a_hole_goes_on_from_the_floor() -> None:
    """The air hole comes out on the far side and is one handle; its volume is the closed form."""
    cut, volume = taken(RoundSeat(3.25, 2.3, hole_mm=1.0, hole_length_mm=9.7))
    assert cut.topology == Topology(1, 1, 0)
    through = math.pi * 3.25**2 * 2.3 * share(3.25) + math.pi * 0.25 * 9.7 * share(0.5)
    assert volume == pytest.approx(through, rel=1e-9)


def test_a_buried_seat_is_a_sealed_void() -> None:
    """Under its roof the seat is closed on all sides: one void, from the roof to the depth."""
    cut, volume = taken(RoundSeat(3.25, 3.4, roof_mm=1.1))
    assert cut.topology == Topology(2, 0, 1)
    assert volume == pytest.approx(math.pi * 3.25**2 * 2.3 * share(3.25), rel=1e-9)
    assert gauge_bore(cut.corners, [0.0, 0.0, -2.0], UP).floor == pytest.approx(1.4)
    assert gauge_bore(cut.corners, [0.0, 0.0, -2.0], -UP).floor == pytest.approx(0.9)
