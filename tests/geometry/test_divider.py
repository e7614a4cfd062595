"""A thin wall across the hollow of a box."""

from __future__ import annotations

from dataclasses import replace

import manifold3d
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from prep.errors import NoHollow
from prep.geometry.divider import Divider, DividerForm, DividerPlane, divider
from prep.geometry.solid import Solid, unite

FORM = DividerForm(wall_mm=1.2, play_mm=0.3, embed_mm=0.4, slot_mm=(0.0, 0.0))
PLANE = DividerPlane(np.array([0.0, 0.0, 4.0]), np.array([1.0, 0.0, 0.0]), np.array([0.0, 0.0, 1.0]), -np.inf, np.inf)
SKIN = 2.0


def block(low, high) -> manifold3d.Manifold:
    """A brick between two corners."""
    return manifold3d.Manifold.cube(tuple(np.subtract(high, low))).translate(tuple(low))


def solid(kernel: manifold3d.Manifold) -> Solid:
    """As a solid of the house."""
    mesh = kernel.to_mesh64()
    return Solid.of(np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts))


def tray(long: float = 40.0, wide: float = 30.0, deep: float = 12.0) -> manifold3d.Manifold:
    """An open box about the z axis, walls and floor 2 mm, its floor's upper side at z 0."""
    low, high = np.array([-long / 2.0, -wide / 2.0, 0.0]), np.array([long / 2.0, wide / 2.0, deep])
    return block(low - SKIN, high + np.array([SKIN, SKIN, 0.0])) - block(low, high + np.array([0.0, 0.0, 1.0]))


def added(host: manifold3d.Manifold, one: Divider) -> float:
    """Volume the box gains."""
    return unite([solid(host), one.solid]).volume_mm3 - solid(host).volume_mm3


def test_it_fills_the_box_from_side_to_side_up_to_its_rim() -> None:
    """Without covers: inner width by depth less the play by thickness, one piece with the box, no handle."""
    one = divider(solid(tray()), [], PLANE, FORM)
    assert (one.long_mm, one.high_mm) == pytest.approx((30.0, 11.7), abs=2e-3)
    assert added(tray(), one) == pytest.approx(30.0 * 11.7 * 1.2, rel=5e-4)
    assert one.handles == 0
    whole = unite([solid(tray()), one.solid])
    assert (whole.topology.shells, whole.topology.genus) == (1, 0)
    assert np.array_equal(whole.bounds_mm, solid(tray()).bounds_mm)


def test_lid_with_a_rib_is_kept_clear_by_the_play() -> None:
    """A lid 1 mm into the box with a rib 3 mm further down: the wall keeps 0.3 mm off both, all round."""
    lid = block((-20.0, -15.0, 11.0), (20.0, 15.0, 14.0)) + block((-20.0, -2.0, 8.0), (20.0, 2.0, 11.5))
    one = divider(solid(tray()), [solid(lid)], PLANE, FORM)
    assert one.solid.bounds_mm[1][2] == pytest.approx(10.7, abs=2e-3)
    assert added(tray(), one) == pytest.approx((30.0 * 10.7 - 4.6 * 3.0) * 1.2, rel=1e-3)
    apart = lid.min_gap(
        manifold3d.Manifold(
            manifold3d.Mesh64(np.array(one.solid.vertices, order="C"), one.solid.triangles.astype(np.uint64))
        ),
        2.0,
    )
    assert apart == pytest.approx(0.3, abs=3e-3)


def test_frame_lifts_off_past_its_ledge() -> None:
    """On a bare plate within a frame with a ledge inside: nothing of the wall stands above the ledge."""
    plate = block((-25.0, -20.0, -2.0), (25.0, 20.0, 0.0))
    frame = block((-25.0, -20.0, 0.0), (25.0, 20.0, 20.0)) - block((-23.0, -18.0, -1.0), (23.0, 18.0, 21.0))
    frame += block((-25.0, -19.0, 9.0), (25.0, -16.0, 11.0))
    one = divider(solid(plate), [solid(frame)], PLANE, FORM)
    above = one.solid.vertices[one.solid.vertices[:, 2] > 8.8]
    below = one.solid.vertices[np.abs(one.solid.vertices[:, 2] - 5.0) < 3.8]
    assert above[:, 1].min() == pytest.approx(-15.7, abs=3e-3)
    assert below[:, 1].min() == pytest.approx(-17.7, abs=3e-3)
    assert one.solid.bounds_mm[1][2] == pytest.approx(19.7, abs=3e-3)


