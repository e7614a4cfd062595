"""`close_gaps`: open edges welded shut, by the smallest tolerance that does it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from prep.geometry.edges import Edges
from prep.geometry.solid import Array

SHARE = 1e-4
"""Widest weld, as a share of the diagonal: 0.01 mm on a part of 100 mm, a tenth of what any process resolves."""

_GROWTH = 4.0
_ROUNDS = 8
"""Rounds of pairing at one tolerance; a pinhole of eight corners needs three."""

Triangles = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Closed:
    """Triangles with fewer open edges than before.

    Attributes
    ----------
    vertices, triangles : (n, 3) float64 and (m, 3) int64
        The vertices given, some of them no longer used.
    welded, split, dropped : int
        Vertices that gave way to another, sides cut at a vertex that lay on them, triangles that vanished.
    moved : float
        Farthest that any vertex moved.
    tolerance : float
        The widest that was needed.
    """

    vertices: Array
    triangles: Triangles
    welded: int = 0
    split: int = 0
    dropped: int = 0
    moved: float = 0.0
    tolerance: float = 0.0


def close_gaps(vertices: Array, triangles: Triangles, diagonal: float) -> Closed:
    """Weld vertices on open edges with a growing tolerance until none is open or the limit is reached.

    Parameters
    ----------
    vertices : (n, 3) float64
        In the frame of the file, where its rounding was done; no two equal.
    triangles : (m, 3) int64
        None names a vertex twice.
    diagonal : float
        Of the bounds; the limit is `SHARE` of it.

    Notes
    -----
    Only vertices on open edges take part, in mutually nearest pairs, so a chain of points never collapses. Each
    tolerance is four times the last, beginning at the rounding of single precision; what does not make open edges
    fewer is taken back. If that does not close the surface it is begun anew, and a vertex that lies on an open side
    within the tolerance then cuts that side in two.
    """
    plain, left = _grow(vertices, triangles, diagonal, (_weld_pairs,))
    if left == 0:
        return plain
    cut, fewer = _grow(vertices, triangles, diagonal, (_weld_pairs, _cut_sides))
    return cut if fewer < left else plain


def _grow(vertices: Array, triangles: Triangles, diagonal: float, attempts: Sequence[Attempt]) -> tuple[Closed, int]:
    """The best that some attempts do with a growing tolerance, and how many edges it leaves open."""
    state = Closed(vertices, triangles)
    edges = Edges.of(triangles)
    limit = SHARE * diagonal
    tolerance = min(float(np.abs(vertices).max(initial=0.0)) * 2.0**-23, limit)
    while edges.open_count and 0.0 < tolerance <= limit:
        for attempt in attempts:
            tried, after = state, edges
            for _ in range(_ROUNDS):
                further = attempt(tried, after, tolerance) if after.open_count else None
                if further is None or len(further.triangles) == 0:
                    break
                tried, after = further, Edges.of(further.triangles)
            if after.open_count < edges.open_count:
                state, edges = tried, after
        tolerance = min(tolerance * _GROWTH, limit) if tolerance < limit else np.inf
    return state, edges.open_count


def drop_collapsed(triangles: Triangles) -> Triangles:
    """The triangles that name three different vertices."""
    a, b, c = triangles.T
    return np.asarray(triangles[(a != b) & (b != c) & (c != a)])


Attempt = Callable[[Closed, Edges, float], Closed | None]


def _weld_pairs(state: Closed, edges: Edges, tolerance: float) -> Closed | None:
    """Every two open vertices that are each other's nearest within the tolerance become the one of lower number."""
    candidates = np.unique(edges.ends[edges.is_open])
    if len(candidates) < 2:
        return None
    points = state.vertices[candidates]
    gap, other = map(np.asarray, cKDTree(points).query(points, k=2, distance_upper_bound=tolerance * (1.0 + 1e-9)))
    nearest = np.where(np.isfinite(gap[:, 1]), other[:, 1], -1)
    own = np.arange(len(candidates))
    nearest = np.where(other[:, 1] == own, other[:, 0], nearest)
    mutual = (nearest >= 0) & (nearest[nearest] == own) & (nearest < own)
    if not mutual.any():
        return None
    target = np.arange(len(state.vertices))
    target[candidates[mutual]] = candidates[nearest[mutual]]
    moved = np.linalg.norm(points[mutual] - points[nearest[mutual]], axis=1).max()
    triangles = drop_collapsed(target[state.triangles])
    return Closed(
        state.vertices,
        triangles,
        state.welded + int(mutual.sum()),
        state.split,
        state.dropped + len(state.triangles) - len(triangles),
        max(state.moved, float(moved)),
        tolerance,
    )


def _cut_sides(state: Closed, edges: Edges, tolerance: float) -> Closed | None:
    """Every open side on which an open vertex lies is cut there, with its triangle; one cut a triangle and round."""
    sides = np.flatnonzero((edges.uses == 1)[edges.of_side])
    loose = np.unique(edges.ends[edges.is_open])
    if len(sides) == 0:
        return None
    triangle, k = sides // 3, sides % 3
    start = state.triangles[triangle, k]
    end = state.triangles[triangle, (k + 1) % 3]
    a, along = state.vertices[start], state.vertices[end] - state.vertices[start]
    length = np.linalg.norm(along, axis=1)
    near = cKDTree(state.vertices[loose]).query(a + along / 2.0, k=min(8, len(loose)))[1].reshape(len(sides), -1)
    vertex = loose[near]
    reach = state.vertices[vertex] - a[:, None, :]
    share = np.einsum("sij,sj->si", reach, along) / np.maximum(length**2, 1e-300)[:, None]
    off = np.linalg.norm(reach - share[:, :, None] * along[:, None, :], axis=2)
    margin = tolerance / np.maximum(length, 1e-300)
    fits = (off <= tolerance) & (share > margin[:, None]) & (share < 1.0 - margin[:, None])
    fits &= (vertex != start[:, None]) & (vertex != end[:, None])
    pick = np.where(fits, off, np.inf).argmin(axis=1)
    rows = np.flatnonzero(fits.any(axis=1))
    rows = rows[np.unique(triangle[rows], return_index=True)[1]]
    if len(rows) == 0:
        return None
    cut, middle = triangle[rows], vertex[rows, pick[rows]]
    apex = state.triangles[cut, (k[rows] + 2) % 3]
    kept = np.delete(state.triangles, cut, axis=0)
    new = np.concatenate([np.stack([start[rows], middle, apex], 1), np.stack([middle, end[rows], apex], 1)])
    return Closed(
        state.vertices,
        drop_collapsed(np.concatenate([kept, new])),
        state.welded,
        state.split + len(rows),
        state.dropped,
        max(state.moved, float(off[rows, pick[rows]].max())),
        tolerance,
    )
