"""`PipeShape`: volumes, mirrors, play and ends of light pipes, measured on their triangles."""

from __future__ import annotations

import math

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from fixtures.gauges import first_hits
from prep.geometry.light_pipe import PipeShape, Section, face_area, swept
from prep.geometry.solid import Solid

STRAIGHT = ((0.0, 0.0, 0.0), (0.0, 0.0, 20.0))
BENT = ((-10.0, 0.0, 10.0), (0.0, 0.0, 10.0), (0.0, 0.0, 24.0))
TWICE = ((-9.0, 3.0, 0.0), (-9.0, 3.0, 8.0), (0.0, 3.0, 8.0), (0.0, 3.0, 24.0))
every_path = pytest.mark.parametrize("path", [STRAIGHT, BENT, TWICE])
every_section = pytest.mark.parametrize("section", [Section(3.0), Section(4.0, 2.0)])


def shape_of(path, section, collar=1.0, flange=1.0, seat=-3.0):
    """A pipe along a path, its first side along x."""
    return PipeShape(section, np.array(path), np.array([1.0, 0.0, 0.0]), collar, flange, seat)


def plate(top, thick=3.0, wide=60.0):
    """A flat wall under a height."""
    mesh = trimesh.creation.box((wide, wide, thick))
    return Solid.of(np.asarray(mesh.vertices) + np.array([0.0, 0.0, top - thick / 2.0]), np.asarray(mesh.faces))


def as_mesh(solid):
    """The same triangles in trimesh."""
    return trimesh.Trimesh(solid.vertices, solid.triangles, process=False)


@every_path
@every_section
def test_volume(path, section) -> None:
    """Outline times axis, less half of where two legs cross at every bend, and the ring of the shoulder."""
    shape = shape_of(path, section)
    pipe = as_mesh(shape.pipe(plate(path[-1][2]), 1.0, 0.0))
    length, bends = np.linalg.norm(np.diff(np.array(path), axis=0), axis=1).sum(), len(path) - 2
    if section.is_round:  # the crossing of two round legs: Archimedes' 16 r^3 / 3
        radius, crossing, wide = 1.5, 16.0 * 1.5**3 / 3.0, math.pi * 2.5**2
        outline, rel = math.pi * radius**2, 4e-3
    else:
        outline, crossing, wide, rel = 8.0, 4.0 * 4.0 * 2.0, 6.0 * 4.0, 1e-9
    want = outline * length - bends * crossing / 2.0 + (wide - outline) * 1.0
    assert pipe.volume == pytest.approx(want, rel=rel)
    assert section.area_mm2 == pytest.approx(outline, rel=rel)
    assert pipe.is_watertight
    assert pipe.euler_number == 2


@every_section
def test_mirrors(section) -> None:
    """Every mirror is flat, root two times the outline, at 45 degrees, and turns one leg's way into the next's."""
    shape = shape_of(TWICE, section)
    pipe = shape.pipe(plate(24.0), 1.0, 0.0)
    faces = shape.faces(pipe)
    assert set(faces) == {"entry", "exit", "mirror 1", "mirror 2"}
    for number, normal in enumerate(shape.mirror_normals):
        rows = faces[f"mirror {number + 1}"]
        assert face_area(pipe, rows) == pytest.approx(math.sqrt(2.0) * section.area_mm2, rel=1e-9)
        way, after = shape.ways[number], shape.ways[number + 1]
        assert way - 2.0 * (way @ normal) * normal == pytest.approx(after, abs=1e-12)
        assert way @ normal == pytest.approx(math.cos(math.pi / 4.0))
    for word in ("entry", "exit"):
        assert face_area(pipe, faces[word]) == pytest.approx(section.area_mm2, rel=1e-9)


@every_path
@every_section
def test_play_all_round(path, section) -> None:
    """From everywhere on the pipe beside its ends the bore is the play away, no less, behind the mirrors too."""
    shape = shape_of(path, section)
    legs = shape.legs(0.0, 0.0, 0.0)
    bore = as_mesh(shape.bore(0.3, 2.0, 2.0, 0.0))
    points = np.concatenate([leg.vertices for leg in legs])
    _, off, _ = trimesh.proximity.closest_point(bore, points)
    assert bore.contains(points).all()
    assert off.min() >= 0.3 - 1e-9
    assert off.min() <= 0.31


def test_end_follows_a_sphere() -> None:
    """The end lies on the outside it leaves by, raised or sunk along the pipe as asked for."""
    ball = trimesh.creation.icosphere(subdivisions=5, radius=30.0)
    skin = Solid.of(np.asarray(ball.vertices), np.asarray(ball.faces))
    for proud in (-0.4, 0.0, 0.5):
        shape = shape_of(((4.0, 0.0, 10.0), (4.0, 0.0, math.sqrt(900.0 - 16.0))), Section(3.0))
        pipe = shape.pipe(skin, 2.0, proud)
        ends = pipe.corners[shape.faces(pipe)["exit"]].reshape(-1, 3) - [0.0, 0.0, proud]
        off = np.linalg.norm(ends, axis=1) - 30.0
        assert off.max() < 1e-9
        assert off.min() > -0.05


def test_flat_for_the_shoulder() -> None:
    """The cut for the shoulder is as wide as it and its play, from its face to the seat and no farther."""
    shape = shape_of(STRAIGHT, Section(3.0))
    bore = as_mesh(shape.bore(0.3, 2.0, 0.5, -4.0))
    for height, radius in ((15.9, 1.8), (16.1, 2.8), (16.9, 2.8), (17.1, 1.8)):
        way = np.array([[1.0, 0.01, 0.0]])
        reach, _ = first_hits(bore.triangles, np.array([[0.0, 0.0, height]]), way / np.linalg.norm(way))
        assert reach[0] == pytest.approx(radius, abs=0.01)


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 10_000), st.sampled_from([1e-3, 1.0, 1e3]))
def test_swept_box(seed, scale) -> None:
    """A box swept aside has the volume of the box and of its shadow times the way, at every scale."""
    draw = np.random.default_rng(seed)
    size, way = draw.uniform(0.5, 3.0, 3) * scale, draw.uniform(-4.0, 4.0, 3) * scale
    mesh = trimesh.creation.box(size)
    solid = swept(Solid.of(np.asarray(mesh.vertices), np.asarray(mesh.faces)), np.zeros(3), way)
    shadow = size[1] * size[2] * abs(way[0]) + size[0] * size[2] * abs(way[1]) + size[0] * size[1] * abs(way[2])
    assert solid.volume_mm3 == pytest.approx(size.prod() + shadow, rel=1e-6)
