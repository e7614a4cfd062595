"""The exact distance between two triangles, with the points where they are nearest."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from prep.geometry.solid import Array


@dataclass(frozen=True)
class Gaps:
    """Nearest points of pairs of triangles.

    Attributes
    ----------
    distance_mm : (n,) float64
    on_first, on_second : (n, 3) float64, mm
    """

    distance_mm: Array
    on_first: Array
    on_second: Array


def triangle_gaps(first: Array, second: Array) -> Gaps:
    """Nearest points of triangle pairs that do not cut through one another.

    Parameters
    ----------
    first, second : (n, 3, 3) float64, mm
        Corners.

    Notes
    -----
    Exact for triangles that are apart or touch along an edge or corner: the least of nine edge pairs and six
    corner-to-face distances. Where many pairs of points are equally near (parallel edges or faces), the mean of those
    found, which is as near. Pairs that cross get the distance between their outlines.

    References
    ----------
    C. Ericson, "Real-Time Collision Detection" (2005), sections 5.1.5 and 5.1.9.
    """
    offers: list[tuple[Array, Array]] = []
    for k in range(3):
        a, b = first[:, k], first[:, (k + 1) % 3]
        offers += [_between_segments(a, b, second[:, j], second[:, (j + 1) % 3]) for j in range(3)]
        offers.append((first[:, k], nearest_on_triangles(first[:, k], second)))
        offers.append((nearest_on_triangles(second[:, k], first), second[:, k]))
    squares = np.stack([((p - q) ** 2).sum(axis=1) for p, q in offers])
    least = squares.min(axis=0)
    equal = squares <= least * (1.0 + 1e-9)
    share = (equal / equal.sum(axis=0))[:, :, None]
    on_first = sum((part * p for part, (p, _) in zip(share, offers, strict=True)), np.zeros_like(first[:, 0]))
    on_second = sum((part * q for part, (_, q) in zip(share, offers, strict=True)), np.zeros_like(first[:, 0]))
    return Gaps(np.sqrt(least), on_first, on_second)


def nearest_on_triangles(point: Array, corners: Array) -> Array:
    """The point of each triangle (n, 3, 3) nearest to its own query (n, 3)."""
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    ab, ac, ap = b - a, c - a, point - a
    d00, d01, d11 = _dot(ab, ab), _dot(ab, ac), _dot(ac, ac)
    d20, d21 = _dot(ap, ab), _dot(ap, ac)
    bottom = d00 * d11 - d01 * d01
    solid = bottom > 1e-14 * d00 * d11
    safe = np.where(solid, bottom, 1.0)
    v = (d11 * d20 - d01 * d21) / safe
    w = (d00 * d21 - d01 * d20) / safe
    inside = solid & (v >= 0.0) & (w >= 0.0) & (v + w <= 1.0)
    best = np.where(inside[:, None], a + v[:, None] * ab + w[:, None] * ac, np.inf)
    square = np.where(inside, ((np.where(inside[:, None], best, 0.0) - point) ** 2).sum(axis=1), np.inf)
    for start, end in ((a, b), (b, c), (c, a)):
        along = end - start
        length = _dot(along, along)
        share = np.clip(_dot(point - start, along) / np.where(length > 0.0, length, 1.0), 0.0, 1.0)
        candidate = start + share[:, None] * along
        away = ((candidate - point) ** 2).sum(axis=1)
        better = away < square
        square = np.where(better, away, square)
        best = np.where(better[:, None], candidate, best)
    return best


def _between_segments(a: Array, b: Array, c: Array, d: Array) -> tuple[Array, Array]:
    """Nearest points of segments ab and cd; of parallel ones, the middle of what they have beside each other."""
    u, v, w = b - a, d - c, a - c
    uu, vv, uv, uw, vw = _dot(u, u), _dot(v, v), _dot(u, v), _dot(u, w), _dot(v, w)
    bottom = uu * vv - uv * uv
    slanted = bottom > 1e-14 * uu * vv
    crossing = (uv * vw - vv * uw) / np.where(slanted, bottom, 1.0)
    beside = (np.clip(-uw, 0.0, uu) + np.clip(_dot(d - a, u), 0.0, uu)) / np.where(uu > 0.0, 2.0 * uu, 1.0)
    s = np.where(slanted, np.clip(crossing, 0.0, 1.0), beside)
    t = (uv * s + vw) / np.where(vv > 0.0, vv, 1.0)
    held = np.clip(t, 0.0, 1.0)
    s = np.where(held != t, np.clip((uv * held - uw) / np.where(uu > 0.0, uu, 1.0), 0.0, 1.0), s)
    return a + s[:, None] * u, c + held[:, None] * v


def _dot(a: Array, b: Array) -> Array:
    return np.asarray(np.einsum("ij,ij->i", a, b))
