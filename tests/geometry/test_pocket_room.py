"""Pockets: their form, and the room a part has for them."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from fixtures.drawn import blob, box, ico_sphere, inside_out, joined, moved
from prep.geometry.lathe import lathe
from prep.geometry.pocket import Pocket, segment_distances
from prep.geometry.pocket_room import ENTRY, SPARE_MM, PocketForm, PocketRoom
from prep.geometry.solid import Solid, subtract
from tests.by_hand import nearest_by_hand, pocket_points

UP = np.array([0.0, 0.0, 1.0])
AXES = np.stack([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], UP])


def mesh_of(solid):
    """The same triangles in a library that knows nothing of pockets."""
    return trimesh.Trimesh(solid.vertices, solid.triangles, process=False)


def forms(*radii, length=0.0, turn=0.0, least=1.5, count=6):
    """One form a radius."""
    return [PocketForm(radius, length, turn, least, count) for radius in radii]


def under_the_rim(pocket, below):
    """Points all over the side and floor of a pocket at its greatest depth."""
    width = 2.0 * pocket.radius_mm
    return pocket_points(
        pocket.at(0.0), pocket.along, pocket.out, width, width + pocket.length_mm, pocket.deepest_mm, below
    )


def test_a_cutter_has_the_volume_of_its_outline_pulled_to_its_depth():
    """Outline area times depth plus the overshoot, as another library measures the solid."""
    pocket = Pocket(AXES, np.array([3.0, -2.0]), 4.0, 6.0, 0.3, rim_mm=10.0, crest_mm=10.5)
    cutter = mesh_of(pocket.cutter(8.0))
    assert cutter.volume == pytest.approx(pocket.area_mm2 * (8.0 + 0.5 + 0.8), rel=1e-9)
    assert cutter.bounds[0, 2] == pytest.approx(2.0, abs=1e-12)
    assert pocket.area_mm2 == pytest.approx(np.pi * 16.0 + 8.0 * 6.0, rel=2e-3)
    assert pocket.area_mm2 > np.pi * 16.0 + 8.0 * 6.0


@given(st.floats(-8, 8), st.floats(-8, 8), st.floats(0, 9), st.floats(0, 3.1), st.floats(-4, 14))
@settings(max_examples=60, deadline=None)
def test_the_distance_to_a_pocket_is_that_to_its_solid(x, y, length, turn, z):
    """Against the nearest point of the cutter's own triangles, within the sag of a facet."""
    pocket = Pocket(AXES, np.zeros(2), 3.0, length, turn, rim_mm=10.0, crest_mm=10.0)
    solid = mesh_of(pocket.cutter(7.0))
    point = np.array([[x, y, z]])
    found = float(pocket.distance_to(point, 7.0)[0])
    away = float(nearest_by_hand(point, np.asarray(solid.triangles), 50.0)[0])
    if found > 0.02 and z < 10.0:
        assert found == pytest.approx(away, abs=0.01)


@given(st.lists(st.floats(-5, 5), min_size=8, max_size=8))
@settings(max_examples=60, deadline=None)
def test_the_distance_of_two_segments_is_the_least_over_their_points(values):
    """Against a dense sampling of both."""
    first, second = np.array(values[:4]).reshape(2, 2), np.array(values[4:]).reshape(2, 2)
    share = np.linspace(0.0, 1.0, 400)[:, None]
    a, b = first[0] + share * (first[1] - first[0]), second[0] + share * (second[1] - second[0])
    brute = float(np.linalg.norm(a[:, None] - b, axis=2).min())
    exact = float(segment_distances(first[None], second[None])[0])
    assert exact <= brute + 1e-9
    assert exact >= brute - 0.05


def test_a_pocket_in_a_box_may_go_down_to_one_wall_above_the_far_side():
    """Depth, rim and distance to the sides in closed form."""
    room = PocketRoom(Solid.of(*box((60.0, 40.0, 20.0))), UP, wall_mm=1.0)
    found = room.pockets(forms(5.0, 8.0) + forms(3.0, length=12.0, turn=np.pi / 4))
    assert len(found) == 18
    for pocket in found:
        assert pocket.rim_mm == pytest.approx(10.0, abs=1e-9)
        assert pocket.deepest_mm == pytest.approx(19.0 - SPARE_MM, abs=0.01)
        reach = np.abs(pocket.ends).max(axis=0) + pocket.radius_mm
        assert (reach <= np.array([29.0, 19.0]) - SPARE_MM + 1e-6).all()
        assert pocket.above_mm3 == pytest.approx(0.0, abs=1e-6)
    assert room.deepest_mm == pytest.approx(19.0 - SPARE_MM, abs=0.01)
    assert room.widest_mm(5.0) == pytest.approx(19.0, abs=1.0)


@pytest.mark.parametrize("out", [(1.0, 0.0, 0.0), (0.0, -1.0, 0.0), (0.0, 0.0, -1.0)])
def test_pockets_open_in_the_direction_asked_for(out):
    """Whatever the direction, depth runs against it."""
    size = np.array([60.0, 40.0, 20.0])
    axis = int(np.argmax(np.abs(out)))
    pocket = PocketRoom(Solid.of(*box(tuple(size))), np.array(out), wall_mm=1.0).pockets(forms(4.0))[0]
    assert pocket.deepest_mm == pytest.approx(size[axis] - 1.0 - SPARE_MM, abs=0.01)
    assert pocket.at(0.0) @ np.array(out) == pytest.approx(size[axis] / 2.0, abs=1e-9)


