"""Whether two meshes are one shape, one shape moved, or how far and where they differ."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from fixtures.drawn import blob, box, moved, prism_ngon, scaled, shuffled, subdivided, torus, tray, tube
from prep.geometry.mend import mend
from prep.geometry.read_mesh import read_mesh
from prep.geometry.rigid_motion import rigid_motion
from prep.geometry.same_shape import same_shape
from prep.geometry.shape_difference import shape_difference
from prep.geometry.solid import Solid, subtract

SHAPES = {"tray": tray(), "torus": torus(), "blob": blob(3), "tube": tube(), "box": box((30.0, 20.0, 10.0))}


def motion(seed: int, reach: float) -> np.ndarray:
    """A rigid motion as (4, 4), from a seed; the turn from another library."""
    matrix = np.eye(4)
    matrix[:3, :3] = Rotation.random(random_state=seed).as_matrix()
    matrix[:3, 3] = np.random.default_rng(seed).uniform(-reach, reach, 3)
    return matrix


@settings(max_examples=12, deadline=None)
@given(st.sampled_from(sorted(SHAPES)), st.integers(0, 1000), st.sampled_from([1e-3, 1.0, 1e3]))
def test_moved_copy_is_moved_only(name: str, seed: int, scale: float) -> None:
    """Turned, shifted, shuffled and rounded to single precision, a shape is the same, only moved."""
    drawing = scaled(SHAPES[name], scale)
    matrix = motion(seed, 40.0 * scale)
    v, t = shuffled(drawing, seed)
    there = (v @ matrix[:3, :3].T + matrix[:3, 3]).astype(np.float32).astype(np.float64)
    found = same_shape(Solid.of(*drawing), Solid.of(there, t))
    assert found.likeness == "moved"
    assert found.difference.largest_mm <= found.tolerance_mm


def test_motion_of_a_lopsided_shape_is_the_one_made() -> None:
    """A shape without symmetry comes back by exactly the motion it was given."""
    solid = Solid.of(*blob(4))
    matrix = motion(7, 50.0)
    found = same_shape(solid, solid.moved(matrix))
    assert np.allclose(found.motion, matrix, atol=1e-9)
    turn = np.degrees(np.linalg.norm(Rotation.from_matrix(matrix[:3, :3]).as_rotvec()))
    assert found.turn_deg == pytest.approx(turn, abs=1e-6)


@pytest.mark.parametrize("name", SHAPES)
def test_other_triangles_are_the_same_shape(name: str) -> None:
    """The same surface cut into other triangles, in another order, is the same in the same place."""
    found = same_shape(Solid.of(*SHAPES[name]), Solid.of(*shuffled(subdivided(SHAPES[name]))))
    assert (found.likeness, found.difference.share, found.turn_deg, found.shift_mm) == ("same", 0.0, 0.0, 0.0)


def test_other_triangles_moved() -> None:
    """Cut into other triangles and moved as well, a shape with three different axes is still found."""
    fine = Solid.of(*subdivided(SHAPES["tray"])).moved(motion(3, 30.0))
    assert same_shape(Solid.of(*SHAPES["tray"]), fine).likeness == "moved"


def test_small_shift_is_a_motion() -> None:
    """A plate shifted in its own plane by a tenth is moved, though most of its surface still lies on the old one."""
    plate = box((40.0, 30.0, 2.0))
    found = same_shape(Solid.of(*plate), Solid.of(*moved(plate, (0.1, 0.0, 0.0))))
    assert found.likeness == "moved"
    assert found.shift_mm == pytest.approx(0.1, abs=1e-9)


@pytest.mark.parametrize("away", [False, True])
def test_pocket_is_named_with_depth_place_and_share(away: bool) -> None:
    """A pocket 1.5 mm deep is a difference of 1.5 mm at its floor, over the share of the surface it took."""
    solid = Solid.of(*subdivided(box((40.0, 30.0, 6.0)), 3))
    changed = subtract(solid, [Solid.of(*box((8.0, 6.0, 3.0), (5.0, 4.0, 3.0)))])
    matrix = motion(5, 60.0) if away else np.eye(4)
    found = same_shape(solid, changed.moved(matrix))
    assert found.likeness == "differs"
    assert np.allclose(found.motion, matrix, atol=1e-6)
    assert found.difference.largest_mm == pytest.approx(1.5, abs=1e-6)
    at = np.linalg.inv(matrix) @ np.append(found.difference.at_mm, 1.0)
    assert (np.abs(at[:2] - [5.0, 4.0]) <= [4.01, 3.01]).all()
    took, left = 48.0 / solid.area_mm2, (48.0 + 2 * 14.0 * 1.5) / changed.area_mm2
    assert found.difference.share == pytest.approx(max(took, left), rel=0.05)
    assert found.difference.volume_change_mm3 == pytest.approx(-72.0, rel=1e-6)


def test_growth_is_a_difference() -> None:
    """A box grown by 0.01 mm differs by that much."""
    found = same_shape(Solid.of(*box((20.0, 20.0, 20.0))), Solid.of(*box((20.02, 20.02, 20.02))))
    assert found.likeness == "differs"
    assert found.difference.largest_mm == pytest.approx(0.01 * np.sqrt(3.0), rel=1e-6)


def test_mirror_image_is_not_a_motion() -> None:
    """No turn makes a left part of a right one."""
    v, t = blob(5)
    assert same_shape(Solid.of(v, t), Solid.of(v * [-1.0, 1.0, 1.0], t[:, ::-1])).likeness == "differs"


def test_nothing_alike_has_no_motion() -> None:
    """A ball and a long bar have no motion in common."""
    assert rigid_motion(Solid.of(*blob(1)), Solid.of(*box((90.0, 5.0, 3.0))), 1e-4) is None


def test_difference_is_that_of_two_parallel_faces() -> None:
    """Prisms of one section and heights 20 and 20.3: the lids are 0.3 mm apart, and nothing else differs."""
    one, other = (Solid.of(*prism_ngon(64, 10.0, height)) for height in (20.0, 20.3))
    found = shape_difference(one, other, 1e-4)
    assert found.largest_mm == pytest.approx(0.3, abs=1e-9)
    assert found.at_mm[2] == pytest.approx(20.3, abs=1e-9)
    assert not found.gone


def test_single_corner_shows() -> None:
    """A corner pulled out by 0.02 mm is a difference, however little of the surface it touches."""
    v, t = subdivided(box((40.0, 30.0, 6.0)), 4)
    changed = v.copy()
    row = int(np.argmin(np.linalg.norm(v - [3.0, 2.0, 3.0], axis=1)))
    changed[row, 2] += 0.02
    found = same_shape(Solid.of(v, t), Solid.of(changed, t))
    assert found.likeness == "differs"
    assert found.difference.largest_mm == pytest.approx(0.02, rel=1e-6)
    assert np.allclose(found.difference.at_mm, changed[row])
    assert 0.0 < found.difference.share < 0.01


def test_real_meshes_moved_are_known(shared_meshes: Path) -> None:
    """Every shared mesh of a pair, turned and half a metre away in single precision, is the same shape."""
    for number, path in enumerate(sorted(shared_meshes.glob("pair*.stl"))):
        solid = mend(read_mesh(path)).solid
        matrix = motion(number, 500.0)
        there = (solid.vertices @ matrix[:3, :3].T + matrix[:3, 3]).astype(np.float32).astype(np.float64)
        found = same_shape(solid, Solid.of(there, solid.triangles[::-1]))
        assert found.likeness == "moved", path.name
        assert np.abs(found.motion[:3, 3] - matrix[:3, 3]).max() < 0.01 or found.difference.share == 0.0
