"""Samples of a skin joined through the material."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from prep.geometry.open_sky import spread_points
from prep.geometry.sample_links import linked
from tests.places.masked import as_solid, block


def pieces(body, keep=None, count=1500):
    """Labels of the samples of a kernel body, joined by the links among those kept, and the samples."""
    points, normals = spread_points(as_solid(body).corners, count)
    pairs = linked(as_solid(body), points, normals, count)
    good = np.ones(count, dtype=bool) if keep is None else keep(points)
    pairs = pairs[good[pairs].all(axis=1)]
    graph = coo_matrix((np.ones(len(pairs)), pairs.T), shape=(count, count))
    return connected_components(graph, directed=False)[1][good], points[good]


def gutter(scale=1.0):
    """A U of 2 mm walls, 4 mm apart."""
    body = block((0, 0, 0), (8, 30, 12)) - block((2, -1, 2), (6, 31, 20))
    return body.scale((scale,) * 3)


@pytest.mark.parametrize("scale", [0.1, 1.0, 1e3])
def test_connected_body_is_one(scale) -> None:
    """All samples of a connected body hang together, at any scale."""
    assert len(np.unique(pieces(gutter(scale))[0])) == 1


def test_walls_of_a_cut_gutter_are_two() -> None:
    """Above its floor the walls of a gutter are two pieces, each with both of its skins."""
    labels, points = pieces(gutter(), keep=lambda points: points[:, 2] > 3.0)
    left = points[:, 0] < 4.0
    assert len(np.unique(labels[left])) == 1
    assert len(np.unique(labels[~left])) == 1
    assert labels[left][0] != labels[~left][0]


def test_bodies_that_only_near_one_another_are_apart() -> None:
    """Two plates 0.05 mm apart share no link, however close their samples."""
    body = block((0, 0, 0), (20, 20, 2)) + block((0, 0, 2.05), (20, 20, 4))
    labels, points = pieces(body)
    below = points[:, 2] < 2.02
    assert len(np.unique(labels[below])) == 1
    assert not set(labels[below].tolist()) & set(labels[~below].tolist())
