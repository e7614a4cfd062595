"""Any file: its format, its unit, its faults."""

from __future__ import annotations

import hashlib
import os
import resource
import sys

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fixtures.mutated import (
    BASES,
    box,
    damaged_file,
    mesh_xml,
    model_xml,
    obj_text,
    package,
    ply_file,
    stl_ascii,
    stl_binary,
)
from prep.errors import (
    CannotOpenFile,
    EmptyFile,
    FileCutShort,
    FileTooLarge,
    FileUnfinished,
    MissingFile,
    NoArea,
    NoSuchObject,
    NotFinite,
    PrepError,
    UnknownFormat,
    UnknownUnit,
)
from prep.geometry.mend import mend
from prep.geometry.read_mesh import read_mesh

BOX = box((0, 0, 0), (1, 2, 3))
FILES = {
    "3mf": package(model_xml(f'<object id="1" type="model">{mesh_xml(BOX)}</object>', '<item objectid="1"/>')),
    "stl": stl_binary(BOX, b"solid box"),
    "ascii": stl_ascii(BOX),
    "obj": obj_text(BOX),
    "ply": ply_file(BOX),
}


@pytest.fixture
def put(tmp_path):
    """Writes a file and gives its path."""

    def write(data, name="part.stl"):
        path = tmp_path / name
        path.write_bytes(data)
        return path

    return write


@pytest.mark.parametrize("kind", FILES)
@pytest.mark.parametrize("name", ["part.stl", "part.obj", "part.3mf", "part", "part.txt", "PART.PLY"])
def test_content_goes_before_the_name(put, kind, name):
    """Every format is known by its content under any name; a misleading one gets a note."""
    if kind == "obj" and name in {"part.stl", "part.3mf", "PART.PLY"}:
        pytest.skip("OBJ has no mark of its own, so a name that says otherwise is believed")
    path = put(FILES[kind], name)
    raw = read_mesh(path)
    expected = "stl" if kind == "ascii" else kind
    assert raw.format == expected
    assert raw.sha256 == hashlib.sha256(FILES[kind]).hexdigest()
    assert raw.extents_mm.tolist() == [1, 2, 3]
    misleading = path.suffix.lower() not in {"", f".{expected}"}
    assert any("is named" in note for note in raw.notes) == misleading


@pytest.mark.parametrize(
    ("word", "scale"), [(None, 1), ("mm", 1), ("in", 25.4), ("Inch", 25.4), ("cm", 10), ("metre", 1000), ("µm", 0.001)]
)
def test_unit_given(put, word, scale):
    """A unit given scales a file that names none; inch is 25.4 mm exactly."""
    raw = read_mesh(put(FILES["stl"]), unit=word)
    np.testing.assert_array_equal(raw.extents_mm, np.array([1, 2, 3]) * scale)


def test_unit_of_a_3mf(put):
    """A 3MF that names its unit keeps it, with a note where another was given."""
    data = package(
        model_xml(f'<object id="1" type="model">{mesh_xml(BOX)}</object>', '<item objectid="1"/>', 'unit="inch"')
    )
    raw = read_mesh(put(data, "a.3mf"), unit="mm")
    assert raw.extents_mm == pytest.approx([25.4, 50.8, 76.2])
    assert raw.unit == "inch"
    assert "the file itself says inch" in raw.notes[0]


def test_unknown_unit(put):
    """A unit that does not exist is refused before the file is opened."""
    with pytest.raises(UnknownUnit):
        read_mesh(put(FILES["stl"]), unit="parsec")


def test_object_of_a_file_without_objects(put):
    """An object asked of an STL is refused."""
    with pytest.raises(NoSuchObject):
        read_mesh(put(FILES["stl"]), object_name="lid")


def test_no_file_folder_or_pipe(tmp_path):
    """Nothing there, a folder, and a pipe that would never end are refused by name."""
    os.mkfifo(tmp_path / "pipe.stl")
    for path in (tmp_path / "none.stl", tmp_path, tmp_path / "pipe.stl", tmp_path / "none" / "a.stl"):
        with pytest.raises(MissingFile) as fault:
            read_mesh(path)
        assert str(path) in fault.value.where


def test_no_permission(put):
    """A file that may not be read is refused with the system's reason."""
    path = put(FILES["stl"])
    path.chmod(0)
    if os.access(path, os.R_OK):
        pytest.skip("this user may read everything")
    with pytest.raises(CannotOpenFile):
        read_mesh(path)


