"""`LedCavity`: cutter, holder and insert as solids, measured by closed forms and by rays of their own."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fixtures.drawn import box, ico_sphere
from fixtures.gauges import first_hits, gauge_bore
from prep.errors import DoesNotFit
from prep.geometry.led_cavity import LedCavity, LedSeat
from prep.geometry.led_cavity_outline import Outline
from prep.geometry.light_wall import LightWall
from prep.geometry.solid import Solid

SEAT = LedSeat(Outline.round(5.5), Outline.round(6.4), 2.75, None, 2.5, 7.7, 9.2)
CHIP = LedSeat(
    Outline.rectangle(4.2, 4.2), Outline.rectangle(5.5, 5.5), 0.0, Outline.rectangle(8.7, 1.6), -0.6, 0.0, 2.3
)


def on_slab(seat: LedSeat, window: Outline, standoff: float = 9.0, opening: Outline | None = None) -> LedCavity:
    """A cavity under a wide flat slab whose top is z = 0."""
    slab = Solid.of(*box((60.0, 60.0, 40.0), (0.0, 0.0, -20.0)))
    return LedCavity(LightWall(slab, np.eye(4), 14.0), window, 1.2, standoff, seat, 0.8, opening)


def on_ball() -> LedCavity:
    """A cavity under the top of a ball of 20 mm."""
    ball = Solid.of(*ico_sphere(20.0, 6))
    frame = np.eye(4)
    frame[2, 3] = 20.0
    return LedCavity(LightWall(ball, frame, 10.0), Outline.round(8.0), 1.2, 9.0, SEAT, 0.8)


def test_heights_follow_from_wall_standoff_and_package() -> None:
    """Tip and end of the recess lie stand-off and package behind the light wall."""
    cavity = on_slab(SEAT, Outline.round(8.0))
    assert cavity.tip_mm == pytest.approx(-1.2 - 9.0)
    assert cavity.back_mm == pytest.approx(-1.2 - 9.0 - 9.2)
    assert cavity.at_mm == pytest.approx([0.0, 0.0, -10.2])


def test_volume_of_a_round_cavity_is_the_closed_form() -> None:
    """Bore, keyed recess, cone and straight rim add up, within what facets stand outside."""
    cavity = on_slab(SEAT, Outline.round(8.0))
    half_angle = math.acos(2.75 / 3.2)
    keyed = math.pi * 3.2**2 - 3.2**2 * (half_angle - math.sin(half_angle) * math.cos(half_angle))
    cone_high = (-1.3) - (-10.2 - 2.5)
    cone = math.pi * cone_high / 3.0 * (2.75**2 + 2.75 * 4.0 + 4.0**2)
    expected = keyed * 1.5 + math.pi * 2.75**2 * 5.2 + cone + math.pi * 16.0 * 0.1
    assert cavity.cutter(cavity.back_mm).volume_mm3 == pytest.approx(expected, rel=2e-3)


def test_bores_are_never_undersized() -> None:
    """Rays across find body and flange with their fit, the flat at its distance, and the cone between."""
    cavity = on_slab(SEAT, Outline.round(8.0))
    cutter = cavity.cutter(cavity.back_mm - 5.0)
    corners = cutter.vertices[cutter.triangles]
    body = gauge_bore(corners, np.array([0.0, 0.0, -15.0]), np.array([0.0, 0.0, 1.0]))
    assert body.radius == pytest.approx(2.75, abs=0.01)
    assert body.least >= 2.75 - 1e-9
    ways = np.array([[1.0, 0.0, 0.0], [-1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    reach, _ = first_hits(corners, np.tile([0.0, 0.0, -19.0], (3, 1)), ways)
    assert reach == pytest.approx([2.75, 3.2, 3.2], abs=0.01)


@pytest.mark.parametrize("window", [Outline.round(8.0), Outline.slot(20.0, 8.0), Outline(2.7, 3.1, 1.0)])
def test_the_window_is_as_large_as_asked(window: Outline) -> None:
    """Just below its front the chamber reaches the window's outline all round, and not farther than its facets."""
    cavity = on_slab(SEAT if window.half_u_mm > 3.0 else CHIP, window)
    cutter = cavity.cutter(cavity.back_mm)
    angle = np.linspace(0.01, 2.0 * math.pi, 60, endpoint=False)
    ways = np.column_stack([np.cos(angle), np.sin(angle), np.zeros(60)])
    reach, _ = first_hits(cutter.vertices[cutter.triangles], np.tile([0.0, 0.0, -1.25], (60, 1)), ways)
    assert (reach >= window.reach(angle) - 1e-9).all()
    assert reach == pytest.approx(window.reach(angle), abs=0.03)