def test_slot_is_one_handle() -> None:
    """A way for wires makes one handle and takes its own area out of the wall."""
    one = divider(solid(tray()), [], PLANE, replace(FORM, slot_mm=(3.0, 2.0)))
    assert (one.slotted, one.handles) == (True, 1)
    assert added(tray(), one) == pytest.approx((30.0 * 11.7 - 6.0) * 1.2, rel=5e-4)
    assert unite([solid(tray()), one.solid]).topology.genus == 1


def test_slot_moves_off_a_boss() -> None:
    """Where a boss stands under the middle the slot is beside it, open on both sides."""
    host = tray() + block((-4.0, -2.0, -1.0), (4.0, 2.0, 3.0))
    one = divider(solid(host), [], replace(PLANE, origin=np.array([0.0, 0.0, 6.0])), replace(FORM, slot_mm=(3.0, 2.0)))
    whole = unite([solid(host), one.solid])
    assert whole.topology.genus == 1
    assert whole.volume_mm3 == pytest.approx(solid(host).volume_mm3 + (30.0 * 11.7 - 4.0 * 3.0 - 6.0) * 1.2, rel=1e-4)


def test_end_where_a_third_cell_begins() -> None:
    """A finite end is half a wall beyond the corner of the cells."""
    one = divider(solid(tray()), [], replace(PLANE, high_mm=5.0), FORM)
    assert one.long_mm == pytest.approx(15.0 + 5.0 + 0.6, abs=2e-3)


@settings(max_examples=12, deadline=None)
@given(turn=st.floats(0.0, 3.1), long=st.floats(15.0, 60.0), deep=st.floats(5.0, 30.0), wall=st.floats(0.8, 2.0))
def test_turned_box_is_divided_alike(turn: float, long: float, deep: float, wall: float) -> None:
    """A box turned in space with its plane gains the same volume, in one shell."""
    host = tray(long, 20.0, deep).rotate((0.0, 0.0, float(np.degrees(turn))))
    normal = np.array([np.cos(turn), np.sin(turn), 0.0])
    plane = replace(PLANE, normal=normal, origin=np.array([0.0, 0.0, 1.0]))
    one = divider(solid(host), [], plane, replace(FORM, wall_mm=wall))
    assert added(host, one) == pytest.approx(20.0 * (deep - 0.3) * wall, rel=2e-3)
    assert unite([solid(host), one.solid]).topology.shells == 1


def test_no_air_is_refused() -> None:
    """In a full brick there is nothing to divide."""
    brick = solid(block((-20.0, -20.0, -2.0), (20.0, 20.0, 10.0)))
    with pytest.raises(NoHollow, match="no hollow"):
        divider(brick, [], PLANE, FORM)


def test_open_side_is_refused_until_a_cover_closes_it() -> None:
    """A side cut away lets the air out, and is said to; a cover in its place mends it."""
    gap = block((-30.0, 10.0, 0.0), (30.0, 30.0, 8.0))
    with pytest.raises(NoHollow, match="run out"):
        divider(solid(tray() - gap), [], PLANE, FORM)
    panel = solid(block((-30.0, 15.0, 0.5), (30.0, 17.0, 12.0)))
    assert divider(solid(tray() - gap), [panel], PLANE, FORM).long_mm == pytest.approx(15.0 + 14.7, abs=0.01)


def test_no_room_for_the_slot_is_refused() -> None:
    """A slot as high as the wall is refused with both sizes."""
    with pytest.raises(NoHollow, match="wires' slot") as caught:
        divider(solid(tray(deep=3.0)), [], replace(PLANE, origin=np.array([0, 0, 1.0])), replace(FORM, slot_mm=(3, 2)))
    assert "3 x 2 mm" in caught.value.found
