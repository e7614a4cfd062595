"""`spread_apart`: points as far apart as can be."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from prep.geometry.spread import least_distance, spread_apart

GRID = np.stack([*(axis.ravel() for axis in np.meshgrid(np.arange(21.0), np.arange(11.0))), np.zeros(231)], axis=1)


def corners_of(points) -> set[tuple[float, ...]]:
    """The points as a set."""
    return {tuple(point) for point in points[:, :2].tolist()}


def test_two_and_four_go_to_the_corners() -> None:
    """In an oblong, four points take its corners, two its diagonal."""
    assert corners_of(GRID[spread_apart(GRID, 4)]) == {(0.0, 0.0), (20.0, 0.0), (0.0, 10.0), (20.0, 10.0)}
    assert corners_of(GRID[spread_apart(GRID, 2)]) in (
        {(0.0, 0.0), (20.0, 10.0)},
        {(0.0, 10.0), (20.0, 0.0)},
    )


def test_one_goes_to_the_middle() -> None:
    """A single point is the one nearest to the middle of all."""
    assert GRID[spread_apart(GRID, 1)[0]].tolist() == [10.0, 5.0, 0.0]


@pytest.mark.parametrize("count", [3, 4, 6])
def test_on_a_ring_they_are_even(count) -> None:
    """On a ring of candidates the chosen ones stand at equal angles."""
    angle = np.arange(120) * math.pi / 60.0
    ring = np.stack([np.cos(angle), np.sin(angle), 0.0 * angle], axis=1) * 30.0
    chosen = np.sort(spread_apart(ring, count))
    assert np.diff(chosen).tolist() == [120 // count] * (count - 1)


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 9999), count=st.integers(2, 4), scale=st.sampled_from([1e-3, 1.0, 1e3]))
def test_nearly_as_good_as_trying_all(seed, count, scale) -> None:
    """Of few points, the sum of 1 / distance^2 is within 5 % of the least over every choice, at every scale."""
    points = np.random.default_rng(seed).random((14, 3)) * 10.0 * scale

    def energy(rows) -> float:
        return sum(1.0 / ((points[a] - points[b]) ** 2).sum() for a, b in itertools.combinations(rows, 2))

    chosen = spread_apart(points, count)
    assert len(set(chosen.tolist())) == count
    best = min(energy(rows) for rows in itertools.combinations(range(14), count))
    assert energy(chosen.tolist()) <= 1.05 * best


def test_the_same_choice_twice() -> None:
    """The choice does not change from call to call."""
    points = np.random.default_rng(3).random((300, 3))
    assert spread_apart(points, 7).tolist() == spread_apart(points, 7).tolist()


def test_least_distance() -> None:
    """The least of all distances; without end for a single point."""
    assert least_distance(np.array([[0.0, 0, 0], [3, 4, 0], [9, 9, 9]])) == 5.0
    assert least_distance(np.zeros((1, 3))) == math.inf
