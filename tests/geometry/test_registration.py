"""What contacts leave free."""

from __future__ import annotations

import manifold3d
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from prep.geometry.cut_skin import Skin, cut_half_spaces
from prep.geometry.distance import Nearest
from prep.geometry.patch import Patch
from prep.geometry.registration import edge_ways, seat_of, smooth_normals_at, told
from prep.geometry.solid import Solid

SCALES = [1e-3, 1.0, 1e3]


def on_ball(count: int = 200) -> np.ndarray:
    """Unit normals over one side of a ball."""
    normals = np.random.default_rng(3).normal(size=(count, 3))
    normals[:, 2] = np.abs(normals[:, 2])
    return normals / np.linalg.norm(normals, axis=1, keepdims=True)


def on_cylinder(count: int = 200) -> tuple[np.ndarray, np.ndarray]:
    """Points and normals of an upright cylinder of radius 5, 12 high."""
    rng = np.random.default_rng(4)
    angle, height = rng.uniform(-1.5, 1.5, count), rng.uniform(-6.0, 6.0, count)
    normals = np.stack([np.cos(angle), np.sin(angle), np.zeros(count)], axis=1)
    return 5.0 * normals + height[:, None] * np.eye(3)[2], normals


@pytest.mark.parametrize("scale", SCALES)
def test_lower_pairs(scale) -> None:
    """A ball leaves three motions, a cylinder two, a plane three, a box's corner none, at any scale."""
    # outside: spherical, cylindrical and planar pairs have 3, 2, 3 freedoms (F. Reuleaux, Theoretische Kinematik, 1875)
    ball = on_ball()
    assert len(seat_of(scale * 7.0 * ball, ball).motions) == 3
    points, normals = on_cylinder()
    assert len(seat_of(scale * points, normals).motions) == 2
    flat = np.random.default_rng(5).uniform(-4.0, 4.0, (100, 3)) * [1.0, 1.0, 0.0]
    assert len(seat_of(scale * flat, np.tile([0.0, 0.0, 1.0], (100, 1))).motions) == 3
    sides = [np.roll(flat, turn, axis=1) for turn in (0, 1, 2)]
    faces = [np.tile(np.roll([0.0, 0.0, 1.0], turn), (100, 1)) for turn in (0, 1, 2)]
    assert len(seat_of(scale * np.concatenate(sides), np.concatenate(faces)).motions) == 0


def test_nothing_touching_leaves_all_six() -> None:
    """Without a contact every motion is free."""
    assert len(seat_of(np.empty((0, 3)), np.empty((0, 3))).motions) == 6


def test_round_edge_does_not_move_when_it_turns_about_its_axis() -> None:
    """On a ball, an edge round the z axis is moved by tilts alone; a square edge by all three turns."""
    ball = on_ball(400)
    seat = seat_of(10.0 * ball, ball)
    angle = np.linspace(0.0, 2.0 * np.pi, 90, endpoint=False)
    ring = np.stack([8.0 * np.cos(angle), 8.0 * np.sin(angle), np.full(90, 6.0)], axis=1)
    tangent = np.stack([-np.sin(angle), np.cos(angle), np.zeros(90)], axis=1)
    across = np.cross(ring / 10.0, tangent)
    assert len(seat.that_move(ring, across)[0]) == 2
    square = np.concatenate([[[5.0, t, 7.0], [-5.0, t, 7.0], [t, 5.0, 7.0], [t, -5.0, 7.0]] for t in (-3.0, 0.0, 3.0)])
    ways = np.tile([[1.0, 0, 0], [-1.0, 0, 0], [0, 1.0, 0], [0, -1.0, 0]], (3, 1))
    assert len(seat.that_move(square, ways)[0]) == 3


def test_a_turn_is_told_by_its_axis() -> None:
    """A cylinder's turn is told about its own axis, its slide along it."""
    points, normals = on_cylinder()
    seat = seat_of(points + np.array([30.0, 20.0, 0.0]), normals)
    slide = np.array([0.0, 0.0, 1.0, 0.0, 0.0, 0.0])
    assert told(seat, slide) == "slides along (0.00, 0.00, 1.00)"
    arm = np.array([30.0, 20.0, 0.0]) - seat.middle_mm
    turn = np.concatenate([-np.cross([0.0, 0.0, 1.0], arm), [0.0, 0.0, seat.arm_mm]])
    assert "through (30, 20," in told(seat, turn)
    found = seat.motions @ turn / np.linalg.norm(turn)
    assert np.linalg.norm(found) == pytest.approx(1.0, abs=1e-6)


def ball_errors(sides: int) -> tuple[float, float]:
    """Greatest error of smooth and of facet normals on a ball of so many sides."""
    mesh = manifold3d.Manifold.sphere(10.0, sides).to_mesh64()
    ball = Solid.of(np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts))
    found = Nearest.of(ball).query(12.0 * on_ball(300))
    smooth = smooth_normals_at(ball, found.triangle, found.point)
    true = found.point / np.linalg.norm(found.point, axis=1, keepdims=True)
    facets = ball.triangle_normals[found.triangle]
    return tuple(float(np.linalg.norm(normals - true, axis=1).max()) for normals in (smooth, facets))


def test_smooth_normals_are_those_of_the_ball() -> None:
    """On a faceted ball their error is far under that of the facets, and falls with the square of the facets' size."""
    coarse, facets = ball_errors(64)
    fine, _ = ball_errors(128)
    assert coarse < facets / 4.0
    assert fine < coarse / 3.0


def test_ways_square_to_an_edge_lie_in_the_skin() -> None:
    """Round the edge of a square on a block's top, the ways lie in the top and point out of or into the square."""
    mesh = manifold3d.Manifold.cube((20.0, 20.0, 5.0), center=True).to_mesh64()
    part = Solid.of(np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts))
    limits = [(axis, sense * 4.0, -sense) for axis in (0, 1) for sense in (1.0, -1.0)]
    cut = cut_half_spaces(Skin.of(part), [*limits, (2, 0.0, 1.0)])
    middle, across = edge_ways(Patch.of(cut.skin, cut.inside))
    assert np.abs(across[:, 2]).max() < 1e-9
    assert np.abs((across * middle).sum(axis=1)) == pytest.approx(np.full(len(middle), 4.0))


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10_000))
def test_free_motions_keep_contacts(seed) -> None:
    """Whatever is called free parts drawn contacts by no more than the tolerance, and nothing else is called free."""
    rng = np.random.default_rng(seed)
    points, normals = rng.uniform(-9.0, 9.0, (12, 3)), rng.normal(size=(12, 3))
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    few = int(rng.integers(1, 12))
    seat = seat_of(points[:few], normals[:few])
    assert len(seat.motions) >= 6 - few
    for motion in seat.motions:
        turn = motion[3:] / seat.arm_mm
        speed = ((motion[:3] + np.cross(turn, points[:few] - seat.middle_mm)) * normals[:few]).sum(axis=1)
        assert np.sqrt((speed**2).mean()) <= 0.05 + 1e-9
