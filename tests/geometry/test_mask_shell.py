"""`mask_shell`: gap, edge, interference and pieces on planes, cylinders, balls, steps and free shells."""

from __future__ import annotations

from functools import cache

import manifold3d
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fixtures.drawn import blob
from prep.errors import NothingToMask
from prep.geometry.mask_field import MaskField, MaskForm, sides_between
from prep.geometry.mask_shell import mask_shell, pieces_of, turned_away
from prep.geometry.solid import Solid, unite
from tests.geometry.masked import (
    FORM,
    edge_misses,
    is_one_clean_solid,
    kernel_solid,
    land_gaps,
    of_triangles,
    shared_mm3,
    window,
)

CUBE, CYLINDER, SPHERE = manifold3d.Manifold.cube, manifold3d.Manifold.cylinder, manifold3d.Manifold.sphere


@cache
def case(name):
    """Part, window and seated mask."""
    if name == "plane":
        solid = kernel_solid(CUBE([24, 20, 6]))
        patch = window(solid, (0, 8.0, 1.0), (0, 16.0, -1.0), (1, 6.0, 1.0), (1, 14.0, -1.0), (2, 3.0, 1.0))
    elif name == "cylinder":
        solid = kernel_solid(CYLINDER(16, 7, 7, 128))
        patch = window(solid, (2, 6.0, 1.0), (2, 10.0, -1.0))
    elif name == "ball":
        solid = kernel_solid(SPHERE(9, 96))
        patch = window(solid, (2, -2.0, 1.0), (2, 3.0, -1.0))
    elif name == "step":
        solid = kernel_solid(CUBE([24, 16, 5]) + CUBE([12, 16, 8]))
        patch = window(solid, (0, 6.0, 1.0), (0, 18.0, -1.0), (1, 5.0, 1.0), (1, 11.0, -1.0), (2, 3.0, 1.0))
    elif name == "corner":
        solid = kernel_solid(CUBE([12, 12, 12]))
        patch = of_triangles(solid, solid.triangle_normals[:, 2] > 0.9)
    else:
        solid = Solid.of(*blob(3, 8.0, 0.25, 4))
        patch = window(solid, (0, 2.0, 1.0))
    return solid, patch, mask_shell(solid, patch, FORM)


NAMES = ["plane", "cylinder", "ball", "step", "free"]


@pytest.mark.parametrize("name", NAMES)
def test_gap_at_the_land(name):
    """Everywhere on the land the gap is as asked within 0.03 mm."""
    solid, patch, shell = case(name)
    gaps = land_gaps(shell.pieces, solid, patch)
    assert len(gaps) > 20
    assert np.abs(gaps - FORM.gap_mm).max() <= 0.03


@pytest.mark.parametrize("name", [*NAMES, "corner"])
def test_edge_of_the_window(name):
    """The mask comes within 0.15 mm of the region's edge all round."""
    _, patch, shell = case(name)
    assert edge_misses(shell.pieces, patch).max() <= 0.15


@pytest.mark.parametrize("name", [*NAMES, "corner"])
def test_window_is_open(name):
    """Nothing of the mask at the land stands more than 0.15 mm inside the window."""
    solid, patch, shell = case(name)
    for piece in shell.pieces:
        edge = patch.edge_distance(piece.vertices)
        height = np.abs(MaskField(patch, np.zeros(len(patch.inside), dtype=bool), FORM, 0.4).along(piece.vertices)[0])
        over = (edge < 0.0) & (height < FORM.gap_mm + 0.02)
        assert np.sqrt(np.maximum(edge[over] ** 2 - height[over] ** 2, 0.0)).max(initial=0.0) <= 0.15
    assert solid is case(name)[0]


@pytest.mark.parametrize("name", [*NAMES, "corner"])
def test_nothing_shared_and_clean(name):
    """Seated, mask and part share no volume, and every piece is one clean solid."""
    solid, _, shell = case(name)
    assert shared_mm3(shell.pieces, solid) <= 1e-3
    assert all(is_one_clean_solid(piece) for piece in shell.pieces)


def test_pieces():
    """A window in a face leaves one ring; a band leaves a mask on either side of it."""
    assert [piece.topology.genus for piece in case("plane")[2].pieces] == [1]
    assert len(case("cylinder")[2].pieces) == 2
    assert case("cylinder")[2].crumbs == 0


def test_profile_of_a_cylinder():
    """Beside a cylinder the mask's volume is that of its profile turned about the axis (Pappus)."""
    solid, _, shell = case("cylinder")
    s, h = 1e-3 * (np.arange(4000) + 0.5), 1e-3 * (np.arange(4000) + 0.5)
    along, height = np.meshgrid(s, h, indexing="ij")
    inside = (
        (height > np.maximum(FORM.underside(along), FORM.gap_mm))
        & (height < FORM.outside(along))
        & (along > np.tan(np.radians(FORM.flare_deg)) * (height - FORM.gap_mm))
    )
    expected = 2.0 * np.pi * ((7.0 + height) * inside).sum() * 1e-6
    # the end of reach is rounded: a square of side 0.45 walls less its quarter circle, at both corners
    for piece in shell.pieces:
        lost = 2.0 * (1.0 - np.pi / 4.0) * (0.45 * FORM.wall_mm) ** 2 * 2.0 * np.pi * 8.5
        assert piece.volume_mm3 == pytest.approx(expected - lost, rel=0.03)
    assert solid.volume_mm3 > 0.0


