"""`cheapest_turns`, `rounded`, `spaced`: ways of straight runs and arcs, against closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest

from prep.geometry.wire_path import Waypoints, cheapest_turns, rounded, spaced

CORNER = np.array([[0.0, 0.0, 0.0], [20.0, 0.0, 0.0], [20.0, 30.0, 0.0]])


def wide(points):
    """Room everywhere."""
    return np.full(len(points), 1.0)


def length_of(line) -> float:
    """Of a polyline."""
    return float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum())


def test_a_corner_becomes_an_arc() -> None:
    """A right angle with radius 5: every arc point 5 from the centre, the length that of runs and quarter circle."""
    line = rounded(CORNER, 5.0)
    arc = line[1:-1]
    np.testing.assert_allclose(np.linalg.norm(arc - [15.0, 5.0, 0.0], axis=1), 5.0, atol=1e-12)
    assert length_of(line) == pytest.approx(15.0 + 25.0 + 5.0 * math.pi / 2.0, rel=1e-3)
    np.testing.assert_array_equal(line[[0, -1]], CORNER[[0, -1]])


def test_a_straight_line_stays() -> None:
    """Points on one line leave nothing to round."""
    line = rounded(np.array([[0.0, 0.0, 0.0], [3.0, 0.0, 0.0], [9.0, 0.0, 0.0]]), 5.0)
    np.testing.assert_array_equal(line, [[0.0, 0.0, 0.0], [9.0, 0.0, 0.0]])


def test_spaced_points() -> None:
    """No farther apart than the step, their lengths of way true, the line's own points among them."""
    points, at = spaced(CORNER, 0.7)
    assert np.diff(at).max() <= 0.7 + 1e-12
    assert at[-1] == pytest.approx(50.0)
    np.testing.assert_allclose(np.linalg.norm(np.diff(points, axis=0), axis=1), np.diff(at), atol=1e-12)
    assert (np.abs(points - CORNER[1]).sum(axis=1) < 1e-12).any()


def ways() -> Waypoints:
    """Start and end on one line, leads of 5, with two ways round between them: near (y 12) and far (y -20)."""
    middle = [[20.0, 12.0, 0.0], [20.0, -20.0, 0.0]]
    points = np.array([[0, 0, 0], [6.0, 0, 0], [34.0, 0, 0], *middle, [40.0, 0, 0]], dtype=float)
    return Waypoints(points, np.array([1]), np.array([2]))


def pillar(points):
    """No room within 7 of the middle."""
    return np.hypot(points[:, 0] - 20.0, points[:, 1]) - 7.0


def test_the_cheapest_way_is_taken() -> None:
    """Straight on where nothing stands; round the near side of a pillar; round the far side where the near one is
    struck out or dear.
    """
    assert cheapest_turns(ways(), 4.0, wide, wide, set()) == [0, 1, 2, 5]
    assert cheapest_turns(ways(), 4.0, pillar, wide, set()) == [0, 1, 3, 2, 5]
    assert cheapest_turns(ways(), 4.0, pillar, wide, {(1, 3)}) == [0, 1, 4, 2, 5]
    assert cheapest_turns(ways(), 4.0, pillar, wide, {(1, 3, 2)}) == [0, 1, 4, 2, 5]

    def dear_above(points):
        return np.where(points[:, 1] > 1.0, 9.0, 1.0)

    assert cheapest_turns(ways(), 4.0, pillar, dear_above, set()) == [0, 1, 4, 2, 5]


def test_a_bend_that_does_not_fit_is_not_taken() -> None:
    """A bend gets up to half of each run: over the near side the radius may be so much, and no more, by either side."""
    angle, run = math.atan2(12.0, 14.0), math.hypot(12.0, 14.0)
    widest = run / 2.0 / math.tan(angle)
    assert cheapest_turns(ways(), widest - 0.01, wide, wide, {(1, 2)}) == [0, 1, 3, 2, 5]
    assert cheapest_turns(ways(), widest + 0.01, wide, wide, {(1, 2), (1, 4)}) is None


def test_no_room_no_way() -> None:
    """Where there is no room at all there is no way."""
    assert cheapest_turns(ways(), 4.0, lambda p: np.full(len(p), -1.0), wide, set()) is None