def test_a_chip_rests_on_a_ledge_and_its_wires_leave_by_a_slot() -> None:
    """Its recess is as wide as the chip and its fit, the opening before it narrower, the slot wider."""
    cavity = on_slab(CHIP, Outline.round(8.0), 4.0)
    cutter = cavity.cutter(cavity.back_mm)
    corners = cutter.vertices[cutter.triangles]
    ways = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    within, _ = first_hits(corners, np.tile([0.0, 0.0, cavity.tip_mm - 1.0], (2, 1)), ways)
    before, _ = first_hits(corners, np.tile([0.0, 0.0, cavity.tip_mm + 0.3], (2, 1)), ways)
    assert within == pytest.approx([4.35, 2.75], abs=1e-6)
    assert before == pytest.approx([2.1, 2.1], abs=0.06)
    assert before.min() >= 2.1 - 1e-9


def test_a_holder_keeps_its_wall_round_the_whole_cutter() -> None:
    """From the cutter's side to the holder's outside there is never less than the wall, and its front stays inside."""
    cavity = on_ball()
    holder, cutter = cavity.holder(0.6), cavity.cutter(cavity.back_mm)
    assert holder.topology.genus == 0
    spots = cutter.corners.mean(axis=1)
    spots = spots[(spots[:, 2] < 17.0) & (spots[:, 2] > 20.0 + cavity.back_mm + 0.9)]
    out = spots * [1.0, 1.0, 0.0] / np.linalg.norm(spots[:, :2], axis=1)[:, None]
    reach, _ = first_hits(holder.vertices[holder.triangles], spots, out)
    assert reach.min() >= 0.8 - 0.01
    assert np.linalg.norm(holder.vertices, axis=1).max() <= 20.0 - 0.6 + 0.01


def test_an_insert_fills_its_opening_less_the_fit() -> None:
    """The clear piece is as thick as the wall less the glue, and smaller all round by the fit."""
    cavity = on_slab(SEAT, Outline.round(8.0), 9.0, Outline.round(9.6))
    piece = cavity.insert(0.25, 0.2)
    assert piece.volume_mm3 == pytest.approx(math.pi * 4.55**2 * 1.0, rel=2e-3)
    assert piece.bounds_mm[:, 2] == pytest.approx([-1.0, 0.0], abs=1e-6)
    cutter = cavity.cutter(cavity.back_mm)
    reach, _ = first_hits(
        cutter.vertices[cutter.triangles],
        np.array([[0.0, 0.0, -1.0], [0.0, 0.0, -1.5]]),
        np.tile([1.0, 0.0, 0.0], (2, 1)),
    )
    assert reach[0] == pytest.approx(4.8, abs=0.01)
    assert reach[1] <= 4.01
    assert cutter.bounds_mm[1, 2] > 0.1


def test_a_wall_has_no_insert() -> None:
    """Asking a light wall for its clear piece is our own mistake."""
    with pytest.raises(ValueError, match="no insert"):
        on_slab(SEAT, Outline.round(8.0)).insert(0.2, 0.1)


def test_a_standoff_too_short_for_the_slant_is_refused() -> None:
    """On a ball a wide window's rim lies behind the tip of an LED that stands too near."""
    near = on_ball()
    short = LedCavity(near.skin, Outline.round(16.0), 1.2, 0.5, CHIP, 0.8)
    assert short.least_standoff_mm > 0.5
    with pytest.raises(DoesNotFit, match="too near its window") as fault:
        short.cutter(short.back_mm)
    assert "0.50 mm" in fault.value.found
