"""`Solid`: the door, what is measured on it, and the kernel's operations."""

from __future__ import annotations

import math

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from fixtures.drawn import (
    blob,
    box,
    cone,
    faceted_share,
    frustum,
    ico_sphere,
    inside_out,
    joined,
    moved,
    prism_ngon,
    scaled,
    spherical_shell,
    tetrahedron,
    torus,
    tube,
    turned,
    without_triangles,
)
from prep.errors import EmptySolid, KernelRefused, NotASolid
from prep.geometry.solid import (
    Solid,
    Topology,
    count_open_edges,
    intersect,
    shared_volume,
    slice_at,
    subtract,
    unite,
)

SHARE = faceted_share(64)
# closed forms, times the share of a 64-sided solid of revolution; r 10 h 20, R 20 r 5, and so on
CLOSED = [
    (box((30.0, 20.0, 10.0)), 6000.0, (0.0, 0.0, 0.0)),
    (prism_ngon(32), 6242.890304516, (0.0, 0.0, 10.0)),  # N/2 sin(2 pi / N) r^2 h
    (tube(), 2261.946710585 * SHARE, (0.0, 0.0, 10.0)),
    (cone(), 2094.395102393 * SHARE, (0.0, 0.0, 5.0)),  # h / 4 above its base
    (frustum(), 3665.191429188 * SHARE, (0.0, 0.0, 7.857142857)),
    (ico_sphere(10.0, 3), 4152.740817093, (0.0, 0.0, 0.0)),
    (tetrahedron(((0, 0, 0), (5, 0, 0), (0, 4, 0), (0, 0, 3))), 10.0, (1.25, 1.0, 0.75)),
]


def solid(drawn) -> Solid:
    """The solid of a drawing."""
    return Solid.of(*drawn)


@pytest.mark.parametrize(("drawn", "volume", "centre"), CLOSED)
@pytest.mark.parametrize("away", [(0.0, 0.0, 0.0), (1000.0, -2000.0, 500.0)])
def test_volume_and_centre_in_closed_form(drawn, volume, centre, away) -> None:
    """Volume and centroid are those of the faceted closed form, at the origin and metres away from it."""
    one = solid(moved(drawn, away))
    assert one.volume_mm3 == pytest.approx(volume, rel=2e-9)
    assert one.centre_mm - np.array(away) == pytest.approx(np.array(centre), abs=6e-6)


@settings(max_examples=8, deadline=None)
@given(seed=st.integers(0, 999), scale=st.sampled_from([1e-3, 1.0, 1e3]))
def test_measures_agree_with_another_library(seed, scale) -> None:
    """Volume, centroid, area and bounds of a random lump are trimesh's, at every scale."""
    vertices, triangles = scaled(blob(seed, subdivisions=3), scale)
    one, other = Solid.of(vertices, triangles), trimesh.Trimesh(vertices, triangles, process=False)
    assert one.volume_mm3 == pytest.approx(other.volume, rel=1e-9)
    assert one.area_mm2 == pytest.approx(other.area, rel=1e-9)
    assert one.centre_mm == pytest.approx(other.center_mass, abs=1e-8 * scale)
    assert one.bounds_mm == pytest.approx(other.bounds)
    assert one.diagonal_mm == pytest.approx(math.dist(*other.bounds))


def test_the_published_tetrahedron() -> None:
    """Tonon's tetrahedron has the volume and centroid he printed, within the digits of his corners."""
    # F. Tonon, J. Math. Stat. 1(1) (2004) 8-11
    one = solid(tetrahedron())
    assert one.volume_mm3 == pytest.approx(1873.233236, rel=1e-7)
    assert one.centre_mm == pytest.approx([15.92492, 0.78281, 3.72962], abs=4e-5)


def test_turning_and_moving_keep_volume_and_topology() -> None:
    """A rigid motion a metre away changes no volume, and carries the centroid along."""
    one = solid(torus())
    angle = math.radians(33.0)
    matrix = np.array(
        [[math.cos(angle), -math.sin(angle), 0, 1000.0], [math.sin(angle), math.cos(angle), 0, -3.0], [0, 0, 1, 70.0]]
    )
    other = one.moved(matrix)
    assert other.volume_mm3 == pytest.approx(one.volume_mm3, rel=1e-9)
    assert other.topology == one.topology
    assert other.centre_mm == pytest.approx([1000.0, -3.0, 70.0], abs=1e-6)


