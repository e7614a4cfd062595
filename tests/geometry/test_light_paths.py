"""Straight ways through plastic, and what a point sees across air."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fixtures.drawn import box, spherical_shell
from prep.geometry.light_paths import air_paths, fan_directions, sees, wall_paths
from prep.geometry.rays import RayScene
from prep.geometry.solid import Solid

TOUCH = 0.05


def slab(x: float, thick: float, size: float = 20.0) -> Solid:
    """A slab square to x whose lower face lies at x."""
    return Solid.of(*box((thick, size, size), (x + thick / 2.0, 0.0, 0.0)))


def through(solids: list[Solid], way: tuple[float, float, float], touch: float = TOUCH) -> tuple[np.ndarray, float]:
    """Length in each solid of the path from the origin, and how far along x it ends; -1 where it reaches no air."""
    scene = RayScene(solids)
    found = wall_paths(
        scene, np.zeros((1, 3)), np.array([way]) / np.linalg.norm(way), np.zeros(1, dtype=np.int32),
        reach_mm=100.0, touch_mm=touch,
    )  # fmt: skip
    return found.length_mm[0], float(found.end_mm[0, 0]) if found.triangle[0] >= 0 else -1.0


def test_slanted_path_is_longer_by_its_cosine() -> None:
    """A path through a slab is its thickness over the cosine of the slant."""
    length, end = through([slab(0.0, 2.0)], (np.cos(0.7), np.sin(0.7), 0.0))
    assert length[0] == pytest.approx(2.0 / np.cos(0.7), rel=1e-6)
    assert end == pytest.approx(2.0, abs=1e-6)


def test_parts_that_touch_are_one_wall() -> None:
    """Flush slabs are gone through in turn, and the length in each is told."""
    length, end = through([slab(0.0, 2.0), slab(2.0, 3.0)], (1.0, 0.0, 0.0))
    assert length == pytest.approx([2.0, 3.0], abs=1e-3)
    assert end == pytest.approx(5.0, abs=1e-4)


def test_parts_that_overlap_count_once() -> None:
    """Where two parts overlap a little the way through both is as long as the two together."""
    length, end = through([slab(0.0, 2.0), slab(1.9, 3.0)], (1.0, 0.1, 0.0))
    assert length.sum() == pytest.approx(4.9 * np.hypot(1.0, 0.1), rel=1e-4)
    assert end == pytest.approx(4.9, abs=1e-4)


@pytest.mark.parametrize(("gap", "ends"), [(0.03, 5.03), (0.3, 2.0)])
def test_air_ends_the_path_unless_it_is_contact(gap: float, ends: float) -> None:
    """Air narrower than the play of a joint is contact; wider air ends the path."""
    length, end = through([slab(0.0, 2.0), slab(2.0 + gap, 3.0)], (1.0, 0.0, 0.0))
    assert end == pytest.approx(ends, abs=1e-4)
    assert length[0] == pytest.approx(2.0, abs=1e-3)
    assert length[1] == pytest.approx(3.0 if gap < TOUCH else 0.0, abs=1e-3)


def test_too_much_plastic_reaches_no_air() -> None:
    """A path longer than the reach ends in plastic: no face, endless length."""
    scene = RayScene([slab(0.0, 5.0), slab(5.0, 5.0)])
    start, way = np.zeros((1, 3)), np.array([[1.0, 0.0, 0.0]])
    found = wall_paths(scene, start, way, np.zeros(1, dtype=np.int32), reach_mm=4.0, touch_mm=TOUCH)
    assert found.triangle[0] == -1
    assert np.isinf(found.length_mm[0, 0])


@settings(max_examples=12, deadline=None)
@given(st.integers(0, 1000), st.sampled_from([1e-3, 1.0, 1e3]))
def test_shell_in_two_halves_is_as_thick_as_whole(seed: int, scale: float) -> None:
    """Radial paths through a shell and a sleeve around it are as long as both walls, at any size and place."""
    rng = np.random.default_rng(seed)
    at = rng.uniform(-50.0, 50.0, 3)
    inner, outer = (spherical_shell(b, a) for a, b in ((8.0, 10.0), (10.0, 11.0)))
    solids = [Solid.of((v + at) * scale, t) for v, t in (inner, outer)]
    scene = RayScene(solids)
    faces = np.flatnonzero(scene.solid_of_triangle == 1)
    middle = scene.vertices[scene.triangles[faces]].mean(axis=1)
    outside = np.einsum("ij,ij->i", middle / scale - at, scene.normals[faces]) > 0.0
    point, normal = middle[outside][::97], scene.normals[faces][outside][::97]
    found = wall_paths(
        scene, point, -normal, np.ones(len(point), dtype=np.int32), reach_mm=100.0 * scale, touch_mm=0.2 * scale
    )
    assert (found.triangle >= 0).all()
    assert found.length_mm.sum(axis=1) == pytest.approx(3.0 * scale, rel=0.03)


def test_fan_is_dense_as_the_cosine() -> None:
    """The mean of the cosine over a fan is 2/3, as over light of a matt face, and none points back."""
    normal = np.array([[0.0, 0.0, 1.0], [0.6, 0.0, 0.8]])
    way = fan_directions(normal, 512)
    cosine = np.einsum("nkj,nj->nk", way, normal)
    assert np.linalg.norm(way, axis=2) == pytest.approx(1.0)
    assert cosine.min() > 0.0
    assert cosine.mean(axis=1) == pytest.approx(2.0 / 3.0, abs=1e-3)


@pytest.mark.parametrize("height", [2.0, 5.0, 10.0])
def test_share_that_meets_a_disc_is_its_configuration_factor(height: float) -> None:
    """From a point below the middle of a disc of radius r at height h, r^2 / (r^2 + h^2) of the rays meet it.

    Outside check: R. Siegel, J. R. Howell, Thermal Radiation Heat Transfer, configuration factor of a plane element
    parallel to a disc (from memory).
    """
    side = 512
    turn = 2.0 * np.pi * np.arange(side) / side
    ring = np.stack([4.0 * np.cos(turn), 4.0 * np.sin(turn)], axis=1)
    low = np.column_stack([ring, np.full(side, height)])
    high = np.column_stack([ring, np.full(side, height + 1.0)])
    each, ahead = np.arange(side), (np.arange(side) + 1) % side
    vertices = np.concatenate([low, high, [[0.0, 0.0, height], [0.0, 0.0, height + 1.0]]])
    triangles = np.concatenate(
        [
            np.stack([ahead, each, np.full(side, 2 * side)], axis=1),
            np.stack([each + side, ahead + side, np.full(side, 2 * side + 1)], axis=1),
            np.stack([each, ahead, ahead + side], axis=1),
            np.stack([each, ahead + side, each + side], axis=1),
        ]
    )
    scene = RayScene([Solid.of(vertices, triangles)])
    found = air_paths(scene, np.zeros((1, 3)), np.array([[0.0, 0.0, 1.0]]), 20_000)
    assert (found.triangle >= 0).mean() == pytest.approx(16.0 / (16.0 + height**2), abs=2e-3)


def test_sight_is_blocked_by_what_stands_between() -> None:
    """A lamp is seen from skin that faces it with nothing between."""
    scene = RayScene([slab(0.0, 1.0), slab(5.0, 1.0, 4.0)])
    points = np.array([[1.0, 0.0, 0.0], [1.0, 9.0, 0.0], [0.0, 0.0, 0.0]])
    normals = np.array([[1.0, 0.0, 0.0], [1.0, 0.0, 0.0], [-1.0, 0.0, 0.0]])
    assert sees(scene, points, normals, np.array([9.0, 0.0, 0.0])).tolist() == [False, True, False]
