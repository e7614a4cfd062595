"""`cut_by_lines`: a skin split along lines that lie on it."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from fixtures.drawn import box, ico_sphere, prism_ngon
from prep.geometry.cut_by_lines import borders, cut_by_lines
from prep.geometry.cut_skin import Skin
from prep.geometry.solid import Solid

BLOCK = Solid.of(*box((20.0, 20.0, 10.0)))
EVERY = np.ones(12, dtype=bool)


def ring(sides: int, radius: float, height: float) -> np.ndarray:
    """A regular outline at a height, side by side, (k, 2, 3)."""
    turn = 2.0 * np.pi * np.arange(sides) / sides + 0.1
    points = np.stack([radius * np.cos(turn), radius * np.sin(turn), np.full(sides, height)], axis=1)
    return np.stack([points, np.roll(points, -1, axis=0)], axis=1)


@pytest.mark.parametrize(("sides", "scale"), [(3, 1.0), (17, 1.0), (17, 1e-3), (17, 1e3)])
def test_an_outline_on_a_face(sides: int, scale: float) -> None:
    """Every piece lies within the outline or without it, and those within have its area."""
    solid = Solid.of(BLOCK.vertices * scale, BLOCK.triangles)
    skin, parent = cut_by_lines(Skin.of(solid), EVERY, ring(sides, 6.0 * scale, 5.0 * scale))
    mesh = trimesh.Trimesh(skin.vertices, skin.triangles, process=False)
    assert mesh.is_watertight
    assert mesh.area == pytest.approx(solid.area_mm2, rel=1e-9)
    assert (parent == skin.source).all()
    middles = mesh.triangles_center / scale
    turn = np.mod(np.arctan2(middles[:, 1], middles[:, 0]) - 0.1, 2 * np.pi / sides) - np.pi / sides
    reach = np.hypot(middles[:, 0], middles[:, 1]) * np.cos(turn)
    within = (middles[:, 2] > 4.999) & (reach < 6.0 * np.cos(np.pi / sides))
    exact = sides / 2.0 * 36.0 * np.sin(2.0 * np.pi / sides) * scale**2
    assert mesh.area_faces[within].sum() == pytest.approx(exact, rel=1e-6)


def test_lines_elsewhere_cut_nothing() -> None:
    """Lines above the face, along its own sides, or on triangles that were not chosen leave the skin as it is."""
    edges = BLOCK.vertices[BLOCK.triangles[:, :2]]
    for lines, chosen in ((ring(5, 4.0, 5.1), EVERY), (edges, EVERY), (ring(5, 4.0, 5.0), ~EVERY), (edges[:0], EVERY)):
        assert len(cut_by_lines(Skin.of(BLOCK), chosen, lines)[0].triangles) == 12


def test_borders_are_creases_and_changes() -> None:
    """A post's borders are its two rims; where a label changes, that edge too."""
    post = Solid.of(*prism_ngon(48, 10.0, 20.0))
    triangles = post.triangles.astype(np.int64)
    none = np.zeros(len(triangles), dtype=np.int64)
    assert len(borders(triangles, post.triangle_normals, none, 30.0)) == 96
    ball = Solid.of(*ico_sphere(5.0, 2))
    label = np.zeros(len(ball.triangles), dtype=np.int64)
    label[7] = 1
    found = borders(ball.triangles.astype(np.int64), ball.triangle_normals, label, 180.0)
    assert sorted(np.unique(found).tolist()) == sorted(ball.triangles[7].tolist())
    assert len(found) == 3
