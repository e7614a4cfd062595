"""`with_colours`: colours of a file on the solid it was mended into."""

from __future__ import annotations

from pathlib import Path

import lib3mf
import numpy as np
import pytest

from fixtures.drawn import box, joined, moved, subdivided
from prep.geometry.mend import mend
from prep.geometry.raw_mesh import RawMesh
from prep.geometry.read_mesh import read_mesh
from prep.geometry.with_colours import with_colours


def write_coloured(path: Path, drawn, shades) -> None:
    """A 3MF with one colour to a triangle, the first also the object's own, written by lib3mf."""
    model = lib3mf.get_wrapper().CreateModel()
    group = model.AddColorGroup()
    mesh = model.AddMeshObject()
    vertices, triangles = drawn
    for x, y, z in vertices.tolist():
        mesh.AddVertex(lib3mf.Position((lib3mf.ctypes.c_float * 3)(x, y, z)))
    for corners in triangles.tolist():
        mesh.AddTriangle(lib3mf.Triangle((lib3mf.ctypes.c_uint32 * 3)(*corners)))
    for row, shade in enumerate(shades):
        number = group.AddColor(lib3mf.Color(*shade, 255))
        properties = lib3mf.TriangleProperties(group.GetResourceID(), (lib3mf.ctypes.c_uint32 * 3)(*[number] * 3))
        mesh.SetTriangleProperties(row, properties)
        if row == 0:
            mesh.SetObjectLevelProperty(group.GetResourceID(), number)
    model.AddBuildItem(mesh, lib3mf.get_wrapper().GetIdentityTransform())
    model.QueryWriter("3mf").WriteToFile(str(path))


def test_a_coloured_cube(tmp_path: Path) -> None:
    """Each face of a cube keeps its colour; the file is written by lib3mf."""
    drawn = box()
    tops = drawn[0][drawn[1]].mean(axis=1)[:, 2]
    write_coloured(
        tmp_path / "cube.3mf", drawn, [(255, 136, 0) if z > 4.9 else (0, 0, 9) if z > -4.9 else (7, 7, 7) for z in tops]
    )
    raw = read_mesh(tmp_path / "cube.3mf")
    solid, names = with_colours(raw, mend(raw).solid)
    assert names is not None
    areas = {name: solid.triangle_areas[np.array(names) == name].sum() for name in set(names)}
    assert areas == pytest.approx({"#ff8800": 100.0, "#000009": 400.0, "#070707": 100.0})


def test_two_bodies_made_one() -> None:
    """Where bodies of two colours are united, the skin left of each keeps its own."""
    pair = joined(box((10.0, 10.0, 10.0)), moved(box((10.0, 8.0, 8.0)), (8.0, 0.0, 0.0)))
    shades = np.repeat(np.array([[255, 0, 0, 255], [0, 0, 255, 255]], dtype=np.uint8), 12, axis=0)
    raw = RawMesh(*pair, "mm", "3mf", "", shades)
    solid, colours = with_colours(raw, mend(raw).solid)
    assert solid.volume_mm3 == pytest.approx(1000.0 + 8.0 * 64.0)
    names = np.array(colours)
    assert solid.triangle_areas[names == "#ff0000"].sum() == pytest.approx(600.0 - 64.0)
    assert solid.triangle_areas[names == "#0000ff"].sum() == pytest.approx(64.0 + 4 * 64.0)


def test_a_file_without_colours() -> None:
    """No colours in, none out."""
    raw = RawMesh(*box(), "mm", "stl", "")
    assert with_colours(raw, mend(raw).solid)[1] is None


def test_a_triangle_without_colour() -> None:
    """What is wholly transparent in a coloured file has no colour."""
    shades = np.tile(np.array([255, 0, 0, 255], dtype=np.uint8), (12, 1))
    shades[:4] = 0
    raw = RawMesh(*box(), "mm", "3mf", "", shades)
    assert sorted(set(with_colours(raw, mend(raw).solid)[1] or ())) == ["", "#ff0000"]


def test_a_border_across_a_flat_survives_uniting() -> None:
    """A boss united across the border of two colours in one flat leaves the border where it was."""
    plate = subdivided(box((20.0, 20.0, 10.0)), 3)
    boss = moved(box((4.0, 4.0, 4.0)), (5.0, 0.3, 5.0))
    middles = plate[0][plate[1]].mean(axis=1)
    red = np.append((middles[:, 2] > 4.99) & (middles[:, 0] > 5.0), np.zeros(12, dtype=bool))
    shades = np.where(red[:, None], [255, 0, 0, 255], [0, 0, 0, 255]).astype(np.uint8)
    raw = RawMesh(*joined(plate, boss), "mm", "3mf", "", shades)
    mended = mend(raw).solid
    solid, colours = with_colours(raw, mended)
    assert len(solid.triangles) > len(mended.triangles)
    assert solid.volume_mm3 == pytest.approx(4000.0 + 32.0)
    assert solid.triangle_areas[np.array(colours) == "#ff0000"].sum() == pytest.approx(100.0 - 8.0, rel=1e-9)


def test_bodies_that_meet_flush() -> None:
    """Two bodies of two colours that meet flush are one part, each with its own colour up to the line they meet in."""
    pair = joined(subdivided(box(), 1), moved(box((6.0, 10.0, 10.0)), (8.0, 0.0, 0.0)))
    shades = np.repeat(np.array([[255, 0, 0, 255], [0, 0, 255, 255]], dtype=np.uint8), [48, 12], axis=0)
    raw = RawMesh(*pair, "mm", "3mf", "", shades)
    solid, colours = with_colours(raw, mend(raw).solid)
    assert solid.topology.shells == 1
    names = np.array(colours)
    assert solid.triangle_areas[names == "#ff0000"].sum() == pytest.approx(500.0)
    assert solid.triangle_areas[names == "#0000ff"].sum() == pytest.approx(100.0 + 4 * 60.0)