@pytest.mark.parametrize(
    ("drawn", "expected"),
    [
        (box(), Topology(1, 0, 0)),
        (torus(), Topology(1, 1, 0)),
        (tube(), Topology(1, 1, 0)),
        (spherical_shell(), Topology(2, 0, 1)),
        (joined(box(), moved(box(), (30.0, 0.0, 0.0))), Topology(2, 0, 0)),
        (joined(torus(), moved(torus(), (90.0, 0.0, 0.0)), moved(spherical_shell(), (0, 0, 50.0))), Topology(4, 2, 1)),
    ],
)
def test_topology(drawn, expected) -> None:
    """Shells, handles and sealed voids are counted, of several bodies together."""
    assert solid(drawn).topology == expected


def test_shell_volumes_are_signed_and_sum_up() -> None:
    """The void of a hollow ball counts negative, and bodies with their voids add up to the volume."""
    hollow = solid(spherical_shell(10.0, 8.0, 3))
    whole, void = np.sort(hollow.shell_volumes_mm3)[::-1]
    assert whole == pytest.approx(4152.740817093, rel=1e-9)
    assert void == pytest.approx(-4152.740817093 * 0.512, rel=1e-9)
    assert hollow.volume_mm3 == pytest.approx(whole + void, rel=1e-12)
    assert np.bincount(hollow.shell_of_triangle).tolist() == [1280, 1280]


def test_a_cutter_a_nanometre_short_shows_as_a_sealed_void() -> None:
    """A pocket that stops 1 nm under the face has the right volume and no fault of the kernel, but one void more."""
    host = solid(box((40.0, 30.0, 20.0)))
    short = subtract(host, [solid(box((10.0, 9.0, 5.0), (0.0, 0.0, 7.5 - 1e-6)))])
    assert short.volume_mm3 == pytest.approx(24000.0 - 450.0, rel=1e-9)
    assert short.topology == Topology(2, 0, 1)


def test_a_cutter_that_ends_in_the_far_face_shows_in_the_genus() -> None:
    """A cutter flush with the far face leaves a hole through, which the genus tells from a blind pocket."""
    host = solid(box((40.0, 30.0, 20.0)))
    through = subtract(host, [solid(box((10.0, 9.0, 25.0), (0.0, 0.0, 2.5)))])
    blind = subtract(host, [solid(box((10.0, 9.0, 25.0), (0.0, 0.0, 3.5)))])
    assert through.topology == Topology(1, 1, 0)
    assert blind.topology == Topology(1, 0, 0)


def test_operations_in_closed_form() -> None:
    """Union, intersection and difference of two overlapping boxes have the volumes of the sum rule."""
    a, b = solid(box()), solid(box(centre=(6.0, 3.0, 2.0)))
    both = 4.0 * 7.0 * 8.0
    assert intersect([a, b]).volume_mm3 == pytest.approx(both)
    assert shared_volume(a, b) == pytest.approx(both)
    assert unite([a, b]).volume_mm3 == pytest.approx(2000.0 - both)
    assert subtract(a, [b]).volume_mm3 == pytest.approx(1000.0 - both)
    assert subtract(a, []) is a
    assert unite([a]) is a
    assert intersect([a]) is a
    assert shared_volume(a, solid(box(centre=(10.0, 0.0, 0.0)))) == 0.0
    assert shared_volume(a, solid(box(centre=(50.0, 0.0, 0.0)))) == 0.0


