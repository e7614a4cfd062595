"""Written files: whole, proven, the same bytes, and never over an input."""

from __future__ import annotations

import hashlib
import struct
import zipfile

import lib3mf
import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from fixtures.mutated import box, joined
from prep.errors import CannotWriteFile, EmptySolid, OverwritesInput, UnknownFormat, WrittenDiffers
from prep.geometry.mend import mend
from prep.geometry.read_mesh import read_mesh
from prep.geometry.solid import Solid
from prep.geometry.write_mesh import write_mesh

FORMATS = ["3mf", "stl", "ply"]


def solid(*surfaces):
    """A solid of closed surfaces."""
    return Solid.of(*joined(*surfaces))


def ball(radius=10.0, subdivisions=3):
    """A faceted ball from trimesh."""
    made = trimesh.creation.icosphere(subdivisions=subdivisions, radius=radius)
    return Solid.of(np.asarray(made.vertices), np.asarray(made.faces))


HOLLOW = solid(box((0, 0, 0), (4, 5, 6)), box((1, 1, 1), (2, 3, 4), inward=True))


@pytest.mark.parametrize("kind", FORMATS)
@pytest.mark.parametrize("scale", [1e-2, 1.0, 1e3])
def test_reads_back(tmp_path, kind, scale):
    """Shells, handles, cavities, volume and bounds come back to single precision, at any scale."""
    ring = trimesh.creation.annulus(3.0 * scale, 5.0 * scale, 2.0 * scale)
    for wanted in (ball(10.0 * scale), Solid.of(ring.vertices, ring.faces)):
        path = tmp_path / f"a.{kind}"
        digest = write_mesh(path, wanted)
        assert digest == hashlib.sha256(path.read_bytes()).hexdigest()
        found = mend(read_mesh(path))
        assert found.repairs == ()
        assert found.solid.topology == wanted.topology
        assert found.solid.volume_mm3 == pytest.approx(wanted.volume_mm3, rel=1e-6)
        np.testing.assert_allclose(found.solid.bounds_mm, wanted.bounds_mm, rtol=2e-7)


@settings(max_examples=15, deadline=None, derandomize=True)
@given(st.tuples(*[st.floats(1.0, 50.0)] * 3), st.tuples(*[st.floats(-500.0, 500.0)] * 3), st.sampled_from(FORMATS))
def test_boxes_anywhere(tmp_path_factory, size, at, kind):
    """Any hollow box anywhere keeps its cavity."""
    low = np.array(at)
    wanted = solid(box(low, low + size), box(low + np.array(size) / 4, low + np.array(size) / 2, inward=True))
    path = tmp_path_factory.mktemp("w") / f"a.{kind}"
    write_mesh(path, wanted)
    found = mend(read_mesh(path)).solid
    assert found.topology.sealed_voids == 1
    assert found.volume_mm3 == pytest.approx(wanted.volume_mm3, rel=1e-4)


@pytest.mark.parametrize("kind", FORMATS)
def test_same_bytes_twice(tmp_path, kind):
    """The same solids give the same bytes under the same name; another solid gives others."""
    (tmp_path / "b").mkdir()
    first = write_mesh(tmp_path / f"a.{kind}", {"body": HOLLOW, "lid": ball()})
    assert write_mesh(tmp_path / "b" / f"a.{kind}", {"body": HOLLOW, "lid": ball()}) == first
    assert write_mesh(tmp_path / f"a.{kind}", {"body": HOLLOW, "lid": ball(9.0)}) != first


def test_3mf_in_strict_mode(tmp_path):
    """lib3mf in strict mode reads it without a warning: named, oriented, in mm, at the right coordinates."""
    path = tmp_path / "timer.3mf"
    write_mesh(path, {"body": HOLLOW, "lid": ball()})
    # outside check: the 3MF consortium's own reader, strict
    library = lib3mf.get_wrapper()
    model = library.CreateModel()
    reader = model.QueryReader("3mf")
    reader.SetStrictModeActive(True)
    reader.ReadFromFile(str(path))
    assert reader.GetWarningCount() == 0
    assert model.GetUnit() == lib3mf.Lib3MF.ModelUnit.MilliMeter
    names = []
    objects = model.GetMeshObjects()
    while objects.MoveNext():
        mesh = objects.GetCurrentMeshObject()
        assert mesh.IsManifoldAndOriented()
        names.append(mesh.GetName())
    assert names == ["body", "lid"]


def test_3mf_and_ply_by_trimesh(tmp_path):
    """trimesh, without mending anything, finds the volume and a closed surface."""
    pytest.importorskip("lxml")
    for kind in ("3mf", "ply"):
        write_mesh(tmp_path / f"a.{kind}", HOLLOW)
        # outside check: trimesh's own readers
        found = trimesh.load_scene(tmp_path / f"a.{kind}", process=False).to_mesh()
        assert found.is_watertight
        assert found.volume == pytest.approx(120 - 6, rel=1e-7)


