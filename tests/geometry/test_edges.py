"""Edges, gaps, and the small things mending is made of."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage

from fixtures.mutated import box, joined
from prep.geometry.close_gaps import SHARE, close_gaps
from prep.geometry.duplicates import drop_duplicates, drop_sheets
from prep.geometry.edges import Edges, is_closed, largest_loop
from prep.geometry.fan import fan
from prep.geometry.orient import orient
from prep.geometry.solid import Solid
from prep.geometry.split_edges import split_edges

BOX = box((0, 0, 0), (1, 1, 1))


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.lists(st.permutations(range(6)).map(lambda p: p[:3]), min_size=1, max_size=14))
def test_counts_agree_with_a_plain_loop(rows):
    """Uses, directions and closedness, as a loop over triangles counts them."""
    triangles = np.array(rows)
    edges = Edges.of(triangles)
    directed = [(t[k], t[(k + 1) % 3]) for t in rows for k in range(3)]
    for (a, b), forward, backward in zip(edges.ends.tolist(), edges.forward, edges.backward, strict=True):
        assert (directed.count((a, b)), directed.count((b, a))) == (forward, backward)
    closed = all(directed.count((a, b)) == directed.count((b, a)) == 1 for a, b in directed)
    assert is_closed(triangles) == closed
    assert is_closed(triangles) == ((edges.forward == 1) & (edges.backward == 1)).all()


def test_no_triangles_are_not_closed():
    """Nothing bounds nothing."""
    assert not is_closed(np.zeros((0, 3), dtype=int))


def test_loops():
    """Two gaps are told apart, and the larger is placed and measured."""
    small, large = box((0, 0, 0), (1, 1, 1)), box((10, 0, 0), (14, 4, 4))
    points, triangles = joined((small[0], small[1][1:]), (large[0], large[1][2:]))
    loops, loop = largest_loop(points, Edges.of(triangles))
    assert loops == 2
    assert loop.edges == 4
    assert loop.centre_mm == (12, 2, 0)
    assert loop.size_mm == (4, 4, 0)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(st.lists(st.integers(0, 9), min_size=1, max_size=12))
def test_fans_cover_their_polygons(sizes):
    """Regular polygons of any number of corners, fanned, have the polygon's own area (n/2) sin(2 pi/n)."""
    corners = [np.stack([np.cos(t), np.sin(t)], 1) for n in sizes for t in [2 * np.pi * np.arange(n) / max(n, 1)]]
    points = np.concatenate(corners)
    triangles, polygon = fan(np.array(sizes), np.arange(sum(sizes)))
    a, b, c = (points[triangles[:, k]] for k in range(3))
    areas = ((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]) / 2
    for k, n in enumerate(sizes):
        expected = n / 2 * np.sin(2 * np.pi / n) if n > 2 else 0.0
        assert areas[polygon == k].sum() == pytest.approx(expected, abs=1e-12)


@settings(max_examples=30, deadline=None, derandomize=True)
@given(st.integers(0, 2**31), st.floats(0.0, 1.0))
def test_orient_turns_the_fewer(seed, share):
    """Whatever triangles are turned over, the piece agrees afterwards and at most half of it was turned."""
    triangles = np.asarray(trimesh.creation.icosphere(subdivisions=1).faces, dtype=np.int64).copy()
    over = np.random.default_rng(seed).random(len(triangles)) < share
    triangles[over] = triangles[over][:, ::-1]
    wound, count = orient(triangles, Edges.of(triangles))
    assert is_closed(wound)
    assert count == min(over.sum(), len(over) - over.sum())


def test_second_copies():
    """All copies of a body go; a triangle that two bodies need stays; sheets go back to back."""
    points, triangles = BOX
    assert len(drop_duplicates(np.concatenate([triangles, np.roll(triangles, 1, axis=1)]))) == 12
    assert len(drop_duplicates(np.concatenate([triangles, triangles[3:5]]))) == 12
    tent = np.array([(0, 2, 1), (0, 1, 3), (1, 2, 3), (2, 0, 3)])
    other = np.array([(0, 2, 1), (0, 1, 4), (1, 2, 4), (2, 0, 4)])
    assert len(drop_duplicates(np.concatenate([tent, other]))) == 8
    assert len(drop_sheets(np.concatenate([triangles, [(20, 21, 22), (21, 20, 22)]]))) == 12
    assert points.shape == (8, 3)


