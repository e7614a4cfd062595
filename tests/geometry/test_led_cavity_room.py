"""`CavityRoom`: what there is round a cavity, and the way in to it."""

from __future__ import annotations

import numpy as np
import pytest

from fixtures.drawn import box, bumpy_dome, ico_sphere
from prep.errors import CannotInsert, CavityBreaksOut
from prep.geometry.led_cavity import LedCavity, LedSeat
from prep.geometry.led_cavity_outline import Outline
from prep.geometry.led_cavity_room import CavityRoom, Walls, refuse_thin
from prep.geometry.light_wall import LightWall
from prep.geometry.solid import Array, Solid, subtract

DOWN = np.array([0.0, 0.0, -1.0])
SEAT = LedSeat(Outline.round(3.5), Outline.round(4.3), 1.75, None, 1.5, 5.1, 6.6)


def cavity_in(solid: Solid, at: tuple[float, float, float], seat: LedSeat = SEAT) -> LedCavity:
    """A cavity straight under a point of the skin."""
    frame = np.eye(4)
    frame[:3, 3] = at
    return LedCavity(LightWall(solid, frame, 12.0), seat.body, 1.0, 4.0, seat, 0.8)


def blind(depth: float, radius: float = 5.0) -> Solid:
    """A slab with a square hollow below its top, roofed by `depth`."""
    slab = Solid.of(*box((40.0, 40.0, 40.0), (0.0, 0.0, -20.0)))
    hollow = Solid.of(*box((2 * radius, 2 * radius, 20.0), (0.0, 0.0, -depth - 10.0)))
    return subtract(slab, [hollow])


def test_a_thick_part_surrounds_and_a_shell_does_not() -> None:
    """In a ball all is in material; behind a shell the package stands in air."""
    ball = Solid.of(*ico_sphere(20.0, 5))
    assert CavityRoom(ball).surrounds(cavity_in(ball, (0.0, 0.0, 20.0)))
    shell = Solid.of(*bumpy_dome(30.0, 2.5, 0.0))
    assert not CavityRoom(shell).surrounds(cavity_in(shell, (0.0, 0.0, float(shell.bounds_mm[1, 2]))))


def test_a_bore_comes_out_where_the_part_ends() -> None:
    """In a slab of 40 mm every ray straight back comes out 40 mm below the window."""
    slab = Solid.of(*box((40.0, 40.0, 40.0), (0.0, 0.0, -20.0)))
    nearest, farthest = CavityRoom(slab).exit_mm(cavity_in(slab, (0.0, 0.0, 0.0)))
    assert (nearest, farthest) == pytest.approx((-40.0, -40.0), abs=1e-5)


def test_points_in_material_are_told() -> None:
    """Within and without a box."""
    slab = Solid.of(*box((10.0, 10.0, 10.0)))
    assert CavityRoom(slab).within(np.array([[0.0, 0.0, 0.0], [6.0, 0.0, 0.0]])).tolist() == [True, False]


def wall_beside(width: float) -> Walls:
    """Walls round a cavity in the middle of a bar so wide."""
    bar = Solid.of(*box((width, 40.0, 40.0), (0.0, 0.0, -20.0)))
    cavity = cavity_in(bar, (0.0, 0.0, 0.0))
    cutter = cavity.cutter(-41.0)
    return CavityRoom(bar).walls(cavity, cutter, bar, subtract(bar, [cutter]))


@pytest.mark.parametrize("wall", [0.3, 1.0, 2.5])
def test_the_least_wall_is_half_of_what_the_bar_has_left(wall: float) -> None:
    """Beside a recess of 4.3 mm in a bar 4.3 + 2 w wide there is w; the flat is toward one side, not the other."""
    found = wall_beside(4.3 + 2.0 * wall)
    assert found.least_mm == pytest.approx(wall, abs=0.02)
    assert found.short_mm == pytest.approx(0.8 - wall, abs=0.02) or wall > 0.8


def test_a_thin_wall_is_refused_with_what_is_missing() -> None:
    """0.3 mm where 0.8 is asked: half a millimetre short, and where."""
    slab = Solid.of(*box((40.0, 40.0, 40.0), (0.0, 0.0, -20.0)))
    cavity = cavity_in(slab, (0.0, 0.0, 0.0))
    with pytest.raises(CavityBreaksOut, match="too thin") as fault:
        refuse_thin(wall_beside(4.9), cavity)
    assert "0.50 mm short of 0.80 mm" in fault.value.found
    refuse_thin(wall_beside(6.0), cavity)


def drawn_out(solid: Solid, toward: Array) -> None:
    """Ask for the way out of a cavity cut under the middle of a slab's top."""
    cavity = cavity_in(solid, (0.0, 0.0, 0.0))
    cut = subtract(solid, [cavity.cutter(cavity.back_mm - 0.5)])
    CavityRoom(solid).refuse_unless_free(cavity, cut, cavity.back_mm, toward)


def test_a_way_straight_out_is_free_or_blocked() -> None:
    """A slab as thick as the seat is deep lets the lamp out; a floor below does not, and is named."""
    drawn_out(Solid.of(*box((40.0, 40.0, 11.6), (0.0, 0.0, -5.8))), DOWN)
    with pytest.raises(CannotInsert, match="straight back") as fault:
        drawn_out(blind(11.6), DOWN)
    assert "free for 20.1 mm" in fault.value.found
    assert "-31.6) mm" in fault.value.found


def test_a_way_round_a_corner_needs_room_behind() -> None:
    """Drawn back into a hollow open to the side the lamp comes out; toward a closed side it does not."""
    slab = Solid.of(*box((40.0, 40.0, 40.0), (0.0, 0.0, -20.0)))
    tunnel = Solid.of(*box((50.0, 10.0, 26.0), (0.0, 0.0, -24.6)))
    hollow = subtract(slab, [tunnel])
    drawn_out(hollow, np.array([1.0, 0.0, 0.0]))
    with pytest.raises(CannotInsert, match="to the open side"):
        drawn_out(hollow, np.array([0.0, 1.0, 0.0]))
    low = subtract(slab, [Solid.of(*box((50.0, 10.0, 6.0), (0.0, 0.0, -14.6)))])
    with pytest.raises(CannotInsert, match="straight back"):
        drawn_out(low, np.array([1.0, 0.0, 0.0]))
