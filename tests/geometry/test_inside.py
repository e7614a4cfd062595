"""Inside or outside."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from prep.geometry.distance import Nearest
from prep.geometry.inside import Inside


def sides(mesh, points):
    """Whether points lie inside a mesh."""
    vertices = np.ascontiguousarray(mesh.vertices, dtype=np.float64)
    triangles = np.ascontiguousarray(mesh.faces, dtype=np.int32)
    return Inside(vertices, triangles).test(points, Nearest(vertices, triangles).query(points))


@pytest.mark.parametrize("scale", [1e-3, 1.0, 1e3])
def test_faces_edges_and_corners_of_a_box(scale):
    """Points nearest to a face, an edge or a corner of a box are told apart by which side they lie on."""
    box = trimesh.creation.box((2 * scale, 2 * scale, 2 * scale))
    grid = np.array([-1.5, -1.0 - 1e-6, -1.0 + 1e-6, 0.1, 1.0 - 1e-6, 1.0 + 1e-6, 1.5])
    points = np.stack(np.meshgrid(grid, grid, grid, indexing="ij"), axis=-1).reshape(-1, 3)
    assert (sides(box, points * scale) == (np.abs(points).max(axis=1) < 1.0)).all()


def test_a_sharp_spike():
    """Points beyond and within the tip of a needle, where its faces nearly oppose, get the right side."""
    base = [[np.cos(a), np.sin(a), 0.0] for a in (0.0, 2.0, 4.0)]
    needle = trimesh.convex.convex_hull(np.array([*base, [0.1, 0.2, 40.0]]))
    tip = np.array([0.1, 0.2, 40.0])
    away = np.random.default_rng(3).normal(size=(2000, 3))
    inside = sides(needle, tip + away * 0.05)
    expected = needle.ray.contains_points(tip + away * 0.05)
    planes = np.einsum("pj,fj->pf", away * 0.05 + tip, needle.face_normals) - np.einsum(
        "fj,fj->f", needle.triangles[:, 0], needle.face_normals
    )
    assert (inside == (planes.max(axis=1) < 0)).all()
    assert (inside == expected).mean() > 0.99


def test_a_hollow_ball_agrees_with_its_radii():
    """In a ball with a sealed void, the wall is inside and the void is not."""
    outer, inner = trimesh.creation.icosphere(4, 10), trimesh.creation.icosphere(4, 6)
    inner.invert()
    hollow = trimesh.util.concatenate([outer, inner])
    points = np.random.default_rng(7).uniform(-12, 12, (4000, 3))
    radius = np.linalg.norm(points, axis=1)
    clear = (np.abs(radius - 10) > 0.05) & (np.abs(radius - 6) > 0.05)
    assert (sides(hollow, points[clear]) == ((radius < 10) & (radius > 6))[clear]).all()


def test_triangles_without_area_leave_no_doubt():
    """A triangle without area on an edge does not decide; the winding number does."""
    box = trimesh.creation.box((2, 2, 2))
    vertices = np.vstack([box.vertices, (box.vertices[box.faces[0][0]] + box.vertices[box.faces[0][1]]) / 2])
    a, b, c = box.faces[0]
    middle = len(box.vertices)
    faces = np.vstack([box.faces[1:], [[a, middle, c], [middle, b, c], [a, b, middle]]])
    points = np.random.default_rng(2).uniform(-1.4, 1.4, (3000, 3))
    found = sides(trimesh.Trimesh(vertices, faces, process=False), points)
    assert (found == (np.abs(points).max(axis=1) < 1)).all()
