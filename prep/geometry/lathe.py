"""Turned and extruded cutters, their facets outside the true curve so that a hole is never undersized."""

from __future__ import annotations

import math

import numpy as np

from prep.geometry.solid import Array, Solid

FACET_ERROR_MM = 0.004
"""How far a facet's corner may stand outside the true circle."""


def sides_for(radius_mm: float) -> int:
    """Number of sides whose corners stand at most `FACET_ERROR_MM` outside the circle: a multiple of 8, at least 48."""
    if radius_mm <= 0.0:
        return 48
    wanted = math.pi / math.acos(radius_mm / (radius_mm + FACET_ERROR_MM))
    return max(48, 8 * math.ceil(wanted / 8.0))


def lathe(profile: Array, frame: Array, sides: int | None = None) -> Solid:
    """A solid of revolution, flat sides tangent to the true surface from outside.

    Parameters
    ----------
    profile : (k, 2) float64, mm
        Radius and height along the axis, from the bottom of the axis to its top; the first and last radius may be
        positive (they are closed by flat ends). Radii are those of the circle to clear; corners lie outside it.
    frame : (4, 4)
        From the lathe's own axes (z along the axis) to the part's.
    sides : int, optional
        Default from the largest radius (`sides_for`).

    Notes
    -----
    The faceted area of a section of radius r is n tan(pi/n) r^2, above pi r^2 by (pi/n)^2 / 3.
    """
    points = np.asarray(profile, dtype=np.float64)
    n = sides or sides_for(float(points[:, 0].max()))
    angle = (np.arange(n) + 0.5) * 2.0 * math.pi / n
    stretch = 1.0 / math.cos(math.pi / n)
    ring = np.stack([np.cos(angle), np.sin(angle)], axis=1) * stretch
    rows = [np.column_stack([ring * radius, np.full(n, height)]) for radius, height in points]
    vertices = np.concatenate([*rows, [[0.0, 0.0, points[0, 1]], [0.0, 0.0, points[-1, 1]]]])
    here = np.arange(n)
    after = (here + 1) % n
    triangles = []
    for row in range(len(points) - 1):
        low, high = row * n, (row + 1) * n
        triangles.append(np.stack([low + here, low + after, high + after], axis=1))
        triangles.append(np.stack([low + here, high + after, high + here], axis=1))
    bottom, top = len(points) * n, len(points) * n + 1
    last = (len(points) - 1) * n
    triangles.append(np.stack([np.full(n, bottom), after, here], axis=1))
    triangles.append(np.stack([np.full(n, top), last + here, last + after], axis=1))
    return Solid.of(vertices @ frame[:3, :3].T + frame[:3, 3], np.concatenate(triangles))


def prism(outline: Array, low_mm: float, high_mm: float, frame: Array) -> Solid:
    """A convex outline, (k, 2) counter-clockwise mm, pulled along the frame's z from `low_mm` to `high_mm`."""
    n = len(outline)
    vertices = np.concatenate(
        [np.column_stack([outline, np.full(n, low_mm)]), np.column_stack([outline, np.full(n, high_mm)])]
    )
    here = np.arange(n)
    after = (here + 1) % n
    fan = np.stack([np.zeros(n - 2, dtype=np.intp), here[1:-1], here[2:]], axis=1)
    triangles = np.concatenate(
        [
            fan[:, ::-1],
            fan + n,
            np.stack([here, after, after + n], axis=1),
            np.stack([here, after + n, here + n], axis=1),
        ]
    )
    return Solid.of(vertices @ frame[:3, :3].T + frame[:3, 3], triangles)


def slot_outline(radius_mm: float, length_mm: float, sides: int | None = None) -> Array:
    """Outline of a rounded slot about the origin, along x: two half circles whose centres are `length_mm` apart.

    Facets stand outside the half circles; length 0 gives a round.
    """
    n = sides or sides_for(radius_mm)
    angle = (np.arange(n) + 0.5) * 2.0 * math.pi / n
    ring = np.stack([np.cos(angle), np.sin(angle)], axis=1) * radius_mm / math.cos(math.pi / n)
    shift = np.where(ring[:, 0] > 0.0, length_mm / 2.0, -length_mm / 2.0)
    return np.asarray(ring + np.column_stack([shift, np.zeros(n)]))


def outline_area(outline: Array) -> float:
    """Area inside a closed outline, (k, 2); positive when counter-clockwise."""
    x, y = outline[:, 0], outline[:, 1]
    return float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum() / 2.0)
