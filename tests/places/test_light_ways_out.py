"""Ways out for light that cross no plastic."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fixtures.lit_shells import block, light_box, plastic
from prep.places.light_field import LightField, Source, light_field
from prep.places.light_ways_out import WaysOut, plugged, ways_out
from prep.places.window_light import window_glow


def ways(field: LightField) -> WaysOut:
    """Ways out of a field above the usual share."""
    return ways_out(field, window_glow(field), 0.02)


def field_of(*plants, body_mm: float = 0.0, coat: float = 0.7) -> LightField:
    """The light in a small box with cutters taken out of it."""
    shell = light_box(4.0, plants=plants)
    lamp = replace(shell.lamp, body_mm=body_mm)
    return light_field(shell.halves, [plastic(coat)] * 2, [lamp], [shell.pane], most_cells=20_000)


@pytest.mark.parametrize(("wide", "long"), [(0.3, 12.0), (1.0, 6.0), (2.5, 2.5)])
def test_slots_and_small_holes_are_narrow(wide: float, long: float) -> None:
    """Light found in the air of a slot or small hole is at the slot, with its width."""
    found = ways(field_of(block(12.0, long, wide).translate([20.0, 0.0, 8.0])))
    assert found.narrow.any()
    at, width = found.at_mm[found.narrow], found.wide_mm[found.narrow]
    assert np.abs(at[:, 1]).max() <= long / 2.0 + 0.1
    assert np.abs(at[:, 2] - 8.0).max() <= wide / 2.0 + 0.1
    assert width.min() == pytest.approx(wide, rel=0.02)
    assert (found.ratio > 0.02).all()


def test_closed_box_has_no_way_out_but_its_window() -> None:
    """Nothing gets out of a closed box; what leaves by a window without plastic is no leak either."""
    assert len(ways(field_of()).at_mm) == 0
    shell = light_box(4.0, plants=(block(6.0, 6.0, 30.0).translate([0.0, 0.0, 20.0]),))
    pane = replace(shell.pane, half_mm=(5.0, 5.0), wall_mm=0.0, transmits=0.5)
    field = light_field(shell.halves, [plastic()] * 2, [shell.lamp], [pane], most_cells=20_000)
    assert len(ways(field).at_mm) == 0


def test_body_of_a_lamp_shuts_rays_that_would_go_through_it() -> None:
    """Rays toward the lamp are stopped within its radius; others, and those that leave it, are not."""
    field = field_of(body_mm=2.0)
    start = np.array([[0.0, 0.0, 12.0], [1.5, 0.0, 12.0], [3.0, 0.0, 12.0], [0.0, 0.0, 12.0]])
    way = np.array([[0.0, 0.0, -1.0]] * 3 + [[0.0, 0.0, 1.0]])
    assert plugged(field, start, way).tolist() == [True, True, False, False]


def test_lamp_in_sight_through_a_slot_counts_even_between_black_walls() -> None:
    """A lamp that shines straight out of a slot is a way out though the walls send nothing back."""
    shell = light_box(4.0, plants=(block(12.0, 6.0, 0.5).translate([20.0, 0.0, 4.0]),))
    lamp = Source((0.0, 0.0, 4.0), (0.8, 0.0, 0.6), 1.0, 1.0)
    field = light_field(shell.halves, [plastic(0.0)] * 2, [lamp], [shell.pane], most_cells=20_000)
    found = ways(field)
    assert found.narrow.any()
    assert np.abs(found.at_mm[:, 2] - 4.0).max() < 0.3