def test_a_hidden_void_stops_a_pocket_one_wall_short():
    """Depth over a round void, in closed form, although nothing shows on the outside."""
    solid = Solid.of(*joined(box((60.0, 40.0, 20.0)), inside_out(moved(ico_sphere(4.0, 4), (0.0, 0.0, -4.0)))))
    room = PocketRoom(solid, UP, wall_mm=1.0)
    over = room.measured([Pocket(room.axes, np.zeros(2), 2.0)], finely=True)[0]
    assert over is not None
    assert over.deepest_mm == pytest.approx(10.0 - 1.0 - SPARE_MM, abs=0.02)


def test_the_corner_of_a_wall_between_two_places_measured_is_seen():
    """A needle-sharp pit from below ends between all samples of the floor, and still keeps its wall."""
    apex = np.array([0.37, -0.21, 2.0])
    pit = [[-0.3, -0.3, -10.0], [0.6, -0.3, -10.0], [0.2, 0.4, -10.0], apex.tolist()]
    cutter = Solid.of(np.array(pit) - [0, 0, 1e-9], np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]]))
    low = Solid.of(np.array(pit) - np.array([0, 0, 3.0]), np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]]))
    solid = subtract(Solid.of(*box((60.0, 40.0, 20.0))), [cutter, low])
    room = PocketRoom(solid, UP, wall_mm=1.0)
    pocket = room.measured([Pocket(room.axes, np.zeros(2), 6.0)])[0]
    assert pocket is not None
    assert pocket.rim_mm - pocket.deepest_mm >= 2.0 + 1.0 + SPARE_MM - 1e-6


def test_a_bought_item_is_kept_off_like_a_wall():
    """A magnet buried in the block keeps its wall on all sides."""
    frame = np.eye(4)
    frame[:3, 3] = (10.0, 0.0, 0.0)
    magnet = lathe(np.array([[3.0, -1.0], [3.0, 1.0]]), frame)
    room = PocketRoom(Solid.of(*box((60.0, 40.0, 20.0))), UP, wall_mm=1.0, kept_off=[magnet])
    for pocket in room.pockets(forms(4.0, count=20)):
        points = under_the_rim(pocket, 0.0)
        away = np.maximum(np.linalg.norm(points[:, :2] - [10.0, 0.0], axis=1) - 3.0, 0.0)
        above = np.maximum(np.abs(points[:, 2]) - 1.0, 0.0)
        assert np.hypot(away, above).min() >= 1.0


def test_no_pocket_opens_where_a_step_has_cut():
    """The floor of a wide seat faces out, yet it is not the hidden face."""
    before = Solid.of(*box((60.0, 40.0, 20.0)))
    seat = lathe(np.array([[12.0, 6.0], [12.0, 11.0]]), np.eye(4))
    after = subtract(before, [seat])
    found = PocketRoom(after, UP, wall_mm=1.0, uncut=before).pockets(forms(3.0, count=30))
    assert found
    assert all(np.linalg.norm(pocket.middle) > 12.0 + 1.0 + 3.0 for pocket in found)
    free = PocketRoom(after, UP, wall_mm=1.0, uncut=after).pockets(forms(3.0, count=30))
    assert any(np.linalg.norm(pocket.middle) < 9.0 for pocket in free)


def test_pockets_on_a_seam_stay_beside_its_points():
    """Only the mating half of a face is opened."""
    points = np.stack(np.meshgrid(np.arange(-29, 0.0), np.arange(-19, 20.0), [10.0]), axis=-1).reshape(-1, 3)
    room = PocketRoom(Solid.of(*box((60.0, 40.0, 20.0))), UP, wall_mm=1.0, seam=points)
    found = room.pockets(forms(3.0, count=12))
    assert found
    assert all(pocket.middle[0] < 0.0 for pocket in found)


def test_a_thin_plate_has_no_room():
    """No pocket, and the greatest depth says by how much."""
    room = PocketRoom(Solid.of(*box((40.0, 40.0, 2.0))), UP, wall_mm=1.0)
    assert room.pockets(forms(3.0)) == []
    assert room.deepest_mm == pytest.approx(1.0 - SPARE_MM, abs=0.01)


@pytest.mark.parametrize("seed", [1, 3])
def test_on_a_lump_every_pocket_keeps_its_wall(seed):
    """Sides and floors of all pockets of a curved solid, measured by hand against its whole surface."""
    solid = Solid.of(*blob(seed, radius=25.0, roughness=0.2, subdivisions=4))
    room = PocketRoom(solid, UP, wall_mm=1.2)
    blanks = room.pockets(forms(3.0, 6.0, count=3) + forms(2.5, length=8.0, turn=0.6, count=3))
    found = [pocket for pocket in room.measured(blanks, finely=True) if pocket is not None]
    assert len(found) >= 3
    for pocket in found:
        points = under_the_rim(pocket, 1.2 / ENTRY)  # the skin beside a mouth falls away by 26 degrees at most
        assert nearest_by_hand(points, solid.corners).min() >= 1.2
        assert pocket.crest_mm >= pocket.rim_mm


def test_the_same_room_twice_gives_the_same_pockets():
    """Nothing is left to chance."""
    solid = Solid.of(*blob(7, radius=25.0, roughness=0.2, subdivisions=3))
    twice = [PocketRoom(solid, UP, wall_mm=1.0).pockets(forms(3.0, 5.0)) for _ in range(2)]
    assert [(p.middle.tolist(), p.deepest_mm) for p in twice[0]] == [
        (p.middle.tolist(), p.deepest_mm) for p in twice[1]
    ]
