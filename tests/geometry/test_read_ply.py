"""PLY."""

from __future__ import annotations

import io
import struct

import numpy as np
import pytest
import trimesh

from fixtures.mutated import box, ply_file
from prep.errors import EmptyFile, FileCutShort, FileMalformed, FileUnfinished
from prep.geometry.read_ply import read_ply

BOX = box((0.125, -2.0, 3.0), (5.0, 7.25, 9.0))
ORDERS = ["", "<", ">"]
HEAD = (
    "ply\nformat {} 1.0\nelement vertex {}\nproperty float x\nproperty float y\nproperty float z\n{}element face {}\n"
)
LIST = "property list {} {} vertex_index\n{}end_header\n"


@pytest.mark.parametrize("order", ORDERS)
def test_points_faces_and_colours(order):
    """Text and both byte orders read the same; a colour per face stays with its face."""
    parsed = read_ply(ply_file(BOX, order))
    np.testing.assert_array_equal(parsed.vertices, BOX[0])
    np.testing.assert_array_equal(parsed.triangles, BOX[1])
    assert parsed.colours.shape == (12, 4)
    assert (parsed.colours[:, 3] == 255).all()
    assert parsed.colours[7, -2] == 7


@pytest.mark.parametrize("order", ORDERS)
def test_mixed_polygons(order):
    """Triangles and quads in one list, with another property before and another list behind, are walked and fanned."""
    points = box((0, 0, 0), (1, 1, 1))[0]
    faces = [(0, 2, 3, 1), (4, 5, 7), (4, 7, 6), (0, 1, 5, 4), (2, 6, 7, 3), (0, 4, 6, 2), (1, 3, 7, 5)]
    name = {"": "ascii", "<": "binary_little_endian", ">": "binary_big_endian"}[order]
    head = HEAD.format(name, 8, "", 7) + "property short group\n"
    head += LIST.format("uchar", "uint", "property list uchar float texcoord\n")
    if order == "":
        rows = [" ".join(map(str, point)) for point in points.tolist()]
        rows += [f"9 {len(face)} {' '.join(map(str, face))} 2 0.5 0.5" for face in faces]
        data = head.encode() + "\n".join(rows).encode()
    else:
        body = b"".join(struct.pack(f"{order}hB{len(f)}IB2f", 9, len(f), *f, 2, 0.5, 0.5) for f in faces)
        data = head.encode() + points.astype(f"{order}f4").tobytes() + body
    parsed = read_ply(data)
    a, b, c = (parsed.vertices[parsed.triangles[:, k]] for k in range(3))
    assert len(parsed.triangles) == 12
    assert np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6 == pytest.approx(1.0, rel=1e-15)


@pytest.mark.parametrize("encoding", ["ascii", "binary"])
@pytest.mark.parametrize("scale", [1e-3, 1.0, 1e3])
def test_agrees_with_trimesh(encoding, scale):
    """A coloured sphere written by trimesh reads with its points, faces and the mean colour of each face's corners."""
    # outside check: trimesh's own PLY writer and reader
    sphere = trimesh.creation.icosphere(subdivisions=2, radius=scale)
    shades = np.random.default_rng(3).integers(0, 256, (len(sphere.vertices), 4), dtype=np.uint8)
    sphere.visual.vertex_colors = shades
    data = sphere.export(file_type="ply", encoding=encoding)
    other = trimesh.load_mesh(io.BytesIO(data), file_type="ply", process=False)
    parsed = read_ply(data)
    np.testing.assert_allclose(parsed.vertices, other.vertices, rtol=1e-7)
    np.testing.assert_array_equal(parsed.triangles, other.faces)
    mean = shades[other.faces].astype(float).mean(axis=1)
    np.testing.assert_allclose(parsed.colours, mean, atol=0.5)


def test_floating_colours():
    """Colours from 0 to 1 are taken as such."""
    head = HEAD.format("ascii", 3, "property float red\nproperty float green\nproperty float blue\n", 1)
    data = (head + LIST.format("uchar", "int", "")).encode() + b"0 0 0 1 0 0.5\n1 0 0 1 0 0.5\n0 1 0 1 0 0.5\n3 0 1 2\n"
    np.testing.assert_array_equal(read_ply(data).colours, [[255, 0, 128, 255]])


@pytest.mark.parametrize("end", [b"\r\n", b"\r"])
def test_other_line_ends(end):
    """The header may end its lines in other ways, even where the body begins with a line feed."""
    data = ply_file(box((0.125, 0, 0), (1, 1, 1)), "<")
    cut = data.index(b"end_header\n") + len(b"end_header\n")
    body = b"\x0a" + data[cut + 1 :]
    parsed = read_ply(data[:cut].replace(b"\n", end) + body)
    assert parsed.vertices[0, 0] == pytest.approx(0.125, abs=1e-6)


@pytest.mark.parametrize("order", ORDERS)
@pytest.mark.parametrize("keep", [0.2, 0.7, 0.9, 0.99])
def test_cut_short(order, keep):
    """A file that ends early is refused, in the header as in the rows."""
    data = ply_file(BOX, order)
    with pytest.raises(FileCutShort):
        read_ply(data[: int(keep * len(data))].rstrip())


@pytest.mark.parametrize("order", ORDERS)
@pytest.mark.parametrize("element", [b"vertex 8", b"face 12"])
def test_absurd_counts(order, element):
    """Four thousand million rows announced in a small file are refused at once."""
    with pytest.raises(FileCutShort):
        read_ply(ply_file(BOX, order).replace(element, element.split()[0] + b" 4294967295"))


def test_absurd_list():
    """A list of two thousand million corners in a small file is refused at once."""
    head = HEAD.format("binary_little_endian", 1, "", 1) + LIST.format("uint", "uint", "")
    with pytest.raises(FileMalformed):
        read_ply(head.encode() + bytes(12) + struct.pack("<I", 2_000_000_000) + bytes(64))


def test_blank_tail():
    """Faces without corners at the end, or zero bytes in text, are a copy that has not arrived."""
    for order in ORDERS:
        data = ply_file(BOX, order)
        with pytest.raises(FileUnfinished):
            read_ply(data[:-60] + bytes(60))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (b"format ascii 1.0", b"format morse 1.0"),
        (b"format ascii 1.0\n", b""),
        (b"property float z", b"property length z"),
        (b"element face 12", b"element face twelve"),
        (b"property uchar red", b"property list red"),
        (b"3 0 2 3 ", b"3 0 2 8 "),
        (b"3 0 2 3 ", b"3 0 2 -3 "),
        (b"3 0 2 3 ", b"3 0 2 nan "),
        (b"0.125", b"0,125"),
        (b"\n3 0 2 3 255", b"\n3 0 2 3 255 255"),
    ],
)
def test_malformed(old, new):
    """Words PLY does not know, corners that are not there and rows too long are refused."""
    data = ply_file(BOX)
    assert old in data
    with pytest.raises(FileMalformed):
        read_ply(data.replace(old, new, 1))


def test_goes_on_too_long():
    """Bytes after the last row are refused, but for padding."""
    data = ply_file(BOX, "<")
    assert len(read_ply(data + bytes(100)).triangles) == 12
    with pytest.raises(FileMalformed):
        read_ply(data + data[-60:])


def test_no_faces():
    """A cloud of points is an empty file."""
    head = "ply\nformat ascii 1.0\nelement vertex 1\nproperty float x\nproperty float y\nproperty float z\nend_header\n"
    with pytest.raises(EmptyFile):
        read_ply(head.encode() + b"0 0 0\n")
