"""`bore_gaps`: material between bores that run any way."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fixtures.gauges import distances, spots_on
from prep.geometry.bore_gap import Bores, bore_gaps
from prep.geometry.lathe import lathe
from prep.geometry.seat_room import square_axes


def bores(*each, radius=3.0) -> Bores:
    """Bores from (top, out, depth)."""
    tops, outs, depths = zip(*each, strict=True)
    outs = np.array(outs, dtype=float)
    return Bores(np.array(tops, dtype=float), outs / np.linalg.norm(outs, axis=1)[:, None], np.array(depths), radius)


def test_side_by_side() -> None:
    """Parallel bores leave the distance of their axes less two radii, each told its nearest."""
    three = bores(((0, 0, 0), (0, 0, 1), 2.0), ((8, 0, 0), (0, 0, 1), 2.0), ((8, 20, 0), (0, 0, 1), 2.0))
    assert bore_gaps(three) == pytest.approx([2.0, 2.0, 14.0], abs=0.02)


def test_floor_to_floor_and_wall_to_floor() -> None:
    """Back to back bores leave what is between their floors; one square to another, floor to wall."""
    back = bores(((0, 0, 10), (0, 0, 1), 4.0), ((0, 0, 0), (0, 0, -1), 4.5))
    assert bore_gaps(back) == pytest.approx([1.5, 1.5], abs=1e-9)
    square = bores(((0, 0, 0), (0, 0, 1), 9.0), ((-12, 0, -5), (-1, 0, 0), 8.0))
    assert bore_gaps(square) == pytest.approx([1.0, 1.0], abs=0.02)


def test_bores_that_meet_leave_nothing() -> None:
    """Crossing bores leave 0, even where no rim lies in the other."""
    cross = bores(((0, 0, 20), (0, 0, 1), 40.0), ((-20, 0, 0), (-1, 0, 0), 40.0))
    assert bore_gaps(cross) == pytest.approx([0.0, 0.0])


def test_one_alone() -> None:
    """A single bore has all the room there is."""
    assert bore_gaps(bores(((0, 0, 0), (0, 0, 1), 2.0))).tolist() == [math.inf]


@settings(max_examples=12, deadline=None)
@given(seed=st.integers(0, 9999))
def test_agrees_with_the_distance_of_the_two_surfaces(seed) -> None:
    """Two bores drawn anyhow are as far apart as their turned surfaces, sampled densely (libigl)."""
    random = np.random.default_rng(seed)
    two = bores(
        *((random.normal(size=3) * 9.0, random.normal(size=3), float(random.uniform(1, 7))) for _ in range(2)),
        radius=2.0,
    )
    turned = []
    for k in range(2):
        frame = np.eye(4)
        across, up = square_axes(two.outs[k][None])
        frame[:3, 0], frame[:3, 1], frame[:3, 2], frame[:3, 3] = across[0], up[0], two.outs[k], two.tops[k]
        turned.append(lathe(np.array([[2.0, -two.depths_mm[k]], [2.0, 0.0]]), frame, 96))
    apart = min(
        distances((b.vertices, b.triangles), spots_on(a.corners, 0.25)).min() for a, b in (turned, turned[::-1])
    )
    found = bore_gaps(two)
    assert found[0] == found[1]
    if found[0] > 0.05:
        assert found[0] == pytest.approx(apart, abs=0.05)
    else:
        assert apart < 0.2
