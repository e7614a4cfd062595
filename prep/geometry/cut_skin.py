"""`cut_along`: a closed skin split where a field over it changes sign, so that the line between runs along edges."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from prep.geometry.solid import Array, Solid

Bools = NDArray[np.bool_]
Rows = NDArray[np.int64]

SNAP = 1e-7
"""Share of the diagonal: a corner this near a cutting plane counts as on it, so that no sliver is made beside it."""

_SAME = 1e-9
"""Share of a field's largest value below which it is zero at a point that a neighbour's cut has made."""


@dataclass(frozen=True, eq=False)
class Skin:
    """A closed surface on its way to being cut.

    Attributes
    ----------
    vertices : (n, 3) float64, mm
    triangles : (m, 3) int64, counter-clockwise seen from outside
    source : (m,) int64, the triangle of the solid each piece came from
    """

    vertices: Array
    triangles: Rows
    source: Rows

    @staticmethod
    def of(solid: Solid) -> Skin:
        """The skin of a solid before any cut."""
        return Skin(solid.vertices, solid.triangles.astype(np.int64), np.arange(len(solid.triangles)))


@dataclass(frozen=True, eq=False)
class Cut:
    """A skin after a cut.

    Attributes
    ----------
    skin : Skin
    parent : (m,) int64, the triangle each came from in the skin before the cut
    inside : (m,) bool, pieces on the side asked for
    """

    skin: Skin
    parent: Rows
    inside: Bools


def cut_along(skin: Skin, values: Array) -> Cut:
    """Split every triangle along the line where a field is zero; inside are the pieces where it is nowhere negative.

    Parameters
    ----------
    values : (m, 3) float64
        The field at the corners of every triangle, linear between them. Two triangles at an edge may disagree, as
        normals do at a crease.

    Notes
    -----
    Exact: no vertex moves, and the surface stays the same set of points. New vertices lie on edges and are shared by
    both triangles there, so a closed skin stays closed. An edge is split at one point in each round, and rounds go on
    until no triangle has both signs: one round where the field is continuous, two or three where it is not.
    Cost: O(m) and a sort of the crossing edges in each round.
    """
    vertices, triangles, source, values = skin.vertices, skin.triangles, skin.source, values.copy()
    zero = _SAME * float(np.abs(values).max(initial=0.0))
    parent = np.arange(len(triangles))
    while (crossing := _crossing(values)).any():
        points, split = _split_points(vertices, triangles, values, crossing)
        vertices = np.concatenate([vertices, points])
        rows, corners, at_corners = _pieces(triangles, values, split, crossing, zero, vertices)
        triangles, values, parent, source = corners, at_corners, parent[rows], source[rows]
    inside = np.asarray(values >= 0.0).all(axis=1)
    return Cut(Skin(vertices, triangles, source), parent, np.asarray(inside))


def cut_half_spaces(skin: Skin, limits: list[tuple[int, float, float]]) -> Cut:
    """Split along planes square to the axes; inside are the pieces within all of them, those in a plane included.

    Parameters
    ----------
    limits : list of (axis, level, sign)
        Points with ``sign * (p[axis] - level) >= 0`` are within.

    Notes
    -----
    Exact, but that a corner nearer a plane than `SNAP` of the diagonal counts as on it.
    """
    parent = np.arange(len(skin.triangles))
    inside = np.ones(len(skin.triangles), dtype=bool)
    snap = SNAP * float(np.linalg.norm(np.ptp(skin.vertices, axis=0)))
    for axis, level, sign in limits:
        height = sign * (skin.vertices[:, axis] - level)
        height[np.abs(height) <= snap] = 0.0
        values = np.where(inside[:, None], height[skin.triangles], -1.0)
        cut = cut_along(skin, values)
        skin, parent, inside = cut.skin, parent[cut.parent], cut.inside
    return Cut(skin, parent, inside)


def opposite(triangles: NDArray[np.integer]) -> Rows:
    """The triangle on the other side of every edge of a closed skin, (m, 3); edge k runs from corner k to the next."""
    start = triangles.astype(np.int64)
    end = np.roll(start, -1, axis=1)
    order = np.argsort((np.minimum(start, end) * (int(start.max()) + 1) + np.maximum(start, end)).ravel())
    beside = np.empty(len(order), dtype=np.int64)
    beside[order[0::2]], beside[order[1::2]] = order[1::2] // 3, order[0::2] // 3
    return beside.reshape(-1, 3)


def _crossing(values: Array) -> Bools:
    """Sides, (m, 3), along which a triangle's own field changes sign."""
    after = np.roll(values, -1, axis=1)
    return np.asarray(((values < 0.0) & (after > 0.0)) | ((values > 0.0) & (after < 0.0)))


