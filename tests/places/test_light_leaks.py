"""Places outside the windows that glow."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from manifold3d import Manifold

from fixtures.lit_shells import (
    LIMIT,
    PER_MM,
    PLANTS,
    SEAM_MM,
    LitShell,
    block,
    light_box,
    lit_shell,
    opaque_mm,
    plastic,
)
from prep.geometry.light_paths import BEHIND
from prep.geometry.solid import Solid, subtract, unite
from prep.places.light_field import MOST_CELLS, light_field
from prep.places.light_leaks import LeakSpot, light_leaks, near_groups, show_ratio
from prep.places.window_light import window_glow
from tests.geometry.walled import solid

THICK = 1.2 * opaque_mm()
FEW = 25_000
KINDS = {"thin spot": {"wall", "hollow"}, "open seam": {"seam", "opening"}, "screw boss": {"hollow", "wall"}}


def leaks_of(
    shell: LitShell, *, halves: tuple[Solid, ...] = (), coat: float | None = None, cells: int = FEW
) -> tuple[LeakSpot, ...]:
    """What leaks of a shell, or of other parts under its lamp and window."""
    parts = halves or shell.halves
    field = light_field(parts, [plastic(0.7, coat)] * len(parts), [shell.lamp], [shell.pane], most_cells=cells)
    return light_leaks(field, window_glow(field), limit=LIMIT).leaks


def lowered(half: Solid) -> Solid:
    """A half 0.3 mm below where it belongs."""
    down = np.eye(4)
    down[2, 3] = -SEAM_MM
    return half.moved(down)


def test_thick_box_does_not_leak() -> None:
    """With every wall thicker than the opaque thickness and a flush seam nothing is named."""
    assert leaks_of(light_box(THICK)) == ()


def test_faces_that_touch_see_nothing() -> None:
    """From the land where two halves touch no ray sees air, so no light is carried through the wall along the seam."""
    shell = lit_shell(294)
    field = shell.field()
    land = np.abs(field.coarse.normal @ np.array(shell.pane.out)) > 0.999
    blind = (field.air.triangle == BEHIND).all(axis=1)
    assert (land & blind).sum() > 100
    assert field.aired[blind].max() == 0.0
    assert leaks_of(shell, cells=MOST_CELLS) == ()


@pytest.mark.parametrize("seed", [1, 4])
def test_plants_in_drawn_shells_are_all_found_and_nothing_else(seed: int) -> None:
    """A thin spot, an open seam of 0.3 mm and a screw boss are each named in their place; the bare shell has none."""
    assert leaks_of(lit_shell(seed), cells=MOST_CELLS) == ()
    shell = lit_shell(seed, *PLANTS)
    left = set(leaks_of(shell, cells=MOST_CELLS))
    for plant, place in shell.at_mm.items():
        near = {
            leak
            for leak in left
            if leak.kind in KINDS[plant] and np.linalg.norm(np.array(leak.at_mm) - place) < shell.reach_mm[plant] + 1.0
        }
        assert near, plant
        left -= near
    assert not left


def test_thin_spot_shows_what_its_wall_passes() -> None:
    """A pocket that leaves 1 mm straight opposite the window: place, wall, and the ratio by hand.

    Both walls get straight light and light sent back; the spot lies on the side, so its straight light is worked out
    from the lamp by the inverse square, and only what is sent back may differ.
    """
    deep = 16.0 + THICK - 1.0
    pocket = block(2.0 * deep, 5.0, 5.0).translate([0.0, 0.0, 6.0])
    shell = light_box(THICK, plants=(pocket ^ block(2.0 * deep, 9.0, 9.0).translate([deep, 0.0, 6.0]),))
    (leak,) = leaks_of(shell)
    assert (leak.kind, leak.wide_mm) == ("wall", 0.0)
    assert leak.at_mm[0] == pytest.approx(16.0 + THICK, abs=1e-6)
    assert leak.wall_mm == pytest.approx(1.0, abs=0.1)
    assert 4.0 < leak.long_mm < 8.0
    field = shell.field()
    glow = window_glow(field)[0]
    face = field.scene.cast(np.array([[0.0, 0.0, 6.0]]), np.array([[1.0, 0.0, 0.0]]))
    lit = field.falls_at(np.array([[deep, 0.0, 6.0]]), face.triangle)[0, 0]
    way = np.array([deep, 0.0, 4.0])
    far = np.linalg.norm(way)
    straight = (way[2] / far) * (way[0] / far) / far**2 * 1e6
    assert lit - field.scattered[field.coarse.of_triangle[face.triangle[0]], 0] == pytest.approx(straight, rel=1e-6)
    assert leak.ratio == pytest.approx(lit * 0.6 * np.exp(-PER_MM) / np.pi / glow, rel=0.25)


def test_open_seam_is_one_spot_with_its_width() -> None:
    """Halves 0.3 mm apart leak all round, and the seam is named once with its width."""
    shell = light_box(THICK)
    (leak,) = leaks_of(shell, halves=(lowered(shell.halves[0]), shell.halves[1]))
    assert (leak.kind, leak.wall_mm) == ("seam", 0.0)
    assert leak.wide_mm == pytest.approx(SEAM_MM, abs=0.01)
    assert leak.at_mm[2] == pytest.approx(-SEAM_MM / 2.0, abs=0.02)
    assert leak.long_mm > 30.0


def test_tongue_across_the_seam_stops_it() -> None:
    """A tongue 1 mm high in a groove with the same 0.3 mm of play all round leaves no straight line, and no leak."""
    shell = light_box(THICK)
    side = 32.0 + THICK

    def frame(wide: float, low: float, high: float) -> Solid:
        ring = block(side + wide, side + wide, high - low) - block(side - wide, side - wide, high - low + 1.0)
        return solid(ring.translate([0.0, 0.0, (low + high) / 2.0]))

    tongue = unite([lowered(shell.halves[0]), frame(1.2, -0.8, 1.0)])
    groove = subtract(shell.halves[1], [frame(1.2 + 2.0 * SEAM_MM, -0.1, 1.0 + SEAM_MM)])
    assert leaks_of(shell, halves=(tongue, groove), cells=MOST_CELLS) == ()


def test_black_inside_stops_a_glowing_wall() -> None:
    """Walls of 2 mm glow; with the inside coated black, the window left bare, nothing does."""
    shell = light_box(1.6)
    assert {leak.kind for leak in leaks_of(shell)} == {"wall"}
    assert leaks_of(shell, coat=0.05) == ()


def test_wide_hole_is_an_opening() -> None:
    """A hole 8 mm across is an opening with about that width, at the hole."""
    hole = Manifold.cylinder(40.0, 4.0, 4.0, 64).rotate([0.0, 90.0, 0.0]).translate([0.0, 0.0, -8.0])
    (leak,) = leaks_of(light_box(THICK, plants=(hole,)))
    assert leak.kind == "opening"
    assert leak.wide_mm == pytest.approx(8.0, abs=1.6)
    assert leak.at_mm[0] > 15.0
    assert np.hypot(leak.at_mm[1], leak.at_mm[2] + 8.0) < 4.5


def test_cover_off_only_walls_count() -> None:
    """The lower half alone is open above: its opening is expected and not named, its thin wall is."""
    pocket = block(6.0, 5.0, 5.0).translate([16.0 + THICK - 0.7 - 3.0, 0.0, -8.0])
    shell = light_box(THICK, plants=(pocket,))
    shell = replace(shell, lamp=replace(shell.lamp, axis=(0.8, 0.0, 0.6)))
    whole = shell.field()
    alone = light_field(shell.halves[:1], [plastic()], [shell.lamp], [])
    down = light_field(shell.halves[:1], [plastic()], [shell.lamp], [shell.pane])
    assert window_glow(alone)[0] == 0.0
    assert window_glow(down)[0] == 0.0
    open_box = light_leaks(alone, window_glow(whole), limit=LIMIT, openings=False).leaks
    assert [leak.kind for leak in open_box] == ["wall"]
    assert open_box[0].at_mm[0] == pytest.approx(16.0 + THICK, abs=1e-6)
    assert "opening" in {leak.kind for leak in light_leaks(alone, window_glow(whole), limit=LIMIT).leaks}


def test_same_leaks_twice() -> None:
    """The same shell gives the same words."""
    shell = lit_shell(1, *PLANTS)
    first, again = (
        light_field(shell.halves, [plastic()] * 2, [shell.lamp], [shell.pane], most_cells=8000) for _ in "ab"
    )
    assert (first.falls == again.falls).all()
    assert (
        light_leaks(first, window_glow(first), limit=LIMIT).leaks
        == light_leaks(again, window_glow(again), limit=LIMIT).leaks
    )


def test_points_group_by_steps() -> None:
    """Points hang together along a chain of short steps."""
    points = np.array([[0.0, 0, 0], [1.0, 0, 0], [5.0, 0, 0], [2.0, 0, 0]])
    assert [group.tolist() for group in near_groups(points, 1.1)] == [[0, 1, 3], [2]]
    assert near_groups(np.empty((0, 3)), 1.0) == []


def test_ratios_are_shown_in_percent_or_times() -> None:
    """Less than the window is a share of it, more is so many times it."""
    assert [show_ratio(ratio) for ratio in (0.0312, 4.457, 1234.5)] == ["3.1 % of", "4.5 times", "1,234 times"]
