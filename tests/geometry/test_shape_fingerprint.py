"""A text that copies of one mesh share, and other shapes do not."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from fixtures.drawn import blob, box, joined, moved, scaled, shuffled, subdivided, torus, tray, turned
from prep.geometry.mend import mend
from prep.geometry.read_mesh import read_mesh
from prep.geometry.shape_fingerprint import same_fingerprint, shape_fingerprint
from prep.geometry.solid import Solid
from prep.geometry.write_mesh import write_mesh

SHAPES = {"tray": tray(), "torus": torus(), "blob": blob(3), "two": joined(box(), moved(box(), (20.0, 3.0, 1.0)))}


def single(vertices: np.ndarray) -> np.ndarray:
    """Coordinates as a file of single precision holds them."""
    return vertices.astype(np.float32).astype(np.float64)


@pytest.mark.parametrize("name", SHAPES)
@pytest.mark.parametrize("scale", [1e-3, 1.0, 1e3])
def test_order_and_rounding_do_not_matter(name: str, scale: float) -> None:
    """Shuffled triangles in single precision have the same text, at any scale."""
    one = scaled(SHAPES[name], scale)
    other = shuffled(one)
    assert shape_fingerprint(Solid.of(single(other[0]), other[1])) == shape_fingerprint(Solid.of(*one))


@settings(max_examples=25, deadline=None)
@given(st.sampled_from(sorted(SHAPES)), st.integers(0, 10_000), st.floats(-1000.0, 1000.0))
def test_motion_keeps_it(name: str, seed: int, shift: float) -> None:
    """Turned and put up to a metre away, stored in single precision, a shape is still known."""
    v, t = SHAPES[name]
    there = single(v @ Rotation.random(random_state=seed).as_matrix().T + np.array([shift, -shift, 10.0]))
    assert same_fingerprint(shape_fingerprint(Solid.of(there, t)), shape_fingerprint(Solid.of(v, t)))


def test_mirror_image_differs() -> None:
    """A left part is not a right one, though every size is equal."""
    v, t = blob(5)
    mirrored = (v * [-1.0, 1.0, 1.0], t[:, ::-1])
    assert not same_fingerprint(shape_fingerprint(Solid.of(v, t)), shape_fingerprint(Solid.of(*mirrored)))


def test_second_moments_are_those_of_another_library() -> None:
    """The principal moments in the text are in the ratio that trimesh finds from its own inertia tensor."""
    v, t = tray((40.0, 31.0, 12.0))
    found = [float(number) for number in shape_fingerprint(Solid.of(v, t)).split("-")[6:9]]
    about = np.sort(trimesh.Trimesh(v, t, process=False).principal_inertia_components)
    moments = np.sort(about.sum() / 2.0 - about)
    assert found[0] / found[2] == pytest.approx(moments[0] / moments[2], rel=2e-4)
    assert found[1] / found[2] == pytest.approx(moments[1] / moments[2], rel=2e-4)


@pytest.mark.parametrize("shift", [0.02, 0.2])
def test_one_moved_corner_differs(shift: float) -> None:
    """A single corner moved by 20 µm on a 40 mm tray gives another text."""
    v, t = tray()
    changed = v.copy()
    changed[7, 2] += shift
    assert not same_fingerprint(shape_fingerprint(Solid.of(v, t)), shape_fingerprint(Solid.of(changed, t)))


def test_other_triangles_differ() -> None:
    """The text belongs to the mesh: the same surface cut finer has another."""
    assert shape_fingerprint(Solid.of(*subdivided(tray()))) != shape_fingerprint(Solid.of(*tray()))


def test_neighbouring_steps_are_the_same() -> None:
    """Sizes on the border of a step count as equal; two steps apart, another topology or version do not."""
    assert same_fingerprint("s1-12-1-0-100-n5", "s1-12-1-0-101-n6")
    assert same_fingerprint("s1-12-1-0-0", "s1-12-1-0-n1")
    assert not same_fingerprint("s1-12-1-0-100", "s1-12-1-0-102")
    assert not same_fingerprint("s1-12-1-0-100", "s1-12-1-1-100")
    assert not same_fingerprint("s1-12-1-0-100", "s1-12-1-0-100-3")


def test_formats_agree_and_parts_differ(shared_meshes: Path, tmp_path: Path) -> None:
    """Real meshes written as 3MF, PLY and moved STL keep their text; no two of them share one."""
    texts = {}
    for path in sorted(shared_meshes.glob("pair*.stl")):
        solid = mend(read_mesh(path)).solid
        texts[path.name] = shape_fingerprint(solid)
        away = np.eye(4)
        away[:3, :3], away[:3, 3] = Rotation.random(random_state=1).as_matrix(), (30.0, -80.0, 5.0)
        for name, one in (("a.3mf", solid), ("a.ply", solid), ("a.stl", solid.moved(away))):
            write_mesh(tmp_path / name, one)
            again = shape_fingerprint(mend(read_mesh(tmp_path / name)).solid)
            assert same_fingerprint(again, texts[path.name]), (path.name, name)
    assert len(set(texts.values())) == len(texts)


def test_turned_copy_is_equal_to_the_letter() -> None:
    """Away from the border of a step the texts are equal, not only alike."""
    assert shape_fingerprint(Solid.of(*turned(tray(), (0, 0, 1), 33.0))) == shape_fingerprint(Solid.of(*tray()))
