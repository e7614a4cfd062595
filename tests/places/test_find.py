"""`find_places`: every form of a place on solids with known skins."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fixtures.drawn import box, ico_sphere, moved, tray, tube, turned
from prep.errors import NoSuchPlace
from prep.geometry.solid import Solid, subtract, unite
from prep.places.find import find_places
from prep.places.wanted import PlaceWanted

BLOCK = Solid.of(*box((40.0, 30.0, 20.0)))


def found(solid: Solid, *words):
    """The places of these words."""
    return find_places(solid, [PlaceWanted.model_validate(one) for one in words])


def spots(places) -> np.ndarray:
    """Where they are, (n, 3)."""
    return np.array([place.at_mm for place in places])


def test_a_point_goes_to_the_nearest_skin() -> None:
    """A point outside or inside is snapped to the surface; the direction runs into the material either way."""
    outside, inside = found(BLOCK, {"point": "3, 4, 12 mm"}, {"point": "3, 4, 9 mm"})
    for place in (outside, inside):
        assert place.at_mm == pytest.approx((3.0, 4.0, 10.0))
        assert place.inward == pytest.approx((0.0, 0.0, -1.0))


def test_a_ray_takes_the_first_skin() -> None:
    """A ray from outside stops at the first surface it meets."""
    (place,) = found(BLOCK, {"ray": {"from": "50, 4, 5 mm", "toward": "-x"}})
    assert place.at_mm == pytest.approx((20.0, 4.0, 5.0))
    assert place.inward == pytest.approx((-1.0, 0.0, 0.0))


def test_a_ray_from_inside_the_material_points_back_into_it() -> None:
    """A ray that leaves the material finds the skin from behind; the way in is still the way into the material."""
    (place,) = found(BLOCK, {"ray": {"from": "0, 0, 0 mm", "toward": "+z"}})
    assert place.at_mm == pytest.approx((0.0, 0.0, 10.0))
    assert place.inward == pytest.approx((0.0, 0.0, -1.0))


def test_a_slanted_ray_on_a_ball() -> None:
    """On a ball the place lies on it and its direction runs to the middle."""
    ball = Solid.of(*ico_sphere(20.0, 5))
    (place,) = found(ball, {"ray": {"from": "40, 30, 20 mm", "toward": "-4, -3, -2"}})
    assert np.linalg.norm(place.at_mm) == pytest.approx(20.0, abs=0.02)
    assert np.dot(place.inward, place.at_mm) == pytest.approx(-20.0, abs=0.03)


def test_facing_takes_the_middle_of_the_largest() -> None:
    """The largest flat that way, at its middle, rolled level; an offset shifts in its own plane."""
    part = Solid.of(*tray((40.0, 30.0, 12.0), 3.0, 4.0))
    middle, shifted = found(part, {"facing": "+z"}, {"facing": "+z", "offset": "5, -2 mm"})
    assert middle.at_mm == pytest.approx((0.0, 0.0, 4.0))
    assert middle.roll == pytest.approx((1.0, 0.0, 0.0))
    assert shifted.at_mm == pytest.approx((5.0, -2.0, 4.0))


def test_near_takes_the_flat_the_point_is_on() -> None:
    """`near` takes the flat that comes nearest to the point, not the one whose middle does."""
    plate = unite([Solid.of(*box((120.0, 60.0, 6.0))), Solid.of(*box((6.0, 6.0, 10.0), (40.0, 0.0, 0.0)))])
    (on_plate,) = found(plate, {"facing": "+z", "near": "30, 10, 3 mm"})
    (on_boss,) = found(plate, {"facing": "+z", "near": "42, 1, 5 mm"})
    assert on_plate.at_mm[2] == pytest.approx(3.0)
    assert on_boss.at_mm == pytest.approx((40.0, 0.0, 5.0))


def test_facing_turned_and_a_metre_away() -> None:
    """A flat is found in any frame."""
    part = Solid.of(*moved(turned(box((40.0, 30.0, 20.0)), (0.0, 1.0, 0.0), 30.0), (1000.0, 0.0, -50.0)))
    (place,) = found(part, {"facing": "0.5, 0, 0.8660254"})
    assert place.at_mm == pytest.approx((1005.0, 0.0, -50.0 + 8.660254), abs=1e-5)


def test_a_ring_on_a_flat() -> None:
    """A ring stands evenly about its place, from the start angle on, all on the skin."""
    places = found(BLOCK, {"facing": "+z", "ring": {"count": 4, "radius": "8 mm", "start": "45 deg"}})
    at = spots(places)
    assert np.hypot(at[:, 0], at[:, 1]) == pytest.approx([8.0] * 4)
    assert at[:, 2] == pytest.approx([10.0] * 4)
    assert at[0] == pytest.approx([8.0 * math.sqrt(0.5), 8.0 * math.sqrt(0.5), 10.0])
    assert np.diff(np.unwrap(np.arctan2(at[:, 1], at[:, 0]))) == pytest.approx([math.pi / 2.0] * 3)


def test_a_row_and_a_grid() -> None:
    """A row is centred with its pitch and turned by its angle; a grid runs across first."""
    row = spots(found(BLOCK, {"facing": "+z", "row": {"count": 3, "pitch": "6 mm", "turn": "90 deg"}}))
    assert row[:, :2] == pytest.approx(np.array([[0.0, -6.0], [0.0, 0.0], [0.0, 6.0]]), abs=1e-9)
    grid = spots(found(BLOCK, {"facing": "+z", "grid": {"count": [3, 2], "pitch": "5 mm"}}))
    assert grid[:, :2] == pytest.approx(
        np.array([[-5, -2.5], [0, -2.5], [5, -2.5], [-5, 2.5], [0, 2.5], [5, 2.5]], dtype=float)
    )


def test_a_ring_on_a_dome_follows_it() -> None:
    """On a ball each place of a ring lies on the skin and faces its own way."""
    ball = Solid.of(*ico_sphere(20.0, 5))
    places = found(ball, {"point": "0, 0, 20 mm", "ring": {"count": 6, "radius": "9 mm"}})
    at = spots(places)
    assert np.linalg.norm(at, axis=1) == pytest.approx([20.0] * 6, abs=0.03)
    assert np.hypot(at[:, 0], at[:, 1]) == pytest.approx([9.0] * 6, abs=0.4)  # the pole's facet is not quite level
    for place in places:
        assert np.dot(place.inward, place.at_mm) < -19.9


def test_a_ring_about_a_hole() -> None:
    """A pattern may be laid about the middle of a flat that is a hole; its places lie on the rim."""
    at = spots(found(Solid.of(*tube(10.0, 6.0, 20.0)), {"facing": "+z", "ring": {"count": 5, "radius": "8 mm"}}))
    assert at[:, 2] == pytest.approx([20.0] * 5)


def test_a_pattern_under_a_roof_stays_on_its_floor() -> None:
    """In a slot the places keep to the floor they were laid on, not to the roof above or its outside."""
    slot = subtract(Solid.of(*box((60.0, 40.0, 30.0))), [Solid.of(*box((80.0, 30.0, 5.0)))])
    places = found(slot, {"point": "0, 0, -2.6 mm", "row": {"count": 2, "pitch": "10 mm"}})
    assert spots(places)[:, 2] == pytest.approx([-2.5, -2.5])
    assert [place.inward for place in places] == [pytest.approx((0.0, 0.0, -1.0))] * 2


def test_places_come_in_the_order_written() -> None:
    """Several places and patterns keep their order."""
    places = found(BLOCK, {"point": "0, 0, 30 mm"}, {"facing": "-z", "row": {"count": 2, "pitch": "4 mm"}})
    assert spots(places)[:, 2] == pytest.approx([10.0, -10.0, -10.0])


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ({"ray": {"from": "50, 0, 0 mm", "toward": "+x"}}, "meets nothing"),
        ({"ray": {"from": "0, 0, 50 mm", "toward": "+y"}}, r"spans \(-20.00, -15.00, -10.00\)"),
        ({"facing": "1, 1, 1"}, "no flat within 20 deg"),
        ({"facing": "+z", "offset": "50, 0 mm"}, "30.00 mm off the flat"),
        ({"facing": "+z", "ring": {"count": 4, "radius": "18 mm"}}, "off the part"),
        ({"seam": ["a", "b"], "spread": 2}, "two parts"),
    ],
)
def test_what_is_not_there_is_refused(words, says) -> None:
    """A miss, no flat, a place beside its flat, a pattern off the part: refused with where, and what to do."""
    with pytest.raises(NoSuchPlace, match=says) as fault:
        found(BLOCK, words)
    assert fault.value.fix


def test_a_flat_whose_middle_is_a_hole_is_refused() -> None:
    """The rim of a tube has no skin at its middle; the refusal says how far off, and an offset mends it."""
    rim = Solid.of(*tube(10.0, 6.0, 20.0))
    with pytest.raises(NoSuchPlace, match=r"5.9\d mm off the flat"):
        found(rim, {"facing": "+z"})
    (place,) = found(rim, {"facing": "+z", "offset": "8, 0 mm"})
    assert place.at_mm == pytest.approx((8.0, 0.0, 20.0), abs=1e-9)
