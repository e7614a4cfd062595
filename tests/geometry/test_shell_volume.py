"""Core of a print: what lies deeper than its walls and skins."""

from __future__ import annotations

import math

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from prep.errors import ShellOneSided
from prep.geometry.shell_volume import core_of
from prep.geometry.solid import Solid

UP = np.array([0.0, 0.0, 1.0])
TETRAHEDRON = np.array([[1, 1, 1], [1, -1, -1], [-1, 1, -1], [-1, -1, 1]]) * 20 / math.sqrt(8)


def solid_of(mesh, seed=None, scale=1.0):
    """A solid from a mesh, turned and moved at random if a seed is given."""
    mesh = mesh.copy()
    if seed is not None:
        rng = np.random.default_rng(seed)
        mesh.apply_transform(trimesh.transformations.random_rotation_matrix(rng.random(3)))
        mesh.apply_translation(rng.uniform(-3, 3, 3))
    mesh.apply_scale(scale)
    return Solid.of(np.asarray(mesh.vertices), np.asarray(mesh.faces))


def prism(sections):
    """A prism inscribed in a cylinder r 10, h 20."""
    return trimesh.creation.cylinder(10, 20, sections=sections)


def prism_core(sections, t):
    """Its core, exactly: the prism whose faces all moved in by t."""
    apothem = 10 * math.cos(math.pi / sections) - t
    return sections * math.tan(math.pi / sections) * apothem**2 * (20 - 2 * t)


@pytest.mark.parametrize("seed", [None, 11])
@pytest.mark.parametrize(
    ("mesh", "t", "volume"),
    # closed forms of inner offsets: (a-2t)(b-2t)(c-2t), 4/3 pi (r-t)^3, pi (r-t)^2 (h-2t), V (1 - t/inradius)^3
    [
        (trimesh.creation.box((30, 20, 10)), 1.0, 4032.0),
        (trimesh.creation.box((30, 20, 10)), 1.5, 3213.0),
        (trimesh.creation.box((30, 20, 10)), 2.0, 2496.0),
        (trimesh.creation.icosphere(5, 10), 1.0, 3053.628059289),
        (trimesh.creation.icosphere(5, 10), 2.0, 2144.660584851),
        (prism(256), 1.0, 4580.442088934),
        (prism(256), 2.0, 3216.990877276),
        (trimesh.convex.convex_hull(TETRAHEDRON), 1.0, 405.837939579),
    ],
    ids=["box-1", "box-1.5", "box-2", "sphere-1", "sphere-2", "cylinder-1", "cylinder-2", "tetrahedron-1"],
)
def test_cores_have_the_volume_of_the_closed_form(mesh, t, volume, seed):
    """The core of box, sphere, cylinder and tetrahedron is within 0.2 % at the default cell, and in the middle."""
    solid = solid_of(mesh, seed)
    core = core_of(solid, t, t, UP)
    assert core.volume_mm3 == pytest.approx(volume, rel=2e-3)
    assert core.centre_mm == pytest.approx(solid.centre_mm, abs=0.02)


def test_error_halves_with_the_cell():
    """Over box, prism and tetrahedron in many poses the error at least halves with the cell, twice."""
    shapes = [
        (trimesh.creation.box((30, 20, 10)), 2496.0, 2.0),
        (prism(32), prism_core(32, 1.0), 1.0),
        (trimesh.convex.convex_hull(TETRAHEDRON), 405.837939579, 1.0),
    ]
    error = {
        cell: np.sqrt(
            np.mean(
                [
                    (core_of(solid_of(mesh, seed), t, t, UP, cell).volume_mm3 / volume - 1) ** 2
                    for mesh, volume, t in shapes
                    for seed in range(4)
                ]
            )
        )
        for cell in (1.0, 0.5, 0.25)
    }
    assert error[0.5] <= error[1.0] / 2
    assert error[0.25] <= error[0.5] / 2
    assert error[0.25] < 5e-4


@pytest.mark.parametrize("seed", range(3))
def test_the_stated_error_covers_the_error(seed):
    """The error a core states is not smaller than the one it has, on shapes with exact faceted cores."""
    for mesh, volume, t in [
        (trimesh.creation.box((30, 20, 10)), 2496.0, 2.0),
        (prism(32), prism_core(32, 1.0), 1.0),
        (trimesh.convex.convex_hull(TETRAHEDRON), 405.837939579, 1.0),
    ]:
        core = core_of(solid_of(mesh, seed), t, t, UP, 0.5)
        assert abs(core.volume_mm3 - volume) <= core.error_mm3


