"""Ceilings inside pockets."""

from __future__ import annotations

import numpy as np
import pytest

from prep.geometry.overhang import closed_in_overhangs
from tests.geometry.walled import box, rod, solid, without

UP = np.array([0.0, 0.0, 1.0])


def test_ceiling_of_a_box_is_its_area_and_height() -> None:
    """The lid over a closed room is one ceiling with its own area, width and headroom."""
    room = solid(without(box(40, 30, 20), box(30, 16, 12)))
    (found,) = closed_in_overhangs(room, UP, 45.0, 4.0)
    assert found.area_mm2 == pytest.approx(30 * 16, rel=0.01)
    assert found.span_mm == pytest.approx(16.0, rel=0.02)
    assert found.headroom_mm == pytest.approx(12.0, rel=1e-3)
    assert np.allclose(found.at_mm, [0, 0, 6], atol=1.0)


def test_direction_decides() -> None:
    """A pocket that opens upward has no ceiling; the same part on its head has one."""
    tray = solid(without(box(40, 30, 20), box(30, 20, 20).translate([0, 0, 4])))
    assert closed_in_overhangs(tray, UP, 45.0, 4.0) == []
    (found,) = closed_in_overhangs(without_floor(), -UP, 45.0, 4.0)
    assert found.area_mm2 == pytest.approx(600.0, rel=0.01)


def without_floor() -> object:
    """A tray standing in a dish, so that its inside has something below it when turned over."""
    return solid(
        without(box(40, 30, 20), box(30, 20, 20).translate([0, 0, 4])) + box(60, 50, 2).translate([0, 0, 15])
        + box(2, 2, 8).translate([19, 0, 12])
    )  # fmt: skip


def test_table_top_is_free_to_all_sides() -> None:
    """The underside of a table is open to the sides and is no ceiling inside a part."""
    table = solid(box(40, 40, 2).translate([0, 0, 20]) + rod(20, 3).translate([0, 0, 10]) + box(40, 40, 2))
    assert closed_in_overhangs(table, UP, 45.0, 4.0) == []


@pytest.mark.parametrize(("angle", "count"), [(30.0, 1), (60.0, 0)])
def test_steep_ceilings_hold_themselves(angle: float, count: int) -> None:
    """A conical roof that rises more steeply than 45 degrees needs no support."""
    roof = rod(10 * np.tan(np.radians(angle)), 10, 64, 0.01)
    height = 10 * np.tan(np.radians(angle))
    body = without(box(30, 30, 50), rod(10, 10, 64).translate([0, 0, -10]), roof.translate([0, 0, -5 + height / 2]))
    assert len(closed_in_overhangs(solid(body), UP, 45.0, 4.0)) == count


@pytest.mark.parametrize("scale", [1e-3, 1e3])
def test_scale_does_not_matter(scale: float) -> None:
    """A room a thousand times smaller or larger has its ceiling in proportion."""
    room = solid(without(box(40, 30, 20), box(30, 16, 12))).moved(np.diag([scale, scale, scale, 1.0]))
    (found,) = closed_in_overhangs(room, UP, 45.0, 4.0 * scale**2)
    assert found.area_mm2 == pytest.approx(480.0 * scale**2, rel=0.01)
