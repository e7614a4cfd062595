"""`seats_at`: seats on a seam, spread, clear of walls and of one another."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from fixtures.drawn import box, curved_pair, flush_pair, ico_sphere
from prep.geometry.contact import find_contact
from prep.geometry.seat_room import SeatRoom
from prep.geometry.solid import Solid, unite
from prep.places.seam import candidates_on, seats_at
from prep.places.seat_need import Candidates, SeatNeed, SeatsFound, Shortfall, Side

NEED = SeatNeed(
    radius_mm=3.25,
    rim_mm=0.5,
    depth_mm=2.3,
    roof_mm=0.0,
    from_behind=False,
    buried=False,
    wall_mm=0.83,
    travel_mm=5.0,
    sag_mm=0.6,
)
APART = 8.33


def sides_of(pair, need: SeatNeed = NEED) -> list[Side]:
    """Both parts of a pair, made ready."""
    rooms = [SeatRoom(Solid.of(*part)) for part in pair]
    return [Side(room, need, sign) for room, sign in zip(rooms, (1, -1), strict=True)]


def seam_of(sides: list[Side], radius: float = 3.75) -> Candidates:
    """Candidates over the seam of a pair."""
    first, second = (side.room.solid for side in sides)
    return candidates_on(find_contact(first, second, reach_mm=0.5, spacing_mm=0.7), radius)[0]


FLUSH = sides_of(flush_pair((36.0, 22.0), (6.0, 7.0)))
SEAM = seam_of(FLUSH)


def least_apart(points) -> float:
    """Least distance between any two."""
    return min(math.dist(a, b) for a, b in itertools.combinations(points.tolist(), 2))


def test_axes_on_a_flat_are_exact() -> None:
    """On a flat seam every candidate's axis is the normal, to the last digit."""
    assert (SEAM.axes == [0.0, 0.0, 1.0]).all()


def test_axes_on_a_dome_are_its_mean_normals() -> None:
    """On a dome the axis at a candidate is the dome's normal there, within the facets' own coarseness."""
    sides = sides_of(curved_pair((36.0, 22.0), 8.0, 2.0, cells=(48, 30)))
    seam = seam_of(sides)
    inner = (np.abs(seam.points[:, 0]) < 14.0) & (np.abs(seam.points[:, 1]) < 7.0)
    x, y = seam.points[inner, 0], seam.points[inner, 1]
    normal = np.stack([2.0 * x / 18.0**2, 2.0 * y / 11.0**2, np.ones_like(x)], axis=1)
    normal /= np.linalg.norm(normal, axis=1)[:, None]
    assert np.einsum("ij,ij->i", normal, seam.axes[inner]).min() > math.cos(math.radians(1.5))


@pytest.mark.parametrize("count", [1, 2, 3, 4, 6])
def test_as_many_as_asked_with_room_about_each(count) -> None:
    """Each seat keeps its wall to the rim and its distance from the others, easing and polish included."""
    found = seats_at(FLUSH, SEAM, count, APART)
    assert isinstance(found, SeatsFound)
    points = found.mouths[0]
    assert len(points) == count
    rim = np.minimum(18.0 - np.abs(points[:, 0]), 11.0 - np.abs(points[:, 1]))
    assert (rim - 3.75 + 1e-9 >= np.minimum(found.walls_mm, 0.83)).all()
    assert found.walls_mm == pytest.approx(np.minimum(rim - 3.75, 3.7), abs=0.02)
    if count > 1:
        assert least_apart(points) >= APART
    assert found.mouths[1] == pytest.approx(points)


def test_four_go_to_the_corners() -> None:
    """Four spread to the four quarters of an oblong."""
    points = seats_at(FLUSH, SEAM, 4, APART).mouths[0]
    assert {(x > 0.0, y > 0.0) for x, y in points[:, :2]} == set(itertools.product((True, False), repeat=2))


def test_seats_come_in_order() -> None:
    """Seats are told from low x to high, then y, so that their letters do not jump about."""
    points = np.round(seats_at(FLUSH, SEAM, 6, APART).mouths[0], 1)
    assert points.tolist() == sorted(points.tolist())


