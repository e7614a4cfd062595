"""`rigid_motion`: the turn and shift that carry one mesh onto another, found from triangles that are alike."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import permutations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from prep.geometry.solid import Array, Solid

_MOST_TRIES = 160
_PROBES = 400


def rigid_motion(first: Solid, second: Solid, tolerance_mm: float) -> Array | None:
    """The motion after which most of the first mesh lies on the second, (4, 4); None if none is found.

    Parameters
    ----------
    tolerance_mm : float
        How far a corner may lie from its partner.

    Notes
    -----
    Tries, in this order: staying put; shifting the middle; carrying one of the rarest triangles onto each of its
    likes in the other mesh; laying principal axes on one another. The motion that brings most of the first mesh's
    corners onto corners of the second is taken, fitted to all of them. Meshes that are one shape cut into other
    triangles are found by their axes, so not where two principal moments are equal. Never a mirror. Cost: at most 160
    tries of 400 nearest corners each.

    References
    ----------
    W. Kabsch, "A solution for the best rotation to relate two sets of vectors", Acta Cryst. A 32 (1976) 922.
    """
    tree = cKDTree(second.vertices)
    probes = first.vertices[np.linspace(0, len(first.vertices) - 1, min(_PROBES, len(first.vertices))).astype(np.intp)]
    best, most = None, 0.0
    for motion in _candidates(first, second, tolerance_mm):
        met = float(np.mean(_away(tree, _carry(motion, probes))[0] <= 4.0 * tolerance_mm))
        if met > most + 0.02:
            best, most = motion, met
        if met == 1.0:
            break
    if best is None or most < 0.25:
        return _by_axes(first, second)
    return _fitted(best, first.vertices, tree, 4.0 * tolerance_mm)


def _candidates(first: Solid, second: Solid, tolerance_mm: float) -> Iterator[Array]:
    yield np.eye(4)
    shift = np.eye(4)
    shift[:3, 3] = second.centre_mm - first.centre_mm
    yield shift
    shift = shift.copy()
    shift[:3, 3] = second.bounds_mm[0] - first.bounds_mm[0]
    yield shift
    yield from _by_rare_triangles(first, second, tolerance_mm)


def _by_rare_triangles(first: Solid, second: Solid, tolerance_mm: float) -> Iterator[Array]:
    """Motions that carry a large, rare triangle of the first onto each of its likes in the second."""
    ours, theirs = _sides(first), _sides(second)
    step = 8.0 * tolerance_mm
    tree, own = cKDTree(theirs), cKDTree(ours)
    large = np.argsort(-first.triangle_areas, kind="stable")[:64]
    wanted = cKDTree(ours[large])
    likes = [sorted(rows) for rows in wanted.query_ball_tree(tree, step)]
    count = [len(rows) for rows in wanted.query_ball_tree(own, step)]
    order = sorted((k for k in range(len(large)) if likes[k]), key=lambda k: (count[k], len(likes[k]), k))
    tries = 0
    for k in order:
        here = _from_longest(first, int(large[k]))
        for row in likes[k]:
            for there in _turns(_from_longest(second, int(row)), ours[large[k]], step):
                yield _onto(here, there)
                tries += 1
                if tries >= _MOST_TRIES:
                    return


def _sides(solid: Solid) -> Array:
    """Side lengths of every triangle, counted from the longest on, (m, 3)."""
    corners = solid.corners
    lengths = np.linalg.norm(np.roll(corners, -1, axis=1) - corners, axis=2)
    turn = (lengths.argmax(axis=1)[:, None] + np.arange(3)) % 3
    return np.asarray(np.take_along_axis(lengths, turn, axis=1))


def _from_longest(solid: Solid, row: int) -> Array:
    """Corners of a triangle from the start of its longest side on, (3, 3)."""
    corners = solid.vertices[solid.triangles[row]]
    lengths = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    return np.asarray(np.roll(corners, -int(lengths.argmax()), axis=0))


def _turns(corners: Array, sides: Array, step: float) -> Iterator[Array]:
    """The triangle begun at each corner from which its sides are the ones wanted."""
    for turn in range(3):
        rolled = np.roll(corners, -turn, axis=0)
        lengths = np.linalg.norm(np.roll(rolled, -1, axis=0) - rolled, axis=1)
        if (np.abs(lengths - sides) <= step).all():
            yield rolled


def _onto(here: Array, there: Array) -> Array:
    """The rigid motion that brings points (n, 3) nearest to their partners (n, 3)."""
    middle, goal = here.mean(axis=0), there.mean(axis=0)
    u, _, vt = np.linalg.svd((here - middle).T @ (there - goal))
    flip = np.diag([1.0, 1.0, float(np.sign(np.linalg.det(u @ vt)) or 1.0)])
    motion = np.eye(4)
    motion[:3, :3] = vt.T @ flip @ u.T
    motion[:3, 3] = goal - motion[:3, :3] @ middle
    return motion


def _fitted(motion: Array, points: Array, tree: cKDTree, reach_mm: float) -> Array:
    """The motion fitted to every corner that has a partner within reach; exactly none where all stand still."""
    for _ in range(2):
        away, partner = _away(tree, _carry(motion, points))
        near = away <= reach_mm
        if near.sum() < 3:
            break
        goal = np.asarray(tree.data)[partner[near]]
        if np.array_equal(motion, np.eye(4)) and float(away[near].max()) <= reach_mm / 4.0:
            break
        motion = _onto(points[near], goal)
    return motion


def _by_axes(first: Solid, second: Solid) -> Array | None:
    """The motion that lays principal axes on principal axes, right-handed, by which the surfaces agree best."""
    sizes, here = _axes(first)
    others, there = _axes(second)
    if not np.allclose(sizes, others, rtol=0.02):
        return None
    tree = cKDTree(_spread(second))
    points = _spread(first)
    best, least = None, np.inf
    for order in permutations(range(3)):
        if not np.allclose(sizes[list(order)], others, rtol=0.02):
            continue
        for signs in ((1, 1), (1, -1), (-1, 1), (-1, -1)):
            frame = here[:, list(order)] * np.array([*signs, 1.0])
            frame[:, 2] *= np.sign(np.linalg.det(frame)) * np.sign(np.linalg.det(there))
            motion = np.eye(4)
            motion[:3, :3] = there @ frame.T
            motion[:3, 3] = second.centre_mm - motion[:3, :3] @ first.centre_mm
            away = float(np.sqrt((_away(tree, _carry(motion, points))[0] ** 2).mean()))
            if away < least * (1.0 - 1e-9):
                best, least = motion, away
    return best


def _axes(solid: Solid) -> tuple[Array, Array]:
    """Principal second moments of the material about its middle, smallest first, and their axes in columns."""
    corners = solid.corners - solid.centre_mm
    total = corners.sum(axis=1)
    six = np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2]))
    outer = np.einsum("mki,mkj->mij", corners, corners) + np.einsum("mi,mj->mij", total, total)
    sizes, axes = np.linalg.eigh(np.einsum("m,mij->ij", six, outer) / 120.0)
    return np.asarray(sizes), np.asarray(axes)


def _spread(solid: Solid, count: int = 3000) -> Array:
    """About `count` points spread over the surface by area."""
    from prep.geometry.contact import fill_triangles

    points, owner = fill_triangles(solid.corners, float(np.sqrt(solid.area_mm2 / count)))
    kept: NDArray[np.bool_] = solid.triangle_areas[owner] > 0.0
    rows = np.flatnonzero(kept)
    return np.asarray(points[rows[:: max(1, len(rows) // (4 * count))]])


def _away(tree: cKDTree, points: Array) -> tuple[Array, NDArray[np.intp]]:
    """Distance from each point to the nearest in a tree, and which that is."""
    distance, row = tree.query(points)
    return np.asarray(distance), np.asarray(row)


def _carry(motion: Array, points: Array) -> Array:
    return np.asarray(points @ motion[:3, :3].T + motion[:3, 3])
