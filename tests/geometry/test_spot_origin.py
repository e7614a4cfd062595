"""Thin spots that were there before, and thin spots that were made."""

from __future__ import annotations

from prep.geometry.solid import subtract
from prep.geometry.spot_origin import already_in
from prep.geometry.wall_thickness import wall_thickness
from tests.geometry.walled import box, solid, without


def test_old_and_new_skins_are_told_apart() -> None:
    """Of two skins over pockets the one cut later is not in the original; the other is."""
    original = solid(without(box(30, 20, 6), box(4, 4, 6).translate([-8, 0, -0.5])))
    later = solid(box(4, 4, 6).translate([8, 0, -0.4]))
    spots = wall_thickness(subtract(original, [later]), limit_mm=1.0).thin_spots
    before = already_in(original, spots)
    assert [(round(spot.thickness_mm, 6), old) for spot, old in zip(spots, before, strict=True)] == [
        (0.4, False),
        (0.5, True),
    ]


def test_no_spots_no_answer() -> None:
    """Nothing asked, nothing answered."""
    assert already_in(solid(box(1, 1, 1)), ()) == ()
