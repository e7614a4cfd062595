"""OBJ."""

from __future__ import annotations

import io

import numpy as np
import pytest
import trimesh

from fixtures.mutated import box, obj_text
from prep.errors import EmptyFile, FileMalformed, FileUnfinished
from prep.geometry.read_obj import read_obj

BOX = box((0.1, -2.0, 3.0), (5.0, 7.25, 9.0))
QUADS = b"""# a box of quads
mtllib box.mtl
v 0 0 0
v 1 0 0
v 1 1 0
v 0 1 0
v 0 0 1
v 1 0 1
v 1 1 1
v 0 1 1
usemtl red
f 1/1/1 4/2/1 3/3/1 2/4/1
f 5 6 7 8 # the lid
f 1//2 2//2 6//2 5//2
f 2 3 7 6
f 3 4 8 \\
  7
f 4 1 5 8
"""


def volume(parsed):
    """Signed volume."""
    a, b, c = (parsed.vertices[parsed.triangles[:, k]] for k in range(3))
    return float(np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6)


def test_points_and_faces_as_written():
    """Points keep their numbers and every digit."""
    parsed = read_obj(obj_text(BOX))
    np.testing.assert_array_equal(parsed.vertices, BOX[0])
    np.testing.assert_array_equal(parsed.triangles, BOX[1])


@pytest.mark.parametrize("end", [b"\n", b"\r\n"])
def test_quads_are_fanned(end):
    """A unit box of quads, with texture and normal numbers, a comment and a line that goes on, has volume 1."""
    parsed = read_obj(QUADS.replace(b"\n", end))
    assert parsed.triangles.shape == (12, 3)
    assert volume(parsed) == pytest.approx(1.0, rel=1e-15)
    assert "material" in parsed.notes[0]


def test_counted_backwards():
    """Negative numbers count back from the last point before the face."""
    text = b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf -3 -2 -1\nv 0 0 1\nf -4 -1 -3\nf 2 3 4\nf -1 -2 -4\n"
    np.testing.assert_array_equal(read_obj(text).triangles, [[0, 1, 2], [0, 3, 1], [1, 2, 3], [3, 2, 0]])


def test_colours_of_points():
    """A colour after each point becomes the mean colour of each triangle."""
    text = b"v 0 0 0 1 0 0\nv 1 0 0 1 0 0\nv 0 1 0 1 0.6 0\nf 1 2 3\n"
    np.testing.assert_array_equal(read_obj(text).colours, [[255, 51, 0, 255]])
    assert read_obj(obj_text(BOX)).colours is None


@pytest.mark.parametrize("scale", [1e-3, 1.0, 1e3])
def test_agrees_with_trimesh(scale):
    """A torus written by trimesh has the triangles trimesh reads."""
    # outside check: trimesh's own OBJ writer and reader
    data = trimesh.creation.torus(3 * scale, scale).export(file_type="obj").encode()
    other = trimesh.load_mesh(io.BytesIO(data), file_type="obj", process=False)
    parsed = read_obj(data)
    np.testing.assert_allclose(parsed.vertices[parsed.triangles], other.triangles, rtol=0, atol=1e-12 * scale)


@pytest.mark.parametrize(
    "text",
    [
        b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 4\n",
        b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 0 1 2\n",
        b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf -9 1 2\n",
        b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 2.5\n",
        b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 4294967296000\n",
        b"v 0 0 0\nv 1 0\nv 0 1 0\nf 1 2 3\n",
        b"v 0 0 0\nv 1,5 0 0\nv 0 1 0\nf 1 2 3\n",
        b"v 0 0 x\nv 1 0 0\nv 0 1 0\nf 1 2 3\n",
        b"f 1 2 3\n",
    ],
)
def test_malformed(text):
    """Faces that name no point, and points that are no numbers, are refused."""
    with pytest.raises(FileMalformed):
        read_obj(text)


@pytest.mark.parametrize("text", [b"v 0 0 0\nv 1 0 0\n", b"v 0 0 0\nv 1 0 0\nf 1 2\nf 2 1\n", b"v 0 0 0\nf \t \n"])
def test_no_faces(text):
    """Points alone, or faces of two corners, are an empty file."""
    with pytest.raises(EmptyFile):
        read_obj(text)


def test_blank():
    """Zero bytes in the text are a copy that has not arrived."""
    with pytest.raises(FileUnfinished):
        read_obj(obj_text(BOX)[:-90] + bytes(90))
