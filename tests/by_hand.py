"""Distances found the slow way, from the textbook and nothing of the house."""

from __future__ import annotations

import numpy as np


def nearest_by_hand(points, corners, reach=3.0):
    """Distance from points (n, 3) to triangles (m, 3, 3): to the plane where the foot lies within, else to an edge.

    Triangles farther than `reach` from the bounds of all points are left out.
    """
    low, high = points.min(axis=0) - reach, points.max(axis=0) + reach
    kept = corners[((corners.max(axis=1) >= low) & (corners.min(axis=1) <= high)).all(axis=1)]
    least = np.full(len(points), np.inf)
    if len(kept) == 0:
        return least
    a, b, c = kept[:, 0], kept[:, 1], kept[:, 2]
    normal = np.cross(b - a, c - a)
    size = np.linalg.norm(normal, axis=1)
    a, b, c, normal = (values[size > 1e-12] for values in (a, b, c, normal))
    normal = normal / np.linalg.norm(normal, axis=1)[:, None]
    for start in range(0, len(points), 64):
        p = points[start : start + 64, None]
        height = np.einsum("nmk,mk->nm", p - a, normal)
        inside = np.ones(height.shape, dtype=bool)
        best = np.full(height.shape, np.inf)
        for first, second in ((a, b), (b, c), (c, a)):
            edge = second - first
            inside &= np.einsum("nmk,mk->nm", p - first, np.cross(normal, edge)) >= 0.0
            share = np.clip(np.einsum("nmk,mk->nm", p - first, edge) / np.einsum("mk,mk->m", edge, edge), 0.0, 1.0)
            best = np.minimum(best, np.linalg.norm(p - first - share[..., None] * edge, axis=2))
        least[start : start + 64] = np.where(inside, np.abs(height), best).min(axis=1)
    return least


def pocket_points(middle, along, out, width, length, depth, below=0.0, spacing=0.7):
    """Points over a pocket's side and floor, (n, 3) mm, the side only where it is deeper than `below`.

    Parameters: middle of the rim, unit slot direction, unit opening direction, overall width and length, depth.
    """
    across = np.cross(out, along)
    radius, half = width / 2.0, (length - width) / 2.0
    angle = np.linspace(0.0, 2.0 * np.pi, max(24, int(2.0 * np.pi * radius / spacing)), endpoint=False)
    ring = radius * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    outline = ring + np.column_stack([np.where(ring[:, 0] >= 0.0, half, -half), np.zeros(len(ring))])
    if half > 0.0:
        run = np.arange(-half, half, spacing)
        outline = np.concatenate([outline, *[np.column_stack([run, np.full(len(run), w)]) for w in (radius, -radius)]])
    levels = np.linspace(min(below, depth), depth, max(2, int(depth / spacing)))
    walls = [np.column_stack([outline, np.full(len(outline), -level)]) for level in levels]
    shares = np.linspace(0.0, 1.0, max(3, int(radius / spacing)))
    floor = [np.column_stack([share * outline, np.full(len(outline), -depth)]) for share in shares]
    local = np.concatenate(walls + floor)
    return np.asarray(middle) + local @ np.stack([along, across, out])