def test_relief_does_not_touch():
    """Behind the land nothing of the mask is nearer the part than nine tenths of the relief."""
    _, patch, shell = case("cylinder")
    for piece in shell.pieces:
        radius = np.hypot(*piece.vertices[:, :2].T)
        behind = np.abs(piece.vertices[:, 2] - 8.0) > 2.0 + FORM.land_mm + FORM.relief_mm
        assert radius[behind].min() >= 7.0 + 0.9 * FORM.relief_mm
    assert patch.area_mm2 > 0.0


def test_two_grids_join():
    """With a reach beyond the lip, a coarser grid takes over and the mask is still one piece that shares nothing."""
    solid = kernel_solid(SPHERE(12, 96))
    patch = window(solid, (2, 4.0, 1.0))
    shell = mask_shell(solid, patch, MaskForm(1.2, 0.1, 0.8, 0.8, 1.8, 14.0))
    assert len(shell.pieces) == 1
    assert is_one_clean_solid(shell.pieces[0])
    assert shared_mm3(shell.pieces, solid) <= 1e-3
    below = shell.pieces[0].vertices[shell.pieces[0].vertices[:, 2] < -4.0]
    radius = np.linalg.norm(below, axis=1)
    assert radius.min() == pytest.approx(12.8, abs=0.12)
    assert radius.max() == pytest.approx(14.6, abs=0.12)


def test_face_away_from_the_spray():
    """A face that looks straight away from the window's face is not covered; its sides are."""
    solid, patch, shell = case("corner")
    turned = turned_away(patch)
    area = patch.triangle_areas[turned].sum()
    assert area == pytest.approx(144.0)
    assert len(shell.pieces) == 1
    assert solid.bounds_mm[0, 2] - 0.01 <= shell.pieces[0].vertices[:, 2].min()


def test_piece_behind_a_thin_wall_is_left_out():
    """The far side of a thin wall lies within reach in space, but touches no edge of the window: it is left out."""
    solid = kernel_solid(CYLINDER(20, 10, 10, 64) - CYLINDER(30, 8, 8, 64).translate([0, 0, -5]))
    cut = window(solid, (2, 8.0, 1.0), (2, 12.0, -1.0))
    outer = np.hypot(*cut.vertices[cut.triangles].mean(axis=1)[:, :2].T) > 9.0
    patch = type(cut)(cut.vertices, cut.triangles, cut.inside & outer, cut.source)
    shell = mask_shell(solid, patch, FORM)
    assert len(shell.pieces) == 2
    assert shell.crumbs >= 1
    assert shell.crumbs_mm3 > 0.0
    assert all(np.hypot(*piece.vertices[:, :2].T).min() > 9.0 for piece in shell.pieces)


def test_nothing_faces_the_spray():
    """Where all clean skin looks away from the window there is nothing to mask."""
    solid = kernel_solid(CYLINDER(1.0, 10.0, 0.05, 32))
    base = solid.corners[:, :, 2].max(axis=1) < 1e-9
    with pytest.raises(NothingToMask):
        mask_shell(solid, of_triangles(solid, ~base), FORM)


def test_nothing_within_reach():
    """A reach smaller than a cell covers nothing, which is a fault."""
    solid, patch, _ = case("corner")
    with pytest.raises(NothingToMask):
        mask_shell(solid, patch, MaskForm(0.02, 0.0, 0.04, 0.8, 1.6, 0.05))


def test_pieces_of():
    """Two boxes apart are two pieces, the larger first; a void sealed in one is filled."""
    large = CUBE([10, 10, 10]) - CUBE([2, 2, 2]).translate([4, 4, 4])
    both = unite([kernel_solid(large), kernel_solid(CUBE([3, 3, 3]).translate([20, 0, 0]))])
    assert [piece.volume_mm3 for piece in pieces_of(both)] == pytest.approx([1000.0, 27.0])


def test_sides_between():
    """The sides shared by two lots of triangles, as the first runs them."""
    triangles = np.array([[0, 1, 2], [0, 2, 3], [0, 3, 4]], dtype=np.int32)
    one, other = np.array([True, False, False]), np.array([False, True, True])
    assert sides_between(triangles, one, other).tolist() == [[2, 0]]


@settings(max_examples=2, deadline=None)
@given(
    radius=st.floats(6.0, 12.0),
    low=st.floats(3.0, 5.0),
    width=st.floats(3.0, 6.0),
    gap=st.floats(0.0, 0.1),
)
def test_drawn_bands(radius, low, width, gap):
    """Bands on drawn cylinders: gap, edge and interference hold."""
    solid = kernel_solid(CYLINDER(15, radius, radius, 96))
    patch = window(solid, (2, low, 1.0), (2, low + width, -1.0))
    form = MaskForm(1.2, gap, 0.8, 0.8, 1.6, 3.0)
    shell = mask_shell(solid, patch, form)
    assert np.abs(land_gaps(shell.pieces, solid, patch, form) - gap).max() <= 0.03
    assert edge_misses(shell.pieces, patch, form).max() <= 0.15
    assert shared_mm3(shell.pieces, solid) <= 1e-3


def test_same_bytes():
    """The same mask twice is the same triangles."""
    solid, patch, shell = case("ball")
    again = mask_shell(solid, patch, FORM)
    assert [piece.sha256 for piece in again.pieces] == [piece.sha256 for piece in shell.pieces]