def test_skins_may_be_thinner_than_walls():
    """Walls of 1.35 mm and skins of 0.8 mm leave (a - 2.7)(b - 2.7)(c - 1.6) of a box, whichever side is up."""
    box = trimesh.creation.box((30, 20, 10))
    for axis in range(3):
        shell = np.full(3, 2.7)
        shell[axis] = 1.6
        core = core_of(solid_of(box), 1.35, 0.8, np.eye(3)[axis])
        assert core.volume_mm3 == pytest.approx(np.prod(np.array([30, 20, 10]) - shell), rel=1e-3)


def test_turning_part_and_build_direction_together_changes_nothing():
    """The core belongs to the part, not to the axes it is written in."""
    mesh = prism(64)
    straight = core_of(solid_of(mesh), 1.35, 0.8, UP)
    turn = trimesh.transformations.random_rotation_matrix(np.array([0.3, 0.6, 0.2]))
    turned = mesh.copy()
    turned.apply_transform(turn)
    core = core_of(solid_of(turned), 1.35, 0.8, turn[:3, :3] @ UP)
    assert core.volume_mm3 == pytest.approx(straight.volume_mm3, rel=1e-3)


def test_the_core_of_a_hollow_ball():
    """A wall of 4 mm between radii 10 and 6 keeps a core between radii 9 and 7."""
    outer, inner = trimesh.creation.icosphere(5, 10), trimesh.creation.icosphere(5, 6)
    inner.invert()
    core = core_of(solid_of(trimesh.util.concatenate([outer, inner])), 1.0, 1.0, UP)
    assert core.volume_mm3 == pytest.approx(4 / 3 * math.pi * (9**3 - 7**3), rel=2e-3)


def test_around_a_pocket_the_shell_is_round():
    """A square hole through a block is walled at an equal distance, round its edges' corners."""
    block, hole, t = trimesh.creation.box((30, 30, 12)), trimesh.creation.box((8, 8, 20)), 1.5
    solid = solid_of(trimesh.boolean.difference([block, hole], engine="manifold"))
    walled = 8 * 8 + 4 * 8 * t + math.pi * t**2  # Steiner's formula in the plane
    assert core_of(solid, t, t, UP).volume_mm3 == pytest.approx((27 * 27 - walled) * 9, rel=1e-3)


def test_the_middle_of_a_lopsided_core():
    """The core's middle is its own, not the part's: a block with a thin tongue has no core in the tongue."""
    block, tongue = trimesh.creation.box((20, 20, 20)), trimesh.creation.box((40, 2, 2))
    tongue.apply_translation([30, 0, 0])
    core = core_of(solid_of(trimesh.boolean.union([block, tongue], engine="manifold")), 1.0, 1.0, UP)
    assert core.centre_mm == pytest.approx([0, 0, 0], abs=0.02)
    assert core.volume_mm3 == pytest.approx(18**3, rel=2e-3)


@pytest.mark.parametrize("walls", [1.0, 2.0, 2.1])
def test_thin_walls_have_no_core(walls):
    """A tray thinner than two shells has no core, and says so with the part's own middle."""
    outer, inner = trimesh.creation.box((60, 40, 20)), trimesh.creation.box((60 - 2 * walls, 40 - 2 * walls, 20))
    inner.apply_translation([0, 0, walls])
    solid = solid_of(trimesh.boolean.difference([outer, inner], engine="manifold"))
    core = core_of(solid, 1.35, 1.35, UP)
    assert core.volume_mm3 <= min(core.error_mm3, 1e-5 * solid.volume_mm3)
    if walls <= 2.0:
        assert core.volume_mm3 == 0.0
        assert core.centre_mm == pytest.approx(solid.centre_mm)


def test_a_thin_corner_keeps_the_strip_that_the_shells_leave():
    """Where two legs thinner than two shells meet, the strip deeper than both is found, better with finer cells."""
    leg, t, length = 2.6, 1.35, 60.0
    bar, cutter = trimesh.creation.box((20, 20, length)), trimesh.creation.box((20, 20, 2 * length))
    cutter.apply_translation([leg, leg, 0])
    solid = solid_of(trimesh.boolean.difference([bar, cutter], engine="manifold"), 5)
    # between the two outer offsets and the circle of radius t about the inner edge
    far, near = leg - t, math.sqrt(t**2 - (leg - t) ** 2)

    def under_circle(u):
        return (u * math.sqrt(t**2 - u**2) + t**2 * math.asin(u / t)) / 2

    strip = (far * (far - near) - (under_circle(far) - under_circle(near))) * (length - 2 * t)
    error = [abs(core_of(solid, t, t, UP, cell).volume_mm3 - strip) for cell in (t / 3, t / 6, t / 12)]
    assert error[1] < error[0] / 2
    assert error[2] < error[1] / 2
    assert error[0] < 2e-4 * solid.volume_mm3


