"""Gaps measured as walls of air."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from prep.geometry.narrow_gap import narrow_gaps
from prep.geometry.solid import Solid
from tests.geometry.walled import box, dense_gap, rod, solid, triangles, without


@pytest.mark.parametrize("width", [0.1, 0.25, 0.39])
@pytest.mark.parametrize("scale", [1e-3, 1.0, 1e3])
def test_slot_is_as_wide_as_it_is(width: float, scale: float) -> None:
    """A slot through a block is found with its width, exactly, at any scale."""
    block = solid(without(box(20, 10, 8), box(width, 12, 10).translate([3, 0, 3])))
    found = narrow_gaps(block.moved(np.diag([scale, scale, scale, 1.0])), 0.4 * scale)
    assert found.gaps[0].thickness_mm == pytest.approx(width * scale, rel=1e-6)
    assert abs(found.gaps[0].at_mm[0] / scale - 3.0) < width


def test_gap_between_bodies_is_their_distance() -> None:
    """A round post beside a wall: the gap is the distance that a dense search finds."""
    wall, post = box(20, 2, 10), rod(10, 3, 48).translate([0, 4.0 + 0.21, 0])
    both = solid(wall + post)
    found = narrow_gaps(both, 0.4)
    nearest = dense_gap(triangles(wall), triangles(post))
    assert found.gaps[0].thickness_mm == pytest.approx(nearest, rel=1e-6)


def test_small_hole_is_a_pin_of_air() -> None:
    """A hole of 0.3 mm through a plate is named as a hole, by its least width across the facets."""
    plate = solid(without(box(20, 20, 3), rod(5, 0.15, 32)))
    (hole,) = narrow_gaps(plate, 0.4).gaps
    assert hole.kind == "pin"
    assert hole.thickness_mm == pytest.approx(0.3, rel=0.02)


@pytest.mark.parametrize(
    "body",
    [
        lambda: without(box(20, 20, 4), box(0.3, 30, 1).translate([0, 0, 2.4])),
        lambda: without(box(20, 20, 8), rod(30, 3, 3).rotate([90, 0, 0]).translate([0, 0, 4])),
        lambda: without(box(20, 20, 8), box(5, 30, 6).translate([0, 0, 3])),
        lambda: box(20, 20, 4),
        lambda: rod(20, 5) + box(3, 12, 20),
    ],
    ids=["groove shallower than wide", "V groove", "wide slot", "no gap at all", "inner corners"],
)
def test_what_does_not_fuse_is_not_named(body: Callable[[], object]) -> None:
    """Shallow grooves, wedges of air, wide slots and inner corners are no narrow gaps."""
    assert narrow_gaps(solid(body()), 0.4).gaps == ()


def test_narrowest_is_told_above_the_limit() -> None:
    """Where nothing is narrow, the narrowest gap is given all the same; a convex part has none."""
    slot = narrow_gaps(solid(without(box(20, 10, 8), box(1.5, 12, 10).translate([3, 0, 3]))), 0.4)
    assert slot.narrowest is not None
    assert slot.narrowest.thickness_mm == pytest.approx(1.5, rel=1e-6)
    assert narrow_gaps(solid(box(20, 10, 8)), 0.4).narrowest is None


def test_input_is_left_as_it_is() -> None:
    """The solid that is measured keeps its triangles."""
    one = solid(box(20, 10, 8))
    before = one.sha256
    narrow_gaps(one, 0.4)
    assert Solid.of(one.vertices, one.triangles).sha256 == before
