"""`cap`: a lid that follows a curved skin over a window or a land while paint goes on, with a stem to lift it by."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from prep.errors import CapHangsOver
from prep.geometry.lathe import lathe
from prep.geometry.plug import AROUND, STEM_MM, mouth_outline
from prep.geometry.rays import RayScene
from prep.geometry.solid import Array, Solid, unite

RINGS = 24
"""Rings of points between the middle and the edge."""
GRAZING = 0.35
"""Least cosine between the skin's normal and the way the cap comes; a cap on steeper skin hardly touches it."""
ABOVE = 0.5
"""How far above the mouth's plane rays start, in its larger half size."""


def cap(
    scene: RayScene,
    shape: str,
    half_mm: tuple[float, float],
    corner_mm: float,
    frame: Array,
    *,
    gap_mm: float,
    thick_mm: float,
) -> Solid:
    """A cap whose underside keeps a gap from the skin and whose outline, seen along the frame's z, is that asked for.

    Parameters
    ----------
    scene : RayScene
        Of the part.
    half_mm, corner_mm : half sizes along the frame's x and y, and the radius of a slot's corners
    frame : (4, 4)
        From the cap's own axes (z away from the skin, origin on the skin) to the part's.
    gap_mm : float
        Between underside and skin, along the skin's normal.
    thick_mm : float
        Along z.

    Raises
    ------
    CapHangsOver
        Some of the outline lies beside the skin, or on skin too steep for a cap that comes straight down.

    Notes
    -----
    Heights are met by rays at `RINGS` rings of `AROUND` points and are exact there; between them the underside is
    linear, off by spacing^2 / (8 radius of curvature).
    """
    outline = _evenly(mouth_outline(shape, half_mm, corner_mm))
    shares = np.arange(1, RINGS + 1) / RINGS
    flat = np.concatenate([[[0.0, 0.0]], *(share * outline for share in shares)])
    high = ABOVE * max(half_mm) + 2.0
    out = frame[:3, 2]
    origins = frame[:3, 3] + flat[:, :1] * frame[:3, 0] + flat[:, 1:] * frame[:3, 1] + high * out
    hits = scene.cast(origins, np.broadcast_to(-out, origins.shape).copy())
    missed = hits.triangle < 0
    lean = np.where(missed, 0.0, scene.normals[np.maximum(hits.triangle, 0)] @ out)
    if missed.any() or lean.min() < GRAZING:
        worst = int(np.argmin(np.where(missed, -1.0, lean)))
        x, y, z = origins[worst] - high * out
        raise CapHangsOver(
            "a cap cannot sit over the whole of it",
            found="no skin"
            if missed[worst]
            else f"the skin leans {math.degrees(math.acos(lean[worst])):.0f} deg there",
            where=f"at ({x:.1f}, {y:.1f}, {z:.1f}) mm",
            fix="mask it by hand, or make the window or land smaller",
        )
    under = high - hits.distance_mm + gap_mm / lean
    low, top = np.column_stack([flat, under]), np.column_stack([flat, under + thick_mm])
    body = Solid.of(np.concatenate([low, top]) @ frame[:3, :3].T + frame[:3, 3], _triangles(len(flat)))
    stem = max(min(0.45 * min(half_mm), 3.0), 0.8)
    foot = float(under[0]) + 0.5 * thick_mm
    handle = lathe(np.array([[stem, foot], [stem, foot + STEM_MM]]), frame, sides=48)
    return unite([body, handle])


def _evenly(outline: Array) -> Array:
    """The outline with its points as far from one another all round, straight sides included, (`AROUND`, 2)."""
    closed = np.concatenate([outline, outline[:1]])
    run = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
    at = np.arange(AROUND) / AROUND * run[-1]
    return np.stack([np.interp(at, run, closed[:, 0]), np.interp(at, run, closed[:, 1])], axis=1)


def _triangles(count: int) -> NDArray[np.int64]:
    """Closed skin of two discs of points, the lower first, and the wall between their edges."""
    here, after = np.arange(AROUND), (np.arange(AROUND) + 1) % AROUND
    disc = [np.stack([np.zeros(AROUND, dtype=np.int64), 1 + here, 1 + after], axis=1)]
    for ring in range(RINGS - 1):
        a, b = 1 + ring * AROUND, 1 + (ring + 1) * AROUND
        disc.append(np.stack([a + here, b + here, b + after], axis=1))
        disc.append(np.stack([a + here, b + after, a + after], axis=1))
    face = np.concatenate(disc)
    edge = 1 + (RINGS - 1) * AROUND
    wall = [
        np.stack([edge + here, edge + after, count + edge + after], axis=1),
        np.stack([edge + here, count + edge + after, count + edge + here], axis=1),
    ]
    return np.concatenate([face[:, ::-1], face + count, *wall])