def test_the_system_refuses(put, monkeypatch):
    """A disk that fails, and a name no system takes, are faults."""
    path = put(FILES["stl"])

    def fail(_self):
        raise OSError(5, "Input/output error")

    monkeypatch.setattr("pathlib.Path.read_bytes", fail)
    for bad in (path, "a\0b.stl"):
        with pytest.raises((CannotOpenFile, MissingFile)):
            read_mesh(bad)


@pytest.mark.parametrize(
    ("data", "name", "fault"),
    [
        (b"", "a.stl", EmptyFile),
        (bytes(5000), "a.stl", FileUnfinished),
        (bytes(5000), "a.3mf", FileUnfinished),
        (b"hello, this is a letter\n", "a.txt", UnknownFormat),
        (b"ISO-10303-21;\nHEADER;\n", "a.step", UnknownFormat),
        (b"glTF\x02\0\0\0", "a.glb", UnknownFormat),
        (b'<?xml version="1.0"?><model/>', "a.3mf", UnknownFormat),
        (b"solid", "a.stl", FileCutShort),
        (b"ply\n", "a.ply", FileCutShort),
        (b"PK\x03\x04", "a.3mf", FileCutShort),
    ],
)
def test_what_is_no_mesh(put, data, name, fault):
    """Empty, blank, foreign and barely begun files are told apart."""
    with pytest.raises(fault) as found:
        read_mesh(put(data, name))
    assert found.value.fix


def test_a_file_that_is_too_long(tmp_path):
    """A file of 3 GB, blank and taking no room, is refused before a byte is read."""
    path = tmp_path / "a.stl"
    with path.open("wb") as file:
        file.truncate(3 << 30)
    with pytest.raises(FileTooLarge):
        read_mesh(path)


@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf, 1e30])
@pytest.mark.parametrize("make", [stl_binary, stl_ascii, obj_text, ply_file])
def test_not_finite(put, value, make):
    """Coordinates that are not numbers, or as far as a star, are refused in every format."""
    points = BOX[0].copy()
    points[3, 1] = value
    with pytest.raises(NotFinite):
        read_mesh(put(make((points, BOX[1])), f"a.{make.__name__[:3]}"))


@pytest.mark.parametrize("make", [stl_binary, stl_ascii, obj_text, ply_file])
def test_only_flat_triangles(put, make):
    """A file whose triangles have all shrunk to lines is refused."""
    points = np.array([[0, 0, 0], [1, 1, 1], [2, 2, 2], [3, 3, 3.0]])
    with pytest.raises(NoArea):
        read_mesh(put(make((points, np.array([[0, 1, 2], [1, 2, 3], [2, 2, 0]]))), f"a.{make.__name__[:3]}"))


def test_shared_meshes(shared_meshes):
    """Every real mesh reads with the extents its list of sources gives."""
    rows = (shared_meshes / "SOURCES.csv").read_text().splitlines()[1:]
    for row in rows:
        words = row.split(",")
        extents = [float(word) for word in words[7].split("x")]
        raw = read_mesh(shared_meshes / words[0])
        np.testing.assert_allclose(raw.extents_mm, extents, atol=0.06, err_msg=words[0])
        assert len(raw.triangles) == int(words[6])


@pytest.mark.skipif(sys.platform == "win32", reason="no resource limits there")
def test_bounded_memory_for_a_lie(put):
    """A PLY that announces thousands of millions of rows costs no memory to speak of."""
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    for count in (4_000_000_000, 10**18):
        with pytest.raises(FileCutShort):
            read_mesh(put(ply_file(BOX, "<").replace(b"face 12", f"face {count}".encode()), "a.ply"))
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 50_000


@pytest.mark.parametrize("form", BASES)
def test_damaged_files(tmp_path, form):
    """Three hundred damaged files of each format: a solid or a fault with a fix, and nothing else."""
    path = tmp_path / f"a.{form[:3]}"
    edit = st.tuples(st.integers(0, 11), st.floats(0.0, 1.0), st.integers(0, 1 << 20))

    @settings(max_examples=300, deadline=None, derandomize=True, database=None)
    @given(st.integers(0, 2), st.lists(edit, min_size=1, max_size=4), st.booleans())
    def survive(base, edits, inside):
        path.write_bytes(damaged_file(form, base, edits, inside=inside))
        try:
            solid = mend(read_mesh(path)).solid
        except PrepError as fault:
            assert fault.code != "fault"
            assert fault.found
        else:
            assert solid.volume_mm3 > 0.0

    survive()
