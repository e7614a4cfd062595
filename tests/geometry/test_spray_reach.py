"""`spray_reach`: closed forms of what a direction sees, and no point called reached that is not."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fixtures.drawn import blob, box, ico_sphere, moved
from fixtures.gauges import first_hits
from prep.geometry.cut_skin import Skin, cut_half_spaces
from prep.geometry.patch import Patch
from prep.geometry.solid import Solid, subtract
from prep.geometry.spray_reach import spray_reach


def band(solid: Solid, *limits: tuple[int, float, float]) -> Patch:
    """The patch within some planes."""
    cut = cut_half_spaces(Skin.of(solid), list(limits))
    return Patch.of(cut.skin, cut.inside)


def spiral(count: int) -> np.ndarray:
    """Directions spread evenly over the sphere."""
    height = 1.0 - (2.0 * np.arange(count) + 1.0) / count
    turn = np.pi * (3.0 - np.sqrt(5.0)) * np.arange(count)
    across = np.sqrt(1.0 - height**2)
    return np.stack([across * np.cos(turn), across * np.sin(turn), height], axis=1)


def test_a_direction_paints_a_cap() -> None:
    """From one direction, within g of the normal, (1 - cos g) / 2 of a ball is reached."""
    ball = Solid.of(*ico_sphere(10.0, 5))
    whole = Patch.of(Skin.of(ball), np.ones(len(ball.triangles), dtype=bool))
    reach = spray_reach(whole, [ball], directions=spiral(20), spacing_mm=0.4, most_angle_deg=60.0)
    assert reach.seen.mean(axis=0) == pytest.approx(np.full(20, 0.25), abs=0.004)
    assert reach.areas.sum() == pytest.approx(ball.area_mm2)


def test_directions_that_cover_a_cap() -> None:
    """All of a cap of half angle a is reached from (1 - cos(g - a)) / 2 of all directions."""
    ball = Solid.of(*ico_sphere(10.0, 5))
    cap = band(ball, (2, 10.0 * math.cos(math.radians(20.0)), 1.0))
    reach = spray_reach(cap, [ball], directions=spiral(4000), spacing_mm=0.2, most_angle_deg=70.0)
    share = (1.0 - math.cos(math.radians(50.0))) / 2.0
    assert reach.seen.all(axis=0).mean() == pytest.approx(share, rel=0.02)
    assert reach.unreachable_mm2 == 0.0
    assert reach.unreachable() == ()


def groove(width: float, depth: float) -> Solid:
    """A block with a groove of upright walls along y, its floor at z = 0."""
    block = Solid.of(*moved(box((40.0, 60.0, 20.0)), (0.0, 0.0, depth - 10.0)))
    return subtract(block, [Solid.of(*moved(box((width, 80.0, 20.0)), (0.0, 0.0, 10.0)))])


@pytest.mark.parametrize("tilt", [5.0, 20.0, 40.0, 55.0])
def test_floor_of_a_groove(tilt: float) -> None:
    """Tilted by t across a groove of width w and depth h the spray reaches 1 - h tan(t) / w of its floor."""
    width, depth = 6.0, 4.0
    solid = groove(width, depth)
    floor = band(solid, (2, -1.0, 1.0), (2, 0.5, -1.0), (0, -2.9999, 1.0), (0, 2.9999, -1.0))
    up = np.array([[math.sin(math.radians(tilt)), 0.0, math.cos(math.radians(tilt))]])
    reach = spray_reach(floor, [solid], directions=up, spacing_mm=0.08)
    floor_only = reach.normals[:, 2] > 0.9
    share = max(0.0, 1.0 - depth * math.tan(math.radians(tilt)) / width)
    assert reach.seen[floor_only].mean() == pytest.approx(share, abs=0.01)
    lit = reach.points[floor_only & reach.seen[:, 0]]
    assert len(lit) == 0 or lit[:, 0].max() == pytest.approx(3.0 - depth * math.tan(math.radians(tilt)), abs=0.1)


@pytest.mark.parametrize("half", [25.0, 40.0])
def test_wall_of_a_v(half: float) -> None:
    """A wall of a V of half angle b and reach r down its slope: tilted by t to the other side, all of it is lit.

    Tilted by t < b toward its own side, the far wall's rim shades it: none of it, for the rim is as high. Beyond b the
    wall turns away. Straight down the angle to the wall is 90 - b.
    """
    block = Solid.of(*moved(box((40.0, 60.0, 20.0)), (0.0, 0.0, -10.0)))
    tan = math.tan(math.radians(half))
    v = np.array([[0.0, -50, -8], [-10 * tan, -50, 2], [10 * tan, -50, 2], [0, 50, -8], [-10 * tan, 50, 2]])
    v = np.concatenate([v, [[10 * tan, 50, 2]]])
    t = np.array([[0, 2, 1], [3, 4, 5], [0, 1, 4], [0, 4, 3], [1, 2, 5], [1, 5, 4], [2, 0, 3], [2, 3, 5]])
    cutter = Solid.of(v, t if Solid.of(v, t).volume_mm3 > 0.0 else t[:, ::-1])
    solid = subtract(block, [cutter])
    cut = cut_half_spaces(Skin.of(solid), [(2, -7.9, 1.0), (2, -0.1, -1.0), (1, -25.0, 1.0), (1, 25.0, -1.0)])
    right = solid.triangle_normals[cut.skin.source] @ np.array(
        [-math.cos(math.radians(half)), 0, math.sin(math.radians(half))]
    )
    wall = Patch.of(cut.skin, cut.inside & (right > 0.999))
    assert wall.area_mm2 == pytest.approx(7.8 / math.cos(math.radians(half)) * 50.0, rel=1e-6)
    for tilt, share in ((-half - 8.0, None), (-half + 5.0, 1.0), (0.0, 1.0), (half - 5.0, 1.0)):
        angle = math.radians(tilt)
        reach = spray_reach(
            wall,
            [solid],
            directions=np.array([[math.sin(angle), 0, math.cos(angle)]]),
            spacing_mm=0.3,
            most_angle_deg=90.0,
        )
        if share is None:
            deep = _lit_depth(half, -tilt)
            assert reach.seen.mean() == pytest.approx((deep - 0.1) / 7.8, abs=0.02)
        else:
            assert reach.seen.mean() == share


def _lit_depth(half: float, tilt: float) -> float:
    """How deep the far wall of a V 8 deep is lit when the spray leans by more than its half angle over the near rim.

    The ray over the near rim (-8 tan b, 0) runs down with slope tan t and meets the far wall x = (8 - z) tan b.
    """
    b, t = math.tan(math.radians(half)), math.tan(math.radians(tilt))
    return 16.0 * b / (t + b)


@settings(max_examples=6, deadline=None)
@given(seed=st.integers(0, 1000), scale=st.sampled_from([1e-3, 1.0, 1e3]))
def test_no_point_is_called_reached_that_is_not(seed: int, scale: float) -> None:
    """Every point called reached has a free way, by rays at every triangle in double precision, and faces the gun."""
    drawn = blob(seed, 10.0, 0.35, 2)
    part = Solid.of(drawn[0] * scale, drawn[1])
    plate = Solid.of(*moved(box((12.0 * scale, 3.0 * scale, 12.0 * scale)), (0.0, 14.0 * scale, 3.0 * scale)))
    window = band(part, (1, 2.0 * scale, 1.0))
    directions = spiral(40)
    reach = spray_reach(window, [part, plate], directions=directions, spacing_mm=1.2 * scale)
    corners = np.concatenate([part.corners, plate.corners])
    points, ways = np.nonzero(reach.seen)
    pick = np.random.default_rng(seed).permutation(len(points))[:400]
    points, ways = points[pick], ways[pick]
    start = reach.points[points] + 1e-4 * scale * reach.normals[points]
    distance, _ = first_hits(corners / scale, start / scale, directions[ways])
    assert np.isinf(distance).all()
    assert (np.einsum("ij,ij->i", reach.normals[points], directions[ways]) >= 0.5 - 1e-12).all()


def test_what_no_direction_reaches() -> None:
    """Under a roof close above it a window is out of reach; the place and the area are said."""
    slab = Solid.of(*moved(box((60.0, 60.0, 4.0)), (0.0, 0.0, -2.0)))
    roof = Solid.of(*moved(box((20.0, 20.0, 2.0)), (0.0, 0.0, 2.0)))
    window = band(slab, (2, -0.5, 1.0), (0, -25.0, 1.0), (0, 25.0, -1.0), (1, -25.0, 1.0), (1, 25.0, -1.0))
    up = spiral(4000)
    reach = spray_reach(window, [slab, roof], directions=up[up[:, 2] > 0], spacing_mm=0.5, most_angle_deg=60.0)
    (spot,) = reach.unreachable()
    side = 20.0 - 2.0 * math.tan(math.radians(60.0))
    assert spot.area_mm2 == pytest.approx(side**2, rel=0.03)
    assert spot.area_mm2 == pytest.approx(reach.unreachable_mm2)
    assert spot.at_mm == pytest.approx([0.0, 0.0, 0.0], abs=0.6)
