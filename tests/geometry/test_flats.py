"""`find_flats`: flat faces, joined from the triangles in one plane."""

from __future__ import annotations

import numpy as np
import pytest

from fixtures.drawn import (
    box,
    disc_plate,
    ico_sphere,
    irregular,
    moved,
    rounded_plate,
    slivered,
    subdivided,
    tray,
    tube,
    turned,
    wedge,
)
from prep.geometry.flats import find_flats
from prep.geometry.solid import Solid

UP = np.array([0.0, 0.0, 1.0])


@pytest.mark.parametrize("change", [lambda d: d, lambda d: subdivided(d, 2), lambda d: irregular(d, 3)])
def test_a_box_has_one_flat_each_way(change) -> None:
    """However it is meshed, a face of a box is one flat with its centre, normal and area."""
    one = Solid.of(*change(box((30.0, 20.0, 10.0), (1.0, 2.0, 3.0))))
    (flat,) = find_flats(one, UP)
    assert flat.area_mm2 == pytest.approx(600.0)
    assert flat.centre_mm == pytest.approx([1.0, 2.0, 8.0])
    assert flat.normal == pytest.approx(UP)
    assert one.triangle_areas[flat.triangles].sum() == pytest.approx(600.0)


def test_flats_come_largest_first() -> None:
    """A tray shows its floor before its rim, both facing up."""
    floor, rim = find_flats(Solid.of(*tray((40.0, 30.0, 12.0), 3.0, 4.0)), UP)
    assert (floor.area_mm2, rim.area_mm2) == pytest.approx((34.0 * 24.0, 1200.0 - 34.0 * 24.0))
    assert (floor.centre_mm[2], rim.centre_mm[2]) == pytest.approx((4.0, 12.0))


def test_the_angle_asked_for_is_kept() -> None:
    """A face 25 degrees off is found within 30 degrees and not within 20."""
    one = Solid.of(*wedge(25.0))
    assert find_flats(one, UP, within_deg=20.0) == []
    (slope,) = find_flats(one, UP, within_deg=30.0)
    assert slope.normal == pytest.approx([-np.sin(np.radians(25.0)), 0.0, np.cos(np.radians(25.0))])


def test_a_flat_ends_where_its_rounded_rim_begins() -> None:
    """The flat of a plate with a rounded rim is the flat alone."""
    (flat,) = find_flats(Solid.of(*rounded_plate((40.0, 25.0), 2.0, 4.0)), UP, within_deg=5.0)
    assert flat.area_mm2 == pytest.approx(38.0 * 23.0 - (4.0 - np.pi) * 9.0, rel=5e-3)
    round_one = find_flats(Solid.of(*disc_plate(20.0, 2.0)), UP, within_deg=5.0)[0]
    assert round_one.area_mm2 == pytest.approx(np.pi * 19.0**2, rel=5e-3)


def test_a_finely_meshed_dome_is_no_flat() -> None:
    """Neighbours of a fine dome differ by less than the bend allowed, and still do not add up to a flat."""
    ball = Solid.of(*ico_sphere(100.0, 5))
    flats = find_flats(ball, UP, within_deg=40.0)
    assert all(flat.area_mm2 < 30.0 for flat in flats)


def test_a_flat_with_a_hole_has_its_middle_in_the_hole() -> None:
    """The rim of a tube is one flat about the axis."""
    flat = find_flats(Solid.of(*tube()), UP)[0]
    assert flat.centre_mm == pytest.approx([0.0, 0.0, 20.0], abs=1e-9)


def test_turned_and_a_metre_away() -> None:
    """A flat keeps its area and its normal turns along."""
    one = Solid.of(*moved(turned(subdivided(box((30.0, 20.0, 10.0))), (1.0, 0.0, 0.0), 35.0), (1000.0, 900.0, -800.0)))
    toward = np.array([0.0, -np.sin(np.radians(35.0)), np.cos(np.radians(35.0))])
    (flat,) = find_flats(one, toward)
    assert flat.area_mm2 == pytest.approx(600.0, rel=1e-6)
    assert flat.normal == pytest.approx(toward, abs=1e-6)


def test_nothing_faces_that_way() -> None:
    """A direction that no face looks in gives none."""
    assert find_flats(Solid.of(*wedge(25.0)), np.array([-1.0, 0.0, 0.0])) == []


@pytest.mark.parametrize("noise", [0.0, 1e-6, 1e-5, 1e-4])
def test_a_sliver_does_not_cut_a_flat_in_two(noise) -> None:
    """Across a sliver whose normal rounding has turned, a flat stays one."""
    flats = find_flats(Solid.of(*slivered(subdivided(box((40.0, 30.0, 10.0)), 2), (10.0, 4.0, 5.0), noise)), UP)
    assert flats[0].area_mm2 == pytest.approx(1200.0, rel=1e-4)
    assert flats[0].centre_mm == pytest.approx([0.0, 0.0, 5.0], abs=1e-3)
    assert len(flats) == 1


def test_a_sliver_between_two_flats_does_not_join_them() -> None:
    """A gently bent top with a sliver on its ridge stays two flats."""
    rise = 10.0 * np.tan(np.radians(5.0))
    roof = Solid.of(*slab_roof(rise))
    flats = find_flats(roof, UP)
    assert len(flats) == 2
    assert flats[0].area_mm2 == pytest.approx(flats[1].area_mm2, rel=1e-3)


def slab_roof(rise: float):
    """A gable, 20 x 10, its ridge split by a corner a micrometre off it."""
    v = [(-10.0, -5, 0), (10, -5, 0), (10, 5, 0), (-10, 5, 0), (-10.0, -5, 5), (0, -5, 5 + rise), (10, -5, 5)]
    v += [(10.0, 5, 5), (0, 5, 5 + rise), (-10, 5, 5), (1e-6, 0.0, 5 + rise)]
    t = [(0, 3, 2), (0, 2, 1), (0, 1, 5), (0, 5, 4), (1, 6, 5), (2, 3, 8), (2, 8, 7), (3, 9, 8)]
    t += [(0, 4, 9), (0, 9, 3), (1, 2, 7), (1, 7, 6), (4, 5, 8), (4, 8, 9), (5, 10, 8)]
    t += [(5, 6, 10), (10, 6, 7), (10, 7, 8)]
    return np.array(v), np.array(t)