def test_a_part_smaller_than_its_shell_has_no_core():
    """Where the shell fills the bounds, nothing is searched."""
    solid = solid_of(trimesh.creation.box((2, 2, 2)))
    assert core_of(solid, 1.35, 0.8, UP).volume_mm3 == 0.0


def test_no_shell_at_all_is_all_core():
    """Without walls and skins the whole part is core."""
    solid = solid_of(trimesh.creation.box((3, 4, 5)))
    assert core_of(solid, 0.0, 0.0, UP).volume_mm3 == pytest.approx(60.0)


@pytest.mark.parametrize(("side", "skin"), [(1.2, 0.0), (0.0, 0.8)])
def test_a_shell_on_some_sides_only_is_refused(side, skin):
    """Walls without skins, or skins without walls, are a fault of the process and named as one."""
    with pytest.raises(ShellOneSided, match="no shell to weigh") as caught:
        core_of(solid_of(trimesh.creation.box((9, 9, 9))), side, skin, UP)
    assert f"walls {side:g} mm" in caught.value.found


def test_a_small_change_of_the_part_does_not_shift_the_grid():
    """A hair of material at one end changes the core by no more than the hair itself could."""
    long, longer = trimesh.creation.box((30, 20, 10)), trimesh.creation.box((30, 20, 10))
    longer.vertices[longer.vertices[:, 0] > 0, 0] += 1e-6
    before, after = (core_of(solid_of(m), 1.2, 1.2, UP).volume_mm3 for m in (long, longer))
    assert abs(after - before) < 1e-6 * 400 * 2


def test_the_same_part_gives_the_same_bits():
    """Twice the same part, twice the same core."""
    one, two = (core_of(solid_of(prism(48), 4), 1.0, 0.7, UP) for _ in range(2))
    assert (one.volume_mm3, one.error_mm3) == (two.volume_mm3, two.error_mm3)
    assert (one.centre_mm == two.centre_mm).all()


@settings(max_examples=12, deadline=None, derandomize=True)
@given(
    st.lists(st.tuples(*[st.floats(-10, 10)] * 3), min_size=8, max_size=20, unique=True),
    st.sampled_from([1e-3, 1.0, 1e3]),
)
def test_a_deeper_shell_leaves_less_at_any_scale(points, scale):
    """On drawn hulls the core shrinks as the shell grows, stays inside the part, and scales with it."""
    cloud = np.array(points)
    if np.linalg.svd(cloud - cloud.mean(axis=0), compute_uv=False)[-1] < 3.0:
        return
    hull = trimesh.convex.convex_hull(cloud)
    solid = solid_of(hull, scale=scale)
    thin, thick = (core_of(solid, t * scale, t * scale, UP) for t in (0.8, 1.6))
    assert thick.volume_mm3 <= thin.volume_mm3 <= solid.volume_mm3
    # every face of a convex part moves in by t: exact by clipping the half-spaces
    from scipy.spatial import ConvexHull, HalfspaceIntersection, QhullError

    planes = ConvexHull(cloud).equations.copy()
    planes[:, 3] += 0.8
    middle = np.asarray(thin.centre_mm) / scale
    try:
        exact = ConvexHull(HalfspaceIntersection(planes, middle).intersections).volume
    except QhullError:
        return
    assert thin.volume_mm3 / scale**3 == pytest.approx(exact, abs=2e-3 * solid.volume_mm3 / scale**3)


def test_real_meshes_have_cores_within_their_bounds(shared_meshes):
    """A solid palm rest is mostly core; a thin bowl hardly has one."""
    shares = {}
    for name in ("palm-rest.stl", "bowl-hemisphere.stl"):
        mesh = trimesh.load(shared_meshes / name)
        mesh.merge_vertices()
        solid = solid_of(mesh)
        core = core_of(solid, 1.35, 0.8, UP)
        shares[name] = core.volume_mm3 / solid.volume_mm3
        assert (core.centre_mm > solid.bounds_mm[0]).all()
        assert (core.centre_mm < solid.bounds_mm[1]).all()
    assert 0.8 < shares["palm-rest.stl"] < 0.9
    assert shares["bowl-hemisphere.stl"] < 0.03
