"""Smooth normals, and patches that end at creases."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fixtures.drawn import blob, box, ico_sphere, prism_ngon, rounded_plate, slivered, turned
from prep.geometry.cut_skin import Skin, cut_half_spaces
from prep.geometry.smooth_skin import corner_normals, corner_shares, smooth_patches
from prep.geometry.solid import Solid


def test_normals_of_a_ball() -> None:
    """At the corners of a ball's facets the normal is the radius, within an eighth of the facets' own tilt."""
    ball = Solid.of(*ico_sphere(10.0, 4))
    radius = ball.corners / np.linalg.norm(ball.corners, axis=2, keepdims=True)
    off = np.degrees(np.arccos(np.clip((corner_normals(ball) * radius).sum(axis=2), -1.0, 1.0)))
    tilt = np.degrees(np.arccos(np.clip(np.einsum("ij,ikj->ik", ball.triangle_normals, radius), -1.0, 1.0)))
    assert off.max() < 0.125 * tilt.max()


def test_creases_stay() -> None:
    """On a box every corner has the normal of its own face."""
    block = Solid.of(*box())
    assert np.allclose(corner_normals(block), block.triangle_normals[:, None], atol=1e-12)


def test_patches_of_a_post() -> None:
    """A round post has a barrel and two ends, until the crease is sharper than its facets."""
    post = Solid.of(*prism_ngon(48, 10.0, 20.0))
    label = smooth_patches(post, 30.0)
    assert len(np.unique(label)) == 3
    sizes = np.sort(np.bincount(label, weights=post.triangle_areas))
    end = 48 * 0.5 * 100.0 * np.sin(2.0 * np.pi / 48)
    assert sizes == pytest.approx([end, end, 48 * 2.0 * 10.0 * np.sin(np.pi / 48) * 20.0])
    assert len(np.unique(smooth_patches(post, 5.0))) == 50


def test_a_sliver_does_not_part_a_flat() -> None:
    """A face with a triangle of no height in it is one patch, whatever that triangle's normal."""
    block = Solid.of(*slivered(box((20.0, 20.0, 20.0)), (0.0, 0.0, 10.0)))
    label = smooth_patches(block, 30.0)
    assert len(np.unique(label)) == 6
    assert np.bincount(label, weights=block.triangle_areas) == pytest.approx([400.0] * 6, rel=1e-4)


@settings(max_examples=8, deadline=None)
@given(seed=st.integers(0, 100), angle=st.floats(0.0, 360.0), scale=st.sampled_from([1e-3, 1.0, 1e3]))
def test_turns_with_the_part(seed: int, angle: float, scale: float) -> None:
    """Normals turn with the part and do not know its scale."""
    drawn = blob(seed, 10.0, 0.25, 2)
    there = turned(drawn, (0.3, 1.0, 0.2), angle)
    plain, moved = Solid.of(*drawn), Solid.of(there[0] * scale, there[1])
    key = np.array([0.3, 0.5, 0.9])
    order = [np.argsort(solid.triangle_areas) for solid in (plain, moved)]
    assert np.allclose(plain.triangle_areas[order[0]] * scale**2, moved.triangle_areas[order[1]], rtol=1e-6)
    turn = np.linalg.lstsq(drawn[0], there[0], rcond=None)[0]
    one = np.sort(np.abs(corner_normals(plain) @ turn @ key).ravel())
    assert np.allclose(one, np.sort(np.abs(corner_normals(moved) @ key).ravel()), atol=1e-6)


def test_a_field_is_carried_linearly() -> None:
    """A field that is linear in space is the same on the pieces of a cut skin, to rounding."""
    solid = Solid.of(*rounded_plate())
    skin = cut_half_spaces(Skin.of(solid), [(0, 0.7, 1.0), (1, -0.3, 1.0)]).skin
    gradient = np.array([0.3, -1.2, 0.7])
    carried = corner_shares(solid, skin, solid.corners @ gradient)
    assert np.allclose(carried, skin.vertices[skin.triangles] @ gradient, atol=1e-9)
