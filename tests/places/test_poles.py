"""`pole_pattern`: a wrong turn pushes off, as found by brute force."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from prep.places.poles import pole_pattern

Z = np.array([0.0, 0.0, 1.0])


def ring(count: int, radius: float = 20.0) -> np.ndarray:
    """Places evenly on a circle."""
    angle = np.arange(count) * 2.0 * np.pi / count
    return np.stack([radius * np.cos(angle), radius * np.sin(angle), 0.0 * angle], axis=1)


RECTANGLE = np.array([[-15.0, -10, 0], [-15, 10, 0], [15, -10, 0], [15, 10, 0]])
TRIANGLE = np.array([[-15.0, -10, 0], [3, 12, 0], [15, -4, 0]])


def pushed(points, poles, degrees, axis=Z) -> int | None:
    """At how many places equal poles meet when the second part is put on turned; None where magnets miss."""
    middle = points.mean(axis=0)
    turned = Rotation.from_rotvec(np.radians(degrees) * axis).apply(points - middle) + middle
    partner = ["S" if pole == "N" else "N" for pole in poles]
    meets = 0
    for spot, pole in zip(turned, partner, strict=True):
        apart = np.linalg.norm(points - spot, axis=1)
        if apart.min() > 1.5:
            return None
        meets += poles[int(np.argmin(apart))] == pole
    return meets


@pytest.mark.parametrize(
    ("points", "turns"),
    [
        (RECTANGLE, {180.0}),
        (ring(4), {90.0, 180.0, 270.0}),
        (ring(6), {120.0, 180.0, 240.0}),
        (ring(3), {120.0, 240.0}),
        (ring(2), {180.0}),
        (TRIANGLE, set()),
    ],
    ids=["rectangle", "four", "six", "three", "two", "askew"],
)
def test_the_pattern_is_the_best_of_all(points, turns) -> None:
    """The turns found are those that bring magnet over magnet, and no pattern pushes off more at its worst turn."""
    found = pole_pattern(points, Z)
    assert set(found.wrong_turns) == turns
    told = tuple(pushed(points, found.poles, turn) for turn in found.wrong_turns)
    assert found.pushed_off == told
    worst = min(told, default=0)
    for other in itertools.product("NS", repeat=len(points)):
        assert min((pushed(points, other, turn) for turn in turns), default=0) <= worst
    if turns:
        assert worst > 0


def test_the_right_way_attracts_everywhere() -> None:
    """Not turned, no equal poles meet: that is what complementary means."""
    assert pushed(RECTANGLE, pole_pattern(RECTANGLE, Z).poles, 0.0) == 0


def test_as_many_north_as_south() -> None:
    """Among equals the pattern is balanced."""
    assert sorted(pole_pattern(RECTANGLE, Z).poles) == ["N", "N", "S", "S"]


def test_a_tilted_axis_of_any_length() -> None:
    """The mean of axes that lean apart is shorter than one; the turns found are the same."""
    turn = Rotation.from_rotvec([0.4, 0.7, 0.0])
    points, axis = turn.apply(ring(4, 40.0)), turn.apply(Z)
    assert pole_pattern(points, 0.9 * axis) == pole_pattern(points, axis)
    assert set(pole_pattern(points, 0.9 * axis).wrong_turns) == {90.0, 180.0, 270.0}


def test_axes_that_cancel_have_no_turn() -> None:
    """Seats that look all ways have no common axis to turn about."""
    assert pole_pattern(ring(4), np.zeros(3)).wrong_turns == ()


def test_a_stagger_under_the_reach_counts_as_meeting() -> None:
    """Magnets that come within reach of one another after a turn count; farther ones do not."""
    near, far = RECTANGLE.copy(), RECTANGLE.copy()
    near[0, 0] += 0.5
    far[0, 0] += 4.0
    assert pole_pattern(near, Z).wrong_turns == (180.0,)
    assert pole_pattern(far, Z).wrong_turns == ()


@pytest.mark.parametrize("count", [1, 13, 20])
def test_one_alone_and_too_many_to_search(count) -> None:
    """A single magnet has no turn; beyond a dozen the poles alternate."""
    found = pole_pattern(ring(count), Z)
    assert found.poles == tuple("NS"[k % 2] for k in range(count))


def test_the_same_pattern_twice() -> None:
    """The pattern does not change from call to call."""
    assert pole_pattern(ring(6), Z) == pole_pattern(ring(6), Z)
