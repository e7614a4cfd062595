"""`drop_duplicates` and `drop_sheets`: triangles that stand twice over, wound the same way or back to back."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from prep.geometry.edges import Edges

Triangles = NDArray[np.int64]

_ROUNDS = 32


def drop_duplicates(triangles: Triangles) -> Triangles:
    """Triangles (m, 3) without second copies, where no edge comes open by it.

    Notes
    -----
    A body exported twice has every triangle twice, and all copies go. Two bodies that share a face may share a
    triangle of it too; that copy stays, because both bodies need theirs. The second is told from the first by what
    dropping it does to the edges around it.
    """
    lowest = triangles.argmin(axis=1)
    rows = np.arange(len(triangles))
    turned = np.stack([triangles[rows, (lowest + k) % 3] for k in range(3)], axis=1)
    _, first, which = np.unique(turned, axis=0, return_index=True, return_inverse=True)
    extra = first[which.reshape(-1)] != rows
    if not extra.any():
        return triangles
    edges = Edges.of(triangles)
    of_triangle = edges.of_side.reshape(-1, 3)
    was_open = edges.is_open
    for _ in range(_ROUNDS):
        uses = np.bincount(of_triangle[~extra].ravel(), minlength=len(was_open))
        worse = (uses % 2 == 1) & ~was_open
        back = extra & worse[of_triangle].any(axis=1)
        if not back.any():
            return np.asarray(triangles[~extra])
        extra &= ~back
    return triangles


def drop_sheets(triangles: NDArray[np.integer]) -> Triangles:
    """Triangles (m, 3) without those that lie back to back with another of the same three vertices.

    Notes
    -----
    Two such triangles enclose nothing, and their edges stay paired when both go.
    """
    _, which = np.unique(np.sort(triangles, axis=1), axis=0, return_inverse=True)
    turns = _turns_forward(triangles)
    forward = np.bincount(which.reshape(-1), weights=turns)
    backward = np.bincount(which.reshape(-1), weights=~turns)
    return np.asarray(triangles[((forward == 0) | (backward == 0))[which.reshape(-1)]])


def _turns_forward(triangles: NDArray[np.integer]) -> NDArray[np.bool_]:
    """Whether the vertices of each triangle, from the lowest number on, go up before they go down."""
    a, b, c = triangles.T
    return np.asarray(((a < b) & (b < c)) | ((b < c) & (c < a)) | ((c < a) & (a < b)))
