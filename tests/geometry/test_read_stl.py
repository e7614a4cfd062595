"""STL, binary and ASCII."""

from __future__ import annotations

import io
import struct

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from fixtures.mutated import box, stl_ascii, stl_binary
from prep.errors import EmptyFile, FileCutShort, FileMalformed, FileUnfinished
from prep.geometry.read_stl import read_stl

BOX = box((0.1, -2.0, 3.0), (5.0, 7.25, 9.0))


def corners(parsed):
    """Corners of every triangle, (m, 3, 3)."""
    return parsed.vertices[parsed.triangles]


@pytest.mark.parametrize("header", [b"solid box", b"", bytes(range(128, 208)), b"SOLID\0\xff facet normal"])
@pytest.mark.parametrize("attribute", [0, 20083, 65535])
def test_the_size_decides_not_the_header(header, attribute):
    """Any header and any attribute read as binary if the size is that of the triangles announced."""
    parsed = read_stl(stl_binary(BOX, header, attribute))
    assert len(parsed.vertices) == 8
    np.testing.assert_array_equal(corners(parsed), BOX[0][BOX[1]].astype(np.float32))


def test_ascii_reads_as_written():
    """ASCII keeps every digit, whatever the case of its words, its line ends, and the name of the solid."""
    text = stl_ascii(BOX, "a facet normal of endfacet 12")
    exact = BOX[0][BOX[1]]
    for data in (text, text.upper(), text.replace(b"\n", b"\r\n"), text.replace(b"\n", b"\r"), b"\xef\xbb\xbf" + text):
        np.testing.assert_array_equal(corners(read_stl(data)), exact)


def test_several_solids_in_one_text():
    """Solids that follow one another are read together, also when they stand in the way of a chunk's end."""
    parsed = read_stl(stl_ascii(BOX) * 3)
    assert parsed.triangles.shape == (36, 3)
    assert len(parsed.vertices) == 8


@settings(max_examples=25, deadline=None, derandomize=True)
@given(st.integers(0, 3), st.sampled_from([1e-3, 1.0, 1e3]), st.booleans())
def test_agrees_with_trimesh(subdivisions, scale, ascii_text):
    """A sphere written by trimesh reads as trimesh reads it, at any scale."""
    # outside check: trimesh's own STL writer and reader
    sphere = trimesh.creation.icosphere(subdivisions=subdivisions, radius=scale)
    kind = "stl_ascii" if ascii_text else "stl"
    data = sphere.export(file_type=kind)
    data = data.encode() if isinstance(data, str) else data
    other = trimesh.load_mesh(io.BytesIO(data), file_type=kind, process=False)
    parsed = read_stl(data)
    np.testing.assert_array_equal(corners(parsed), other.triangles)
    assert len(parsed.vertices) == len(np.unique(other.vertices.view("V24"), axis=0))


def test_minus_zero_is_zero():
    """A corner at minus zero welds to one at zero."""
    points, triangles = box((0, 0, 0), (1, 1, 1))
    data = bytearray(stl_binary((points, triangles)))
    data[84 + 12 : 84 + 16] = struct.pack("<f", -0.0)
    assert len(read_stl(bytes(data)).vertices) == 8


@pytest.mark.parametrize("keep", [0, 40, 83, 84, 100, 84 + 50 * 11, 84 + 50 * 12 - 1])
def test_cut_short(keep):
    """A binary file that ends early is refused with the count announced, even if it begins with "solid"."""
    with pytest.raises(FileCutShort):
        read_stl(stl_binary(BOX, b"solid box")[:keep])


def test_absurd_count():
    """A header that announces four thousand million triangles is refused at once."""
    data = bytearray(stl_binary(BOX))
    data[80:84] = b"\xff\xff\xff\xff"
    with pytest.raises(FileCutShort) as fault:
        read_stl(bytes(data))
    assert "4294967295 triangles announced, 12 present" in fault.value.found


@pytest.mark.parametrize("blank", [1, 5, 12])
def test_blank_tail(blank):
    """A file whose room was set aside but not filled passes the size rule and is refused all the same."""
    data = stl_binary(BOX)
    data = data[: len(data) - 50 * blank] + bytes(50 * blank)
    with pytest.raises(FileUnfinished) as fault:
        read_stl(data)
    assert f"{blank} of them at the end" in fault.value.found


def test_blank_page_in_the_middle():
    """A hole of a disk page in the middle is refused; a single triangle shrunk to the origin is not."""
    many = stl_binary((BOX[0], np.tile(BOX[1], (40, 1))))
    hole = many[: 84 + 50 * 100] + bytes(50 * 90) + many[84 + 50 * 190 :]
    with pytest.raises(FileUnfinished):
        read_stl(hole)
    single = many[: 84 + 50 * 100] + bytes(50) + many[84 + 50 * 101 :]
    assert len(read_stl(single).triangles) == 480


def test_blank_tail_of_a_text():
    """An ASCII file padded with zero bytes is unfinished."""
    with pytest.raises(FileUnfinished):
        read_stl(stl_ascii(BOX)[:-200] + bytes(200))


def test_trailing_bytes():
    """A few bytes or padding after the last triangle get a note; whole records the count does not own are refused."""
    data = stl_binary(BOX)
    for tail in (b"\0", b"\r\n", b"signature", bytes(4096)):
        assert f"{len(tail)} bytes after" in read_stl(data + tail).notes[0]
    with pytest.raises(FileMalformed) as fault:
        read_stl(data + data[84:184])
    assert "room for 2" in fault.value.found


@pytest.mark.parametrize("cut", [30, 200, 600])
def test_text_cut_short(cut):
    """An ASCII file without its closing line is refused."""
    with pytest.raises(FileCutShort):
        read_stl(stl_ascii(BOX)[:-cut])


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (b"vertex 0.1", b"vertex 0,1"),
        (b"endloop", b"enloop"),
        (b"outer loop", b"loop"),
        (b"5.0", b""),
        (b"9.0", b"9-0"),
    ],
)
def test_broken_text(old, new):
    """Text that leaves the pattern is refused, with the facet."""
    with pytest.raises(FileMalformed):
        read_stl(stl_ascii(BOX).replace(old, new, 1))


@pytest.mark.parametrize("data", [stl_binary((BOX[0], BOX[1][:0])), b"solid none\nendsolid none\n"])
def test_no_triangles(data):
    """No triangles is an empty file, not an empty mesh."""
    with pytest.raises(EmptyFile):
        read_stl(data)