def test_places_given_are_kept_as_given() -> None:
    """Without a count every candidate is a seat, in the order given."""
    given = Candidates(np.array([[9.0, 1, 0], [-9.0, 2, 0], [0.0, -3, 0]]), np.repeat([[0.0, 0, 1]], 3, axis=0))
    found = seats_at(FLUSH, given, None, APART)
    assert found.mouths[0] == pytest.approx(given.points)
    assert found.walls_mm == pytest.approx([3.7, 3.7, 3.7])  # down to the lower part's far face: 6 - 2.3


def test_bores_that_lean_together_keep_their_wall() -> None:
    """On a small ball, mouths far enough apart lean inward so that the floors would meet: refused."""
    ball = SeatRoom(Solid.of(*ico_sphere(12.0, 5)))
    need = NEED.__class__(**{**NEED.__dict__, "radius_mm": 1.75, "rim_mm": 0.0, "depth_mm": 8.0})
    lean = math.radians(11.0)
    axes = np.array([[math.sin(lean), 0.0, math.cos(lean)], [-math.sin(lean), 0.0, math.cos(lean)]])
    pair = Candidates(12.0 * axes, axes)
    assert math.dist(*pair.points) > 2.0 * 1.75 + 0.83
    short = seats_at([Side(ball, need, 1)], pair, None, 2.0 * 1.75 + 0.83)
    assert isinstance(short, Shortfall)
    assert (short.what, short.fits) == ("material between seats", 1)
    floors = 2.0 * (4.0 * math.sin(lean) - 1.75 * math.cos(lean))  # between the inner rims of the floors
    assert short.found_mm == pytest.approx(max(floors, 0.0), abs=0.02)
    shallow = NEED.__class__(**{**need.__dict__, "depth_mm": 0.5})
    assert isinstance(seats_at([Side(ball, shallow, 1)], pair, None, 2.0 * 1.75 + 0.83), SeatsFound)


def test_the_same_seats_twice() -> None:
    """The choice does not change from call to call."""
    first, second = (seats_at(FLUSH, SEAM, 3, APART) for _ in range(2))
    assert (first.mouths[0] == second.mouths[0]).all()


@pytest.mark.parametrize(
    ("need", "what", "found", "wanted"),
    [
        ({"radius_mm": 11.0}, "width of the skin under the seat's mouth", 22.0, 23.0),
        ({"radius_mm": 9.8}, "material beside the seat", 0.7, 0.83),
        ({"depth_mm": 5.5}, "material beside the seat", 0.5, 0.83),
        ({"depth_mm": 6.4}, "material beside the seat", -0.4, 0.83),
    ],
)
def test_what_is_short_is_told_as_it_is(need, what, found, wanted) -> None:
    """Width of skin, wall beside and wall under are told in closed form, at the place that comes nearest."""
    sides = [Side(side.room, NEED.__class__(**{**NEED.__dict__, **need}), side.sign) for side in FLUSH]
    short = seats_at(sides, SEAM, 1, APART)
    assert isinstance(short, Shortfall)
    assert short.what == what
    assert short.found_mm == pytest.approx(found, abs=0.5 if "width" in what or found == 0.7 else 0.01)
    assert short.found_mm <= found + 1e-6
    assert short.wanted_mm == pytest.approx(wanted)
    assert short.missing_mm == pytest.approx(wanted - short.found_mm)


def test_too_many_says_how_many_fit() -> None:
    """More than the seam holds is short of distance, with the number that fits, and that number does."""
    short = seats_at(FLUSH, SEAM, 12, APART)
    assert isinstance(short, Shortfall)
    assert short.what == "distance between seats"
    assert short.found_mm < APART == short.wanted_mm
    assert isinstance(seats_at(FLUSH, SEAM, short.fits, APART), SeatsFound)


def test_under_a_roof_no_way_in() -> None:
    """A travel longer than the free height is told with that height."""
    room = SeatRoom(Solid.of(*box((40.0, 30.0, 6.0), (0.0, 0.0, -3.0))))
    roof = Solid.of(*box((40.0, 30.0, 2.0), (0.0, 0.0, 5.2)))
    room = SeatRoom(unite([room.solid, roof, Solid.of(*box((4.0, 30.0, 8.0), (-18.0, 0.0, 2.0)))]))
    place = Candidates(np.zeros((1, 3)), np.array([[0.0, 0.0, 1.0]]))
    short = seats_at([Side(room, NEED, 1)], place, None, APART)
    assert isinstance(short, Shortfall)
    assert (short.what, short.found_mm) == ("a free way in", pytest.approx(4.2))