def _split_points(vertices: Array, triangles: Rows, values: Array, crossing: Bools) -> tuple[Array, tuple[Rows, Array]]:
    """Points to split edges at, and for every side (m, 3) its point (-1 for none) and how far along the side it is."""
    start, end = triangles, np.roll(triangles, -1, axis=1)
    low, high = np.minimum(start, end), np.maximum(start, end)
    key = low * len(vertices) + high
    after = np.roll(values, -1, axis=1)
    keys, first = np.unique(key[crossing], return_index=True)
    here, there = values[crossing][first], after[crossing][first]
    turned = (start > end)[crossing][first]
    share = here / (here - there)
    share = np.where(turned, 1.0 - share, share)
    a, b = vertices[low[crossing][first]], vertices[high[crossing][first]]
    points = a + share[:, None] * (b - a)
    at = np.minimum(np.searchsorted(keys, key), len(keys) - 1)
    found = keys[at] == key
    number = np.where(found, at + len(vertices), -1)
    along = np.where(start > end, 1.0 - share[at], share[at])
    return points, (number, along)


def _pieces(
    triangles: Rows,
    values: Array,
    split: tuple[Rows, Array],
    crossing: Bools,
    zero: float,
    vertices: Array,
) -> tuple[Rows, Rows, Array]:
    """For every piece: the triangle it is of, its corners, and the field there."""
    number, along = split
    after = np.roll(values, -1, axis=1)
    between = values + along * (after - values)
    own = crossing & (np.abs(between) <= np.maximum(zero, _SAME * np.abs(after - values)))
    between = np.where(own | (np.abs(between) <= zero), 0.0, between)
    has = number >= 0
    count = has.sum(axis=1)
    rows, corners, at_corners = [np.flatnonzero(count == 0)], [triangles[count == 0]], [values[count == 0]]

    def add(chosen: Rows, *names: tuple[Rows, Array]) -> None:
        rows.append(chosen)
        corners.append(np.stack([name[0] for name in names], axis=1))
        at_corners.append(np.stack([name[1] for name in names], axis=1))

    for k in range(3):
        one, two = (k + 1) % 3, (k + 2) % 3
        chosen = np.flatnonzero((count == 1) & has[:, k])
        a, b, c = ((triangles[chosen, j], values[chosen, j]) for j in (k, one, two))
        p = (number[chosen, k], between[chosen, k])
        add(chosen, a, p, c)
        add(chosen, p, b, c)
        both = np.flatnonzero((count == 2) & has[:, k] & has[:, two])
        far = np.linalg.norm(vertices[triangles[both, one]] - vertices[number[both, two]], axis=1)
        near = np.linalg.norm(vertices[number[both, k]] - vertices[triangles[both, two]], axis=1)
        for chosen, crosswise in ((both[near <= far], True), (both[near > far], False)):
            a, b, c = ((triangles[chosen, j], values[chosen, j]) for j in (k, one, two))
            p, q = (number[chosen, k], between[chosen, k]), (number[chosen, two], between[chosen, two])
            add(chosen, a, p, q)
            add(chosen, p, b, c if crosswise else q)
            add(chosen, *((p, c, q) if crosswise else (b, c, q)))
    chosen = np.flatnonzero(count == 3)
    a, b, c = ((triangles[chosen, j], values[chosen, j]) for j in range(3))
    p, q, r = ((number[chosen, j], between[chosen, j]) for j in range(3))
    for names in ((a, p, r), (p, b, q), (r, q, c), (p, q, r)):
        add(chosen, *names)
    return np.concatenate(rows), np.concatenate(corners), np.concatenate(at_corners)