def test_stl_by_trimesh_and_by_its_rules(tmp_path):
    """Size 84 + 50 n, a header that does not begin with "solid", no attributes, unit normals outward."""
    path = tmp_path / "a.stl"
    write_mesh(path, ball())
    data = path.read_bytes()
    count = struct.unpack_from("<I", data, 80)[0]
    assert len(data) == 84 + 50 * count
    assert not data.lower().startswith(b"solid")
    rows = np.frombuffer(data, [("n", "<f4", 3), ("c", "<f4", (3, 3)), ("a", "<u2")], offset=84)
    assert not rows["a"].any()
    np.testing.assert_allclose(np.linalg.norm(rows["n"], axis=1), 1.0, atol=1e-6)
    assert (np.einsum("ij,ij->i", rows["n"], rows["c"].mean(axis=1)) > 0).all()
    # outside check: trimesh's own reader, which welds equal corners
    assert trimesh.load_mesh(path).volume == pytest.approx(ball().volume_mm3, rel=1e-6)


def test_ply_colours(tmp_path):
    """A colour at each vertex comes back at each vertex, read by trimesh."""
    wanted = ball()
    shades = np.random.default_rng(4).integers(0, 256, (len(wanted.vertices), 4), dtype=np.uint8)
    write_mesh(tmp_path / "a.ply", wanted, colours=shades)
    # outside check: trimesh's own reader
    found = trimesh.load_mesh(tmp_path / "a.ply", process=False)
    np.testing.assert_array_equal(found.visual.vertex_colors, shades)
    with pytest.raises(UnknownFormat):
        write_mesh(tmp_path / "a.stl", wanted, colours=shades)
    with pytest.raises(UnknownFormat):
        write_mesh(tmp_path / "a.ply", wanted, colours=shades[1:])


def test_inputs_are_never_written_over(tmp_path):
    """An input is refused as a place to write, by whatever path or link it is named, and stays as it was."""
    source = tmp_path / "in.stl"
    write_mesh(source, HOLLOW)
    before = source.read_bytes()
    (tmp_path / "link.stl").hardlink_to(source)
    for place in (source, tmp_path / "." / "in.stl", tmp_path / "link.stl"):
        with pytest.raises(OverwritesInput):
            write_mesh(place, ball(), inputs=[tmp_path / "other.stl", source])
    assert source.read_bytes() == before


def test_stl_that_rounding_breaks(tmp_path):
    """Two bodies a nanometre apart grow together in STL: refused, nothing appears, and 3MF takes them."""
    near = solid(box((0, 0, 0), (50, 50, 50)), box((50 + 1e-9, 0, 0), (90, 50, 50)))
    with pytest.raises(WrittenDiffers) as fault:
        write_mesh(tmp_path / "a.stl", near)
    assert "3MF" in fault.value.fix
    assert "1 shells" in fault.value.found
    assert list(tmp_path.iterdir()) == []
    write_mesh(tmp_path / "a.3mf", near)


def test_a_writer_that_errs_is_caught(tmp_path, monkeypatch):
    """A file that loses a triangle or a tenth of a percent of its size is refused, and the old file stays."""
    path = tmp_path / "a.ply"
    write_mesh(path, HOLLOW)
    before = path.read_bytes()
    grown = solid(box((0, 0, 0), (4, 5, 6.006)), box((1, 1, 1), (2, 3, 4), inward=True))
    real = read_mesh
    for wrong in (grown, ball()):
        write_mesh(tmp_path / "wrong.ply", wrong)
        monkeypatch.setattr("prep.geometry.write_mesh.read_mesh", lambda _: real(tmp_path / "wrong.ply"))
        with pytest.raises(WrittenDiffers):
            write_mesh(path, HOLLOW)
        monkeypatch.undo()
    assert path.read_bytes() == before


@pytest.mark.parametrize("kind", FORMATS)
def test_whole_or_not_at_all(tmp_path, monkeypatch, kind):
    """A disk that fails half-way leaves neither a half file nor the hidden one beside it."""

    def fail(_self, _target):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("pathlib.Path.replace", fail)
    with pytest.raises(CannotWriteFile) as fault:
        write_mesh(tmp_path / f"a.{kind}", HOLLOW)
    assert "No space left" in fault.value.found
    assert list(tmp_path.iterdir()) == []


def test_folders(tmp_path):
    """Missing folders are made; a file where a folder should be is a fault."""
    write_mesh(tmp_path / "parts" / "deep" / "a.stl", HOLLOW)
    with pytest.raises(CannotWriteFile):
        write_mesh(tmp_path / "parts" / "deep" / "a.stl" / "b.stl", HOLLOW)


def test_what_cannot_be_begun(tmp_path):
    """No solids, or a format not written, are refused."""
    with pytest.raises(EmptySolid):
        write_mesh(tmp_path / "a.stl", {})
    with pytest.raises(UnknownFormat):
        write_mesh(tmp_path / "a.obj", HOLLOW)


def test_dates_in_the_package_are_fixed(tmp_path):
    """No clock enters the package."""
    write_mesh(tmp_path / "a.3mf", HOLLOW)
    with zipfile.ZipFile(tmp_path / "a.3mf") as package:
        assert {member.date_time[0] for member in package.infolist()} == {1980}


def test_shared_meshes(tmp_path, shared_meshes):
    """Every real mesh, mended, writes to every format and reads back."""
    for path in sorted(shared_meshes.glob("*.[s3][tm][lf]")):
        wanted = mend(read_mesh(path)).solid
        for kind in FORMATS:
            write_mesh(tmp_path / f"{path.stem}.{kind}", wanted, inputs=[path])
