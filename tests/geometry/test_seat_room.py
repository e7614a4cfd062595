"""`SeatRoom`: skin over a mouth, material beside a seat, the way out."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fixtures.drawn import box, curved_pair, ico_sphere, joined, moved, slab, slivered, subdivided, tray, turned
from prep.geometry.seat_room import SeatRoom, disc_points, square_axes
from prep.geometry.solid import Solid, subtract, unite

UP = np.array([[0.0, 0.0, 1.0]])
BLOCK = SeatRoom(Solid.of(*box((40.0, 30.0, 12.0), (0.0, 0.0, -6.0))))
"""Its top face is z = 0."""


def here(*points) -> np.ndarray:
    """Points as an array (k, 3)."""
    return np.array(points, dtype=float)


def test_footprint_on_a_flat() -> None:
    """Over a flat the skin neither rises nor falls; over its edge it is not covered."""
    points = here((0, 0, 0), (17, 0, 0), (16, 0, 0))
    foot = BLOCK.footprint(points, np.repeat(UP, 3, axis=0), 3.75)
    assert foot.covered.tolist() == [True, False, True]
    assert foot.lowest_mm[0] == pytest.approx(0.0, abs=1e-9)
    assert foot.highest_mm[0] == pytest.approx(0.0, abs=1e-9)


def test_footprint_takes_a_radius_for_each() -> None:
    """Each place may have its own radius."""
    foot = BLOCK.footprint(here((17, 0, 0), (17, 0, 0)), np.repeat(UP, 2, axis=0), np.array([2.9, 3.1]))
    assert foot.covered.tolist() == [True, False]


def test_footprint_on_a_ball_is_the_sagitta() -> None:
    """On a ball the rim of the disc lies lower by R - sqrt(R^2 - r^2)."""
    room = SeatRoom(Solid.of(*ico_sphere(20.0, 5)))
    foot = room.footprint(here((0, 0, 20.0)), UP, 4.0)
    assert foot.highest_mm[0] == pytest.approx(0.0, abs=0.02)
    assert foot.lowest_mm[0] == pytest.approx(-(20.0 - math.sqrt(400.0 - 16.0)), abs=0.02)


def test_footprint_sees_what_hangs_over() -> None:
    """Skin under an overhang of the same part is not free to open on."""
    hung = Solid.of(*joined(box((20.0, 20.0, 4.0), (0, 0, -2.0)), box((20.0, 20.0, 4.0), (0, 0, 4.0))))
    assert not SeatRoom(hung).footprint(here((0, 0, 0)), UP, 3.0).covered[0]


@pytest.mark.parametrize(
    ("x", "depth", "rim", "least"),
    [
        (0.0, 2.3, 0.5, 9.7),  # the floor is nearest: 12 - 2.3
        (15.0, 2.3, 0.0, 1.75),  # the side: 20 - 15 - 3.25
        (15.0, 2.3, 0.5, 1.25),  # the side, at the wider mouth
        (0.0, 11.5, 0.0, 0.5),
    ],
)
def test_clearance_in_closed_form(x, depth, rim, least) -> None:
    """Material beside a seat in a block is the least way to side or bottom."""
    found = BLOCK.clearance(here((x, 0, 0)), UP, radius_mm=3.25, depth_mm=depth, rim_mm=rim)
    assert found[0] == pytest.approx(least, abs=1e-9)


def test_clearance_where_the_floor_breaks_out() -> None:
    """A seat deeper than the part says by how much, negative."""
    found = BLOCK.clearance(here((0, 0, 0)), UP, radius_mm=3.25, depth_mm=13.5)
    assert found[0] == pytest.approx(-1.5, abs=1e-6)


def test_clearance_sees_a_cavity_beside_and_below() -> None:
    """A hollow under or beside the seat counts, its own opening does not."""
    hollow = subtract(BLOCK.solid, [Solid.of(*box((6.0, 6.0, 6.0), (10.0, 0.0, -6.0)))])
    room = SeatRoom(hollow)
    below = room.clearance(here((10, 0, 0)), UP, radius_mm=2.0, depth_mm=2.0)
    assert below[0] == pytest.approx(1.0)
    beside = room.clearance(here((3, 0, 0)), UP, radius_mm=3.0, depth_mm=5.0)
    assert beside[0] == pytest.approx(1.0, abs=0.01)


def test_clearance_of_the_sides_alone() -> None:
    """With the floor left out, a declared skin under it is no fault."""
    found = BLOCK.clearance(here((0, 0, 0)), UP, radius_mm=3.0, depth_mm=11.5, sides_only=True)
    assert found[0] == pytest.approx(12.0)


def test_clearance_any_way_round() -> None:
    """Turned and a metre away, the same seat has the same room."""
    shift = (1000.0, -300.0, 70.0)
    room = SeatRoom(Solid.of(*moved(turned(box((40.0, 30.0, 12.0), (0, 0, -6.0)), (1.0, 0.0, 0.0), 40.0), shift)))
    cosine, sine = math.cos(math.radians(40.0)), math.sin(math.radians(40.0))
    axis = np.array([[0.0, -sine, cosine]])
    top = np.array([[15.0, 0.0, 0.0]]) + np.array(shift)
    assert room.clearance(top, axis, radius_mm=3.25, depth_mm=2.3)[0] == pytest.approx(1.75, abs=1e-6)


def test_the_first_sieve_refuses_nothing_that_fits() -> None:
    """A seat with enough material has its middle that much farther from every face than its own half size."""
    random = np.random.default_rng(5)
    room = SeatRoom(Solid.of(*curved_pair()[0]))
    points = np.column_stack([random.uniform(-16, 16, 150), random.uniform(-11, 11, 150), np.full(150, 0.4)])
    axes = np.repeat(UP, 150, axis=0)
    walls = room.clearance(points, axes, radius_mm=3.25, depth_mm=2.3)
    middles = points - 1.15 * axes
    assert (room.middle_clearance(middles, axes) >= walls + min(3.25, 1.15) - 1e-9).all()


def test_side_clearance_knows_the_directions() -> None:
    """Beside a seat near one side, the least is toward it and the most away from the corner."""
    beside = BLOCK.side_clearance(np.array([15.0, 0.0, 0.0]), UP[0], 3.25, 2.3)
    assert beside.min() == pytest.approx(1.75, abs=1e-9)
    across, _ = square_axes(UP)
    angle = np.argmin(beside) * 2.0 * math.pi / len(beside)
    assert math.cos(angle) * across[0, 0] + math.sin(angle) * square_axes(UP)[1][0, 0] == pytest.approx(1.0)


def test_material_below() -> None:
    """Thickness under a place is the way to the far skin, or to a hollow."""
    assert BLOCK.material_below(here((0, 0, 0)), UP)[0] == pytest.approx(12.0)
    room = SeatRoom(Solid.of(*tray((40.0, 30.0, 12.0), 3.0, 4.0)))
    assert room.material_below(here((0, 0, 4.0)), UP)[0] == pytest.approx(4.0)


def test_travel_out_of_a_tray_and_under_a_roof() -> None:
    """In the open a disc travels without end; under a roof it meets it."""
    assert BLOCK.travel(here((0, 0, 0.1)), UP, 3.0)[0] == math.inf
    roof = unite(
        [BLOCK.solid, Solid.of(*box((4.0, 30.0, 12.0), (-18, 0, 6.0))), Solid.of(*box((40.0, 30.0, 2.0), (0, 0, 11.0)))]
    )
    room = SeatRoom(roof)
    assert room.travel(here((0, 0, 0.1)), UP, 3.0)[0] == pytest.approx(9.9)
    slit = subtract(roof, [Solid.of(*box((2.0, 2.0, 9.0), (0, 0, 11.0)))])
    assert SeatRoom(slit).travel(here((0, 0, 0.1)), UP, 3.0)[0] == pytest.approx(9.9)


def test_disc_points_reach_the_rim() -> None:
    """A disc's points include its middle and 48 on its rim, none outside."""
    spots = disc_points(3.0)
    size = np.linalg.norm(spots, axis=1)
    assert size.min() == 0.0
    assert size.max() <= 3.0 + 1e-12
    assert (np.abs(size - 3.0) < 1e-12).sum() == 48