@pytest.mark.parametrize("scale", [1e-3, 1.0, 1e3])
def test_gaps_up_to_the_limit(scale):
    """A crack just below the limit is closed and one just above is not, at any scale."""
    points, triangles = BOX[0] * scale, BOX[1]
    diagonal = float(np.linalg.norm(np.ptp(points, axis=0)))
    for share, closes in ((0.9, True), (1.1, False)):
        loose = points[triangles].reshape(-1, 3).copy()
        loose[3 * 5] += np.array([1, 0, 0]) * SHARE * diagonal * share
        closed = close_gaps(*unique(loose), diagonal)
        assert (Edges.of(closed.triangles).open_count == 0) == closes
        assert closed.moved <= SHARE * diagonal


def unique(corners):
    """Equal points of a soup made one."""
    points, which = np.unique(corners, axis=0, return_inverse=True)
    return points, which.reshape(-1, 3)


def test_shared_edges_are_parted():
    """Three boxes around one edge come apart into three closed surfaces of the same triangles."""
    parts = [box((0, 0, 0), (1, 1, 1)), box((-1, -1, 0), (0, 0, 1)), box((0, -1, 0), (1, 0, 0.5))]
    points, triangles = unique(joined(*parts[:2])[0][joined(*parts[:2])[1]].reshape(-1, 3))
    edges = Edges.of(triangles)
    new_points, new_triangles, count = split_edges(points, triangles, edges)
    assert count == 1
    assert is_closed(new_triangles)
    np.testing.assert_array_equal(new_points[new_triangles], points[triangles])
    assert len(new_points) == len(points) + 2


def cubes(filled):
    """Surface of unit cubes that share their corners; edges between two that only touch are shared by four."""
    corners, quads = {}, []
    sides = [(0, 2, 3, 1), (4, 5, 7, 6), (0, 1, 5, 4), (2, 6, 7, 3), (0, 4, 6, 2), (1, 3, 7, 5)]
    ways = [(0, 0, -1), (0, 0, 1), (0, -1, 0), (0, 1, 0), (-1, 0, 0), (1, 0, 0)]
    for cell in zip(*np.nonzero(filled), strict=True):
        for side, way in zip(sides, ways, strict=True):
            beside = tuple(np.add(cell, way))
            if min(beside) >= 0 and max(beside) < len(filled) and filled[beside]:
                continue
            points = [tuple(np.add(cell, (k & 1, k >> 1 & 1, k >> 2 & 1))) for k in side]
            quads.append([corners.setdefault(point, len(corners)) for point in points])
    triangles = [(q[0], q[k], q[k + 1]) for q in quads for k in (1, 2)]
    return np.array(list(corners), dtype=float), np.array(triangles)


@settings(max_examples=150, deadline=None, derandomize=True)
@given(st.integers(1, 2**27 - 1), st.sampled_from([1e-3, 1.0, 1e3]))
def test_touching_cubes_part_as_labels_do(bits, scale):
    """Any heap of cubes becomes the bodies that hang together by faces; voids that touch at an edge may be one."""
    filled = np.array([bits >> k & 1 for k in range(27)], dtype=bool).reshape(3, 3, 3)
    points, triangles = cubes(filled)
    new_points, new_triangles, _ = split_edges(points * scale, triangles, Edges.of(triangles))
    assert is_closed(new_triangles)
    solid = Solid.of(new_points, new_triangles)
    assert solid.volume_mm3 == pytest.approx(filled.sum() * scale**3, rel=1e-12)
    # outside check: labels of scipy.ndimage, material joined over faces; air over faces, and over edges or not
    air = np.pad(~filled, 1, constant_values=True)
    over_edges = ndimage.label(air, ndimage.generate_binary_structure(3, 2))[1] - 1
    voids = solid.topology.sealed_voids
    assert solid.topology.shells - voids == ndimage.label(filled)[1]
    assert over_edges <= voids <= ndimage.label(air)[1] - 1


def test_two_legs_of_one_table():
    """Two legs that touch along an edge and hang together by the top are parted across the material: no handle."""
    filled = np.zeros((3, 3, 3), dtype=bool)
    filled[[0, 1, 0, 1, 1], [0, 1, 0, 1, 0], [0, 0, 1, 1, 1]] = True
    points, triangles = cubes(filled)
    new_points, new_triangles, count = split_edges(points, triangles, Edges.of(triangles))
    assert count == 1
    assert Solid.of(new_points, new_triangles).topology.genus == 0
