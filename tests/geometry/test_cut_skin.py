"""`cut_along` and `cut_half_spaces`: a skin split along a line stays the same closed surface."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from fixtures.drawn import blob, box, ico_sphere, irregular
from prep.geometry.cut_skin import Skin, cut_along, cut_half_spaces, opposite
from prep.geometry.solid import Solid

BALL = Solid.of(*ico_sphere(10.0, 4))


def as_mesh(skin: Skin) -> trimesh.Trimesh:
    """The skin in trimesh, nothing merged."""
    return trimesh.Trimesh(skin.vertices, skin.triangles, process=False)


def test_zone_of_a_faceted_ball() -> None:
    """Between two levels lies the zone of the ball, 2 pi R h, less the few ten-thousandths that facets take."""
    fine = Solid.of(*ico_sphere(10.0, 5))
    cut = cut_half_spaces(Skin.of(fine), [(2, -2.0, 1.0), (2, 5.0, -1.0)])
    area = as_mesh(cut.skin).area_faces[cut.inside].sum()
    assert area == pytest.approx(2.0 * np.pi * 10.0 * 7.0, rel=4e-4)


def test_against_a_second_library() -> None:
    """The area on one side of a plane is that of trimesh's own slice, to rounding."""
    solid = Solid.of(*blob(3))
    cut = cut_half_spaces(Skin.of(solid), [(0, 1.25, 1.0)])
    half = trimesh.Trimesh(
        *trimesh.intersections.slice_faces_plane(solid.vertices, solid.triangles, [1.0, 0, 0], [1.25, 0, 0])[:2]
    )
    assert as_mesh(cut.skin).area_faces[cut.inside].sum() == pytest.approx(half.area, rel=1e-9)


@settings(max_examples=15, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    scale=st.sampled_from([1e-3, 1.0, 1e3]),
    axis=st.integers(0, 2),
    at=st.floats(-0.9, 0.9),
)
def test_stays_closed_and_the_same(seed: int, scale: float, axis: int, at: float) -> None:
    """However a lumpy shape is cut: closed, wound as before, area and volume kept, each piece on its own side."""
    vertices, triangles = irregular(blob(seed, 10.0, 0.25, 2), 2, seed)
    solid = Solid.of(vertices * scale, triangles)
    level = at * float(np.abs(solid.vertices[:, axis]).max())
    cut = cut_half_spaces(Skin.of(solid), [(axis, level, 1.0)])
    mesh = as_mesh(cut.skin)
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.area == pytest.approx(solid.area_mm2, rel=1e-9)
    assert mesh.volume == pytest.approx(solid.volume_mm3, rel=1e-9)
    height = cut.skin.vertices[cut.skin.triangles][:, :, axis] - level
    slack = 1.1e-7 * solid.diagonal_mm
    assert (height[cut.inside] >= -slack).all()
    assert (height[~cut.inside].min(axis=1) < 0.0).all()
    assert (height[~cut.inside] <= slack).all()


def test_pieces_lie_in_their_source() -> None:
    """Every piece lies in the plane of the triangle it came from and is wound as it was."""
    cut = cut_half_spaces(Skin.of(BALL), [(0, 1.0, 1.0), (1, 2.0, -1.0)])
    corners = cut.skin.vertices[cut.skin.triangles]
    normal = BALL.triangle_normals[cut.skin.source]
    off = np.einsum("ikj,ij->ik", corners - BALL.corners[cut.skin.source][:, :1], normal)
    assert np.abs(off).max() < 1e-12
    assert (np.einsum("ij,ij->i", as_mesh(cut.skin).face_normals, normal) > 0.99).all()
    sums = np.bincount(cut.skin.source, weights=as_mesh(cut.skin).area_faces, minlength=len(BALL.triangles))
    assert np.allclose(sums, BALL.triangle_areas, rtol=1e-9)


def test_a_field_that_jumps_at_edges() -> None:
    """Triangles that disagree at every edge are cut along their own lines, and the skin still closes."""
    random = np.random.default_rng(3)
    values = random.uniform(-1.0, 1.0, (len(BALL.triangles), 3))
    cut = cut_along(Skin.of(BALL), values)
    mesh = as_mesh(cut.skin)
    assert mesh.is_watertight
    assert mesh.area == pytest.approx(BALL.area_mm2, rel=1e-9)
    inside = np.bincount(cut.parent[cut.inside], weights=mesh.area_faces[cut.inside], minlength=len(BALL.triangles))
    positive, negative = (values > 0.0).sum(axis=1), (values < 0.0).sum(axis=1)
    v = np.sort(values, axis=1)
    lone_high = np.where(positive == 1, v[:, 2] ** 2 / ((v[:, 2] - v[:, 0]) * (v[:, 2] - v[:, 1])), 0.0)
    lone_low = np.where(negative == 1, 1.0 - v[:, 0] ** 2 / ((v[:, 1] - v[:, 0]) * (v[:, 2] - v[:, 0])), 0.0)
    share = np.where(positive == 3, 1.0, lone_high + lone_low)
    assert np.allclose(inside, share * BALL.triangle_areas, rtol=1e-6, atol=1e-9)


def test_a_face_in_the_plane_is_inside() -> None:
    """Skin that lies in a limit counts as within; a plane beside the part cuts nothing."""
    solid = Solid.of(*box((10.0, 10.0, 10.0)))
    flush = cut_half_spaces(Skin.of(solid), [(2, 5.0, 1.0)])
    assert as_mesh(flush.skin).area_faces[flush.inside].sum() == pytest.approx(100.0)
    assert len(flush.skin.triangles) == len(solid.triangles)
    assert not cut_half_spaces(Skin.of(solid), [(2, 5.1, 1.0)]).inside.any()


def test_no_sliver_beside_a_corner() -> None:
    """A plane within a ten-millionth of a row of corners runs through them."""
    solid = Solid.of(*box((10.0, 10.0, 10.0)))
    cut = cut_half_spaces(Skin.of(solid), [(2, 5.0 - 1e-7, 1.0)])
    assert len(cut.skin.triangles) == len(solid.triangles)


def test_opposite_goes_both_ways() -> None:
    """The triangle across an edge has this one across the same edge."""
    beside = opposite(BALL.triangles)
    for k in range(3):
        assert (beside[beside[:, k]] == np.arange(len(beside))[:, None]).any(axis=1).all()