def test_a_slice_is_the_section() -> None:
    """A plane through a tube gives its two circles, material to the left, in the axes asked for."""
    outlines = slice_at(solid(tube()), np.array([0.0, 0.0, 5.0]), np.array([0.0, 0, 1]), np.array([0.0, 1, 0]))
    areas = sorted(
        float((o[:, 0] * np.roll(o[:, 1], -1) - np.roll(o[:, 0], -1) * o[:, 1]).sum() / 2.0) for o in outlines
    )
    assert areas == pytest.approx([-64.0 * math.pi * SHARE, 100.0 * math.pi * SHARE])
    part = solid(box((2.0, 4.0, 6.0), (1.0, 2.0, 3.0)))
    outline = slice_at(part, np.array([0.0, 0.0, 3.0]), np.array([0.0, 0, 1]), np.array([0.0, 1, 0]))[0]
    assert np.sort(np.ptp(outline, axis=0)).tolist() == [2.0, 4.0]
    assert outline[:, 0].max() == pytest.approx(4.0)  # along +y
    assert outline[:, 1].min() == pytest.approx(-2.0)  # normal x along is -x


def test_arrays_are_frozen_and_the_input_is_copied() -> None:
    """Nothing can be written into a solid, and what it was made from stays the caller's own."""
    vertices, triangles = (np.array(part) for part in box())
    one = Solid.of(vertices, triangles)
    for array in (one.vertices, one.triangles):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 0
    before = one.sha256
    vertices[:] = 0.0
    assert one.sha256 == before
    assert one.volume_mm3 == pytest.approx(1000.0)
    with pytest.raises(AttributeError):
        one.vertices = vertices  # type: ignore[misc]


def test_the_same_triangles_hash_alike() -> None:
    """The hash is the same at every reading and another for another shape."""
    assert solid(torus()).sha256 == solid(torus()).sha256
    assert solid(torus()).sha256 != solid(turned(torus(), (0, 0, 1), 1.0)).sha256


def test_an_inside_out_box_is_told_by_its_volume() -> None:
    """Wound the wrong way, the volume is negative and the shell counts as a void: reading must turn it."""
    one = solid(inside_out(box()))
    assert one.volume_mm3 == pytest.approx(-1000.0)
    assert one.topology.sealed_voids == 1


@pytest.mark.parametrize(("missing", "edges"), [((0,), 3), ((0, 1), 4), ((0, 5), 6)])
def test_an_open_mesh_is_refused_with_its_open_edges(missing, edges) -> None:
    """Missing triangles are refused by name, with the number of edges left open."""
    drawn = without_triangles(box(), *missing)
    assert count_open_edges(drawn[1]) == edges
    with pytest.raises(NotASolid, match=f"{edges} open"):
        Solid.of(*drawn)


def test_triangles_that_disagree_about_outside_are_refused() -> None:
    """One triangle wound against the others is refused; its three edges count twice each."""
    vertices, triangles = (np.array(part) for part in box())
    triangles[3] = triangles[3, ::-1]
    with pytest.raises(NotASolid, match="6 open or badly shared"):
        Solid.of(vertices, triangles)


def test_no_triangles_are_refused() -> None:
    """Nothing at all is refused by name, and so is an operation that leaves nothing."""
    with pytest.raises(EmptySolid, match="0 triangles"):
        Solid.of(np.zeros((0, 3)), np.zeros((0, 3), dtype=np.int32))
    with pytest.raises(EmptySolid):
        subtract(solid(box()), [solid(box((11.0, 11.0, 11.0)))])
    with pytest.raises(EmptySolid):
        intersect([solid(box()), solid(box(centre=(30.0, 0.0, 0.0)))])


@pytest.mark.parametrize("bad", [np.nan, np.inf])
def test_coordinates_that_are_no_numbers_are_refused(bad) -> None:
    """NaN and infinity are refused by name."""
    vertices, triangles = box()
    vertices = vertices.copy()
    vertices[3, 1] = bad
    with pytest.raises(KernelRefused, match="not finite"):
        Solid.of(vertices, triangles)


@pytest.mark.parametrize("row", [99, -1])
def test_a_corner_that_is_not_there_is_refused(row) -> None:
    """A triangle that names a vertex which does not exist is refused, not read from elsewhere."""
    vertices, triangles = (np.array(part) for part in box())
    triangles[0, 0] = row
    with pytest.raises((KernelRefused, NotASolid)):
        Solid.of(vertices, triangles)
