"""`cut_by_lines`: a skin split along lines that lie on it, such as the borders between two colours."""

from __future__ import annotations

import numpy as np

from prep.geometry.cut_skin import Bools, Rows, Skin, cut_along
from prep.geometry.edges import Edges
from prep.geometry.solid import Array

ON = 1e-6
"""Share of the diagonal: a line this near a triangle's plane lies on it; one this near its side adds no cut."""

_AT_ONCE = 2_000_000
"""Pairs of triangle and line looked at together, to bound memory."""


def cut_by_lines(skin: Skin, chosen: Bools, lines: Array) -> tuple[Skin, Rows]:
    """The skin with its chosen triangles split along every line that lies on them; also the parent of every piece.

    Parameters
    ----------
    chosen : (m,), triangles to look at; their neighbours are split only at shared edges
    lines : (k, 2, 3) mm, straight pieces

    Notes
    -----
    In each round a triangle is cut along one line, drawn on to its sides; rounds go on until no line runs through the
    inside of a piece. Cost: chosen triangles times lines in each round, boxes compared first.
    """
    parent = np.arange(len(skin.triangles))
    if len(lines) == 0:
        return skin, parent
    on = ON * float(np.linalg.norm(np.ptp(skin.vertices, axis=0)))
    looked_at = chosen.copy()
    while looked_at.any():
        rows = np.flatnonzero(looked_at)
        corners = skin.vertices[skin.triangles[rows]]
        line = _first_across(corners, lines, on)
        hit = line >= 0
        values = np.full((len(skin.triangles), 3), 1.0)
        values[rows[hit]] = _heights(corners[hit], lines[line[hit]], on)
        crossed = np.zeros(len(values), dtype=bool)
        crossed[rows[hit]] = True
        cut = cut_along(skin, values)
        skin, parent, looked_at = cut.skin, parent[cut.parent], crossed[cut.parent]
    return skin, parent


def borders(triangles: Rows, normals: Array, label: Rows, crease_deg: float) -> Rows:
    """Edges, (k, 2) vertices, at which the label changes, the surface turns by more than an angle, or it ends."""
    edges = Edges.of(triangles)
    order = np.argsort(edges.of_side, kind="stable")
    begin = np.searchsorted(edges.of_side[order], np.arange(len(edges.ends)))
    first, last = order[begin] // 3, order[begin + edges.uses - 1] // 3
    turned = np.einsum("ij,ij->i", normals[first], normals[last]) < np.cos(np.radians(crease_deg))
    return np.asarray(edges.ends[turned | (label[first] != label[last]) | (edges.uses != 2)])


def _heights(corners: Array, lines: Array, on: float) -> Array:
    """Distance of every corner, (m, 3), from the plane through a line and square to the triangle."""
    along = lines[:, 1] - lines[:, 0]
    square = np.cross(along, np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]))
    square /= np.linalg.norm(square, axis=1, keepdims=True)
    height = np.einsum("ikj,ij->ik", corners - lines[:, :1], square)
    return np.where(np.abs(height) <= on, 0.0, height)


def _first_across(corners: Array, lines: Array, on: float) -> Rows:
    """For every triangle the first line that runs through its inside, -1 for none."""
    low, high = lines.min(axis=1) - on, lines.max(axis=1) + on
    found = np.full(len(corners), -1)
    step = max(1, _AT_ONCE // len(lines))
    for begin in range(0, len(corners), step):
        some = corners[begin : begin + step]
        near = (some.min(axis=1)[:, None] <= high).all(axis=2) & (some.max(axis=1)[:, None] >= low).all(axis=2)
        row, line = np.nonzero(near)
        across = _runs_through(some[row], lines[line], on)
        row, line = row[across], line[across]
        first, at = np.unique(row, return_index=True)
        found[begin + first] = line[at]
    return found


def _runs_through(corners: Array, lines: Array, on: float) -> Bools:
    """Whether each line lies on its triangle and runs through the inside of it."""
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    length = np.linalg.norm(normal, axis=1, keepdims=True)
    normal = np.divide(normal, length, out=np.zeros_like(normal), where=length > 0.0)
    off = np.einsum("ikj,ij->ik", lines - corners[:, :1], normal)
    flat = (np.abs(off) <= on).all(axis=1) & (length[:, 0] > 0.0)
    begin, end = np.zeros(len(lines)), np.ones(len(lines))
    for k in range(3):
        side = corners[:, (k + 1) % 3] - corners[:, k]
        inward = np.cross(normal, side)
        width = np.linalg.norm(inward, axis=1, keepdims=True)
        inward = np.divide(inward, width, out=np.zeros_like(inward), where=width > 0.0)
        deep = np.einsum("ikj,ij->ik", lines - corners[:, k, None], inward) - on
        slope = deep[:, 1] - deep[:, 0]
        at = np.divide(-deep[:, 0], slope, out=np.zeros(len(lines)), where=slope != 0.0)
        begin = np.where(slope > 0.0, np.maximum(begin, at), begin)
        end = np.where(slope < 0.0, np.minimum(end, at), end)
        end = np.where((slope == 0.0) & (deep[:, 0] <= 0.0), -1.0, end)
    span = (end - begin) * np.linalg.norm(lines[:, 1] - lines[:, 0], axis=1)
    return np.asarray(flat & (span > on))