@pytest.mark.parametrize("axis", [(0, 0, 1.0), (1.0, 0, 0), (0.6, 0.0, -0.8), (0.577350269, 0.577350269, 0.577350269)])
def test_square_axes_are_right_handed(axis) -> None:
    """Two directions square to the axis and to one another, right-handed with it."""
    axes = np.array([axis])
    across, up = square_axes(axes)
    assert np.cross(across[0], up[0]) == pytest.approx(axes[0], abs=1e-8)


def test_a_wavy_skin_rises_as_it_does() -> None:
    """Rise over a mouth on a wave is that of its formula at the points looked at."""
    wave = Solid.of(*slab(lambda x, _y: 0.0 * x - 10.0, lambda x, _y: 0.5 * np.sin(x / 3.0), cells=(120, 10)))
    foot = SeatRoom(wave).footprint(here((0, 0, 0)), UP, 3.0)
    assert foot.highest_mm[0] - foot.lowest_mm[0] == pytest.approx(2.0 * 0.5 * math.sin(1.0), abs=5e-3)


@pytest.mark.parametrize("noise", [1e-6, 1e-5, 1e-4])
@pytest.mark.parametrize("sides_only", [False, True])
def test_a_sliver_in_the_opening_is_no_wall(noise, sides_only) -> None:
    """A triangle a hair high in the face a seat opens on, turned anyhow by rounding, is part of that face."""
    drawn = slivered(subdivided(box((40.0, 30.0, 10.0)), 2), (10.0, 4.0, 5.0), noise)
    one = Solid.of(*drawn)
    thin = one.slivers
    assert thin.sum() == 1
    assert abs(one.triangle_normals[thin][0, 2]) < 0.7
    room = SeatRoom(one)
    found = room.clearance(here((10.0, 4.0, 5.0)), UP, radius_mm=3.25, depth_mm=2.3, sides_only=sides_only)
    assert found[0] == pytest.approx(6.75, abs=1e-3)
