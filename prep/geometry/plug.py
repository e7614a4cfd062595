"""`plug`: a taper that fills a mouth while paint goes on, with a stem to pull it by."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np

from prep.geometry.solid import Array, Solid

AROUND = 96
"""Points round an outline."""
STEM_SHARE = 0.55
"""Of the mouth: the stem must not shade its rim from the spray."""
STEM_LEAST_MM = 1.2
STEM_MM = 12.0
"""What a finger needs."""
FILLET_MM = 0.6


def plug(
    shape: Literal["round", "slot"],
    half_mm: tuple[float, float],
    corner_mm: float,
    long_mm: float,
    play_mm: float,
    frame: Array,
) -> Solid:
    """A plug for a round or slot mouth; its skirt is as large as the mouth itself and tapers to a loose tip.

    Parameters
    ----------
    half_mm : (2,)
        Half sizes of the mouth along the frame's x and y; equal where round.
    corner_mm : float
        Radius of a slot's corners.
    long_mm : float
        How far it reaches into the mouth.
    play_mm : float
        Clearance per side at its tip.
    frame : (4, 4)
        From its own axes (z out of the mouth, origin in the plane of the mouth) to the part's.

    Notes
    -----
    Exact outlines of `AROUND` points; the volume is that of the loft between them.
    """
    outline = mouth_outline(shape, half_mm, corner_mm)
    tip = mouth_outline(shape, _less(half_mm, play_mm), max(corner_mm - play_mm, 0.0))
    least = min(half_mm)
    thin = least - max(STEM_SHARE * least, min(STEM_LEAST_MM, 0.9 * least))
    stem = mouth_outline(shape, _less(half_mm, thin), max(corner_mm - thin, 0.0))
    rows = [(tip, -long_mm), (outline, 0.0), (stem, FILLET_MM), (stem, FILLET_MM + STEM_MM)]
    vertices = np.concatenate([np.column_stack([loop, np.full(AROUND, height)]) for loop, height in rows])
    middle = len(vertices)
    vertices = np.concatenate([vertices, [[0.0, 0.0, -long_mm], [0.0, 0.0, FILLET_MM + STEM_MM]]])
    here, after = np.arange(AROUND), (np.arange(AROUND) + 1) % AROUND
    triangles = []
    for row in range(len(rows) - 1):
        low, high = row * AROUND, (row + 1) * AROUND
        triangles.append(np.stack([low + here, low + after, high + after], axis=1))
        triangles.append(np.stack([low + here, high + after, high + here], axis=1))
    last = (len(rows) - 1) * AROUND
    triangles.append(np.stack([np.full(AROUND, middle), after, here], axis=1))
    triangles.append(np.stack([np.full(AROUND, middle + 1), last + here, last + after], axis=1))
    return Solid.of(vertices @ frame[:3, :3].T + frame[:3, 3], np.concatenate(triangles))


def _less(half_mm: tuple[float, float], by_mm: float) -> tuple[float, float]:
    return (half_mm[0] - by_mm, half_mm[1] - by_mm)


def mouth_outline(shape: str, half_mm: tuple[float, float], corner_mm: float) -> Array:
    """Outline of a mouth: a rounded rectangle or a circle about the origin, (`AROUND`, 2) mm, counter-clockwise."""
    half = np.array(half_mm)
    corner = min(half_mm) if shape == "round" else min(max(corner_mm, 0.001 * min(half_mm)), *half_mm)
    quarter = AROUND // 4
    angle = (np.arange(quarter) + 0.5) * math.pi / 2.0 / quarter  # none on an axis, where two corners would meet
    loops: list[Array] = []
    for turn, (x, y) in enumerate(((1, 1), (-1, 1), (-1, -1), (1, -1))):
        a = angle + turn * math.pi / 2.0
        loops.append((half - corner) * (x, y) + corner * np.stack([np.cos(a), np.sin(a)], axis=1))
    return np.concatenate(loops)
