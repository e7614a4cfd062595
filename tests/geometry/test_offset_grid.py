"""`offset_solid` and `iso_solid`: volumes in closed form, halving error, holes and faults."""

from __future__ import annotations

import math

import manifold3d
import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from fixtures.drawn import box, ico_sphere
from prep.errors import EmptySolid
from prep.geometry.offset_grid import SignedDistance, iso_solid, offset_solid
from prep.geometry.solid import Solid


def kernel_solid(body):
    """A kernel's body through the project's door."""
    mesh = body.to_mesh64()
    return Solid.of(np.array(mesh.vert_properties)[:, :3], np.array(mesh.tri_verts))


def volume(solid):
    """Volume by another library."""
    return trimesh.Trimesh(solid.vertices, solid.triangles, process=False).volume


CUBE = kernel_solid(manifold3d.Manifold.cube([20, 20, 20]))
BRICK = kernel_solid(manifold3d.Manifold.cube([30, 20, 10]))
CYLINDER = kernel_solid(manifold3d.Manifold.cylinder(20, 10, 10, 512))
BALL = kernel_solid(manifold3d.Manifold.sphere(10, 256))
TETRA = kernel_solid(manifold3d.Manifold.tetrahedron().scale([20 / math.sqrt(8)] * 3))


# Steiner's formula for convex bodies, V + A r + M r^2 + 4/3 pi r^3 (stored encyclopaedia copies of it; the values of M
# worked out by hand); inner offsets of bodies with sharp faces by hand
@pytest.mark.parametrize(
    ("solid", "by", "expected"),
    [
        (CUBE, 1.0, 10592.684349420),
        (BRICK, 2.0, 11187.492558500),
        (CYLINDER, 1.0, 8333.857586621),
        (BALL, 1.0, 5575.279762571),
        (TETRA, 1.0, 1754.456148989),
        (BRICK, -1.0, 4032.0),
        (BALL, -1.0, 3053.628059289),
        (CYLINDER, -1.0, 4580.442088934),
    ],
)
def test_volume_error_halves(solid, by, expected):
    """The offset's volume is that of the closed form, and the error at half the cell is half or less."""
    coarse, fine = (abs(volume(offset_solid(solid, by, cell)) - expected) for cell in (1.0, 0.5))
    assert fine <= 0.5 * coarse + 1e-3 * expected
    assert fine <= 0.004 * expected


def test_mesh_is_closed_and_whole():
    """The offset of a solid is one closed surface without handles, also where it spans many tiles."""
    grown = offset_solid(BRICK, 1.0, 0.3)
    mesh = trimesh.Trimesh(grown.vertices, grown.triangles, process=False)
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.body_count == 1
    assert mesh.euler_number == 2


def test_through_hole_stays():
    """A hole wider than twice the offset is still a hole, a narrower one closes."""
    plate = manifold3d.Manifold.cube([20, 20, 4], True)
    hole = manifold3d.Manifold.cylinder(10, 2, 2, 64, True)
    drilled = kernel_solid(plate - hole)
    assert offset_solid(drilled, 1.0, 0.4).topology.genus == 1
    assert offset_solid(drilled, 2.5, 0.4).topology.genus == 0


def test_too_small_to_shrink():
    """A solid thinner than twice the inner offset is a fault."""
    with pytest.raises(EmptySolid):
        offset_solid(kernel_solid(manifold3d.Manifold.cube([20, 20, 1])), -0.6, 0.2)


@pytest.mark.parametrize("scale", [1e-3, 1.0, 1e3])
def test_scale(scale):
    """Micrometres and metres give the same shape."""
    ball = Solid.of(*ico_sphere(10.0 * scale, 4))
    grown = offset_solid(ball, scale, 0.5 * scale)
    base = offset_solid(Solid.of(*ico_sphere(10.0, 4)), 1.0, 0.5)
    assert volume(grown) / scale**3 == pytest.approx(volume(base), rel=1e-3)


@settings(max_examples=5, deadline=None)
@given(
    size=st.tuples(*[st.floats(5.0, 12.0)] * 3),
    by=st.floats(-1.2, 1.5),
)
def test_boxes(size, by):
    """Boxes of any size follow Steiner outward and stay boxes inward."""
    a, b, c = size
    solid = Solid.of(*box(size))
    expected = (
        a * b * c + 2 * (a * b + b * c + c * a) * by + math.pi * (a + b + c) * by**2 + 4 / 3 * math.pi * by**3
        if by >= 0
        else (a + 2 * by) * (b + 2 * by) * (c + 2 * by)
    )
    edges = 4.0 * sum(side + 2.0 * by for side in size)
    # a sharp edge loses at most half a cell's square of its section
    assert volume(offset_solid(solid, by, 0.4)) == pytest.approx(expected, rel=2e-3, abs=0.5 * 0.4**2 * edges)


def test_sample_on_the_level():
    """A field that is zero at nodes of the grid still gives a closed surface."""

    def field(points):
        return 3.0 - np.abs(points).max(axis=1)

    def near(points, reach):
        return np.abs(field(points)) <= 2.0 * reach

    made = iso_solid(field, near, np.full(3, -3.0), np.full(3, 3.0), 1.0)
    assert trimesh.Trimesh(made.vertices, made.triangles, process=False).is_watertight
    assert made.volume_mm3 == pytest.approx(216.0, rel=0.03)


def test_jump_is_found():
    """Where a field jumps, vertices are moved to the jump."""

    def field(points):
        inside = 3.0 - np.linalg.norm(points, axis=1)
        return np.where(points[:, 0] > 0.37, -5.0, inside)

    def near(points, reach):
        return (np.linalg.norm(points, axis=1) < 3.0 + reach) & (points[:, 0] < 0.37 + reach)

    settled = iso_solid(field, near, np.full(3, -3.0), np.full(3, 3.0), 0.5, settle_mm=0.01)
    straight = iso_solid(field, near, np.full(3, -3.0), np.full(3, 3.0), 0.5)
    flat = [
        np.abs(made.vertices[np.linalg.norm(made.vertices, axis=1) < 2.0][:, 0] - 0.37).max()
        for made in (settled, straight)
    ]
    assert flat[0] < 0.05 < flat[1]


def test_signed_distance():
    """Distance to a box: negative inside, to faces, edges and corners outside."""
    distance = SignedDistance(CUBE.vertices, CUBE.triangles)
    points = np.array([[10.0, 10, 10], [10, 10, 23], [10, 24, 23], [-2, -3, -6.0]])
    assert distance.at(points)[0] == pytest.approx([-10.0, 3.0, 5.0, 7.0])


def test_same_bytes():
    """The same offset twice is the same triangles."""
    assert offset_solid(BALL, 1.0, 0.8).sha256 == offset_solid(BALL, 1.0, 0.8).sha256
