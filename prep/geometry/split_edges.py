"""`split_edges`: bodies that touch along an edge given an edge each."""

from __future__ import annotations

import itertools

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from prep.geometry.edges import Edges
from prep.geometry.solid import Array

Whole = NDArray[np.int64]
Pair = tuple[int, int]
"""Two sides that run along one edge in opposite directions."""

_MOST_TRIED = 5
"""Sides each way up to which every pairing is tried."""


def split_edges(vertices: Array, triangles: Whole, edges: Edges) -> tuple[Array, Whole, int]:
    """Triangles in which every edge is shared by two, made by doubling vertices where bodies only touch.

    Parameters
    ----------
    vertices, triangles : (n, 3) and (m, 3)
        Closed: as many triangles run along every edge one way as the other.
    edges : Edges
        Of these triangles.

    Returns
    -------
    vertices, triangles
        Not moved; a vertex at which bodies part stands once for each.
    count : int
        How many edges were shared by more than two.

    Notes
    -----
    Around a shared edge, triangles of one piece (joined by ordinary edges) are paired first. The rest are paired by
    angle across the material: seen along the edge, one triangle opens the material and the next closes it. Where
    bodies overlap, so that two open before one closes, the pairing that joins the fewest pieces is taken, so that
    bodies stay apart and can be united. Where a body touches itself along an edge and hangs together at both its ends,
    no vertex can be doubled; one of the two edges is then given a vertex in its middle. Cost: a loop over the shared
    edges only.
    """
    shared = np.flatnonzero(edges.uses > 2)
    if len(shared) == 0:
        return vertices, triangles, 0
    order = np.argsort(edges.of_side, kind="stable")
    ordinary = order[(edges.uses == 2)[edges.of_side[order]]]
    ordinary_pairs = np.stack([ordinary[0::2], ordinary[1::2]], axis=1)
    pieces = _Pieces(len(triangles), ordinary_pairs)
    begin = np.searchsorted(edges.of_side[order], shared)
    pairs: list[Pair] = []
    crossing: list[tuple[list[int], list[int]]] = []
    for edge, at in zip(shared.tolist(), begin.tolist(), strict=True):
        sides = order[at : at + int(edges.uses[edge])]
        angle = _angles(vertices, triangles, edges.ends[edge], sides)
        _match(sides, edges.runs_forward[sides], pieces.of[sides // 3], angle, pairs, crossing)
    for pair in pairs:
        pieces.join(pair)
    for opening, closing in crossing:
        pairs += pieces.fewest_joined(opening, closing)
    special = np.array(pairs, dtype=np.int64)
    every = np.concatenate([ordinary_pairs, special])
    vertices, parted = _part(vertices, triangles, every, edges.ends[shared])
    vertices, parted, is_cut = _cut(vertices, parted, special)
    if is_cut:
        vertices, parted, _ = split_edges(vertices, parted, Edges.of(parted))
    return vertices, parted, len(shared)


class _Pieces:
    """Pieces of surface, which grow together as sides are paired."""

    def __init__(self, count: int, pairs: Whole) -> None:
        joined = pairs // 3
        graph = coo_matrix((np.ones(len(joined), dtype=bool), (joined[:, 0], joined[:, 1])), shape=(count, count))
        self.of: NDArray[np.int32] = connected_components(graph, directed=False)[1]
        self._root: dict[int, int] = {}

    def root(self, side: int) -> int:
        """The piece that a side has grown into."""
        piece = int(self.of[side // 3])
        while piece in self._root:
            piece = self._root[piece]
        return piece

    def join(self, pair: Pair) -> None:
        """Let the pieces of two sides grow together."""
        a, b = self.root(pair[0]), self.root(pair[1])
        if a != b:
            self._root[max(a, b)] = min(a, b)

    def fewest_joined(self, opening: list[int], closing: list[int]) -> list[Pair]:
        """Of all ways to pair the sides of one edge, the one that joins the fewest pieces, which is then done."""
        ways = itertools.permutations(closing) if len(closing) <= _MOST_TRIED else [closing]
        best = min(ways, key=lambda way: sum(self.root(a) != self.root(b) for a, b in zip(opening, way, strict=True)))
        pairs = list(zip(opening, best, strict=True))
        for pair in pairs:
            self.join(pair)
        return pairs


def _angles(vertices: Array, triangles: Whole, ends: Whole, sides: Whole) -> Array:
    """Angle of each triangle about the edge, turning from its lower-numbered end to the higher."""
    a, b = vertices[ends]
    along = (b - a) / max(float(np.linalg.norm(b - a)), 1e-300)
    across = np.cross(along, np.eye(3)[int(np.argmin(np.abs(along)))])
    across /= np.linalg.norm(across) or 1.0
    apex = vertices[triangles[sides // 3, (sides % 3 + 2) % 3]] - a
    return np.asarray(np.arctan2(apex @ np.cross(along, across), apex @ across))


def _match(
    sides: Whole,
    forward: NDArray[np.bool_],
    piece: NDArray[np.int32],
    angle: Array,
    pairs: list[Pair],
    crossing: list[tuple[list[int], list[int]]],
) -> None:
    """Pair the sides at one edge, one running each way; those of bodies that overlap there are left in `crossing`.

    A side that runs forward has its outside on the side of growing angle, so it closes the material; one that runs
    backward opens it.
    """
    left = np.ones(len(sides), dtype=bool)
    for own in np.unique(piece):
        mine = np.flatnonzero(piece == own)
        if len(mine) == 2 and forward[mine[0]] != forward[mine[1]]:
            pairs.append((int(sides[mine[0]]), int(sides[mine[1]])))
            left[mine] = False
    rest = np.flatnonzero(left)
    if len(rest) == 0:
        return
    rest = rest[np.lexsort((~forward[rest], angle[rest]))]
    depth = np.cumsum(np.where(forward[rest], -1, 1))
    rest = np.roll(rest, -(int(np.argmin(depth)) + 1))
    opening = [int(side) for side in sides[rest[~forward[rest]]]]
    closing = [int(side) for side in sides[rest[forward[rest]]]]
    if np.ptp(depth) == 1:
        pairs += zip(opening, closing, strict=True)
    else:
        crossing.append((opening, closing))


def _part(vertices: Array, triangles: Whole, pairs: Whole, ends: Whole) -> tuple[Array, Whole]:
    """Give each fan of triangles around the ends of shared edges a vertex of its own."""
    hot = np.zeros(len(vertices), dtype=bool)
    hot[ends] = True
    corner_vertex = triangles.ravel()
    start = pairs
    end = pairs - pairs % 3 + (pairs + 1) % 3
    links = np.concatenate([np.stack([start[:, 0], end[:, 1]], 1), np.stack([end[:, 0], start[:, 1]], 1)])
    links = links[hot[corner_vertex[links[:, 0]]]]
    corners = np.flatnonzero(hot[corner_vertex])
    local = np.searchsorted(corners, links)
    graph = coo_matrix(
        (np.ones(len(local), dtype=bool), (local[:, 0], local[:, 1])), shape=(len(corners), len(corners))
    )
    _, fan = connected_components(graph, directed=False)
    _, first, which = np.unique(fan, return_index=True, return_inverse=True)
    owner = corner_vertex[corners[first]]
    keeps = np.zeros(len(first), dtype=bool)
    keeps[np.unique(owner, return_index=True)[1]] = True
    number = np.where(keeps, owner, 0)
    number[~keeps] = len(vertices) + np.arange(int((~keeps).sum()))
    parted = corner_vertex.copy()
    parted[corners] = number[which.reshape(-1)]
    return np.concatenate([vertices, vertices[owner[~keeps]]]), parted.reshape(-1, 3)


def _cut(vertices: Array, triangles: Whole, pairs: Whole) -> tuple[Array, Whole, bool]:
    """Give all but one of the pairs that still run between the same two vertices a vertex in the middle.

    Of pairs that share a triangle only the first is cut; the rest wait for the next call.
    """
    start = triangles.ravel()[pairs[:, 0]]
    end = triangles.ravel()[pairs[:, 0] - pairs[:, 0] % 3 + (pairs[:, 0] + 1) % 3]
    taken: set[int] = set()
    seen: set[tuple[int, int]] = set()
    new: list[tuple[int, int, int]] = []
    middles: list[Array] = []
    for pair, a, b in zip(pairs.tolist(), start.tolist(), end.tolist(), strict=True):
        ends = (min(a, b), max(a, b))
        own = {side // 3 for side in pair}
        if ends not in seen:
            seen.add(ends)
        elif not own & taken:
            taken |= own
            number = len(vertices) + len(middles)
            middles.append((vertices[a] + vertices[b]) / 2.0)
            for side in pair:
                first, second, apex = (int(triangles[side // 3, (side + k) % 3]) for k in range(3))
                new += [(first, number, apex), (number, second, apex)]
    if not new:
        return vertices, triangles, False
    kept = np.delete(triangles, sorted(taken), axis=0)
    return np.concatenate([vertices, np.array(middles)]), np.concatenate([kept, np.array(new)]), True
