"""What a section is dimensioned with: material between an item's pocket and the outside, air between two items."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from prep.geometry.solid import Array

SAMPLES = 33
LEAST_COSINE = 0.5
"""A wall lies within 60 degrees of square to the side; beyond that it is another side's wall."""


@dataclass(frozen=True, eq=False)
class Span:
    """A straight distance in a section, from one place to another, (2,) mm each."""

    start: Array
    end: Array

    @property
    def length_mm(self) -> float:
        """How long it is."""
        return float(np.linalg.norm(self.end - self.start))


def wall_beside(
    outlines: Sequence[Array], side: tuple[Array, Array], reach_mm: float, most_mm: float = math.inf
) -> Span | None:
    """The least material between a pocket and the next free surface, seen from one side of the item in it.

    Rays leave the side square to it, to the right of the way from its first end to its second. Each passes the
    pocket's air, enters the material and leaves it; from the place entered, the outline is followed from the edge left
    to where it comes nearest, so that a slanting or curved outside is measured by its nearest place in the section.

    Parameters
    ----------
    outlines : closed outlines (k, 2) of the part in the section, mm
    side : two places (2,), mm
    reach_mm : float
        The most air there may be between the item and the wall of its pocket.
    most_mm : float
        Material thicker than this, square to the side, is no wall.

    Returns
    -------
    Span or None
        None where no ray meets material within reach.
    """
    if not outlines:
        return None
    first, second = (np.asarray(end, dtype=np.float64) for end in side)
    along = second - first
    way = np.array([along[1], -along[0]]) / np.linalg.norm(along)
    edges = np.array([np.concatenate(outlines), np.concatenate([np.roll(ring, -1, axis=0) for ring in outlines])])
    beside = _neighbours(outlines)
    best: Span | None = None
    for share in (np.arange(SAMPLES) + 0.5) / SAMPLES:
        met = _crossings(first + share * along, way, edges)
        if len(met) % 2:  # the item stands in the material itself: no air to pass
            met.insert(0, (0.0, -1))
        if len(met) < 2 or met[0][0] > reach_mm or met[1][0] - met[0][0] > most_mm:
            continue
        span = _shortest(edges, beside, first + share * along + met[0][0] * way, way, met[1][1])
        if best is None or span.length_mm < best.length_mm - 1e-9:
            best = span
    return best


def _neighbours(outlines: Sequence[Array]) -> list[tuple[int, int]]:
    """For every edge, counted over all outlines, the edges before and after it."""
    found = []
    first = 0
    for ring in outlines:
        count = len(ring)
        found += [(first + (k - 1) % count, first + (k + 1) % count) for k in range(count)]
        first += count
    return found


def _shortest(edges: Array, beside: Sequence[tuple[int, int]], place: Array, way: Array, edge: int) -> Span:
    """From a place to the nearest of an outline, walking from edge to edge as long as that comes nearer.

    The walk ends where it would turn back to the pocket: what it finds lies within 60 degrees of the ray.
    """
    span = Span(place, _nearest_on(edges[0, edge], edges[1, edge], place))
    nearer = True
    while nearer:
        nearer = False
        for other in beside[edge]:
            tried = Span(place, _nearest_on(edges[0, other], edges[1, other], place))
            across = float((tried.end - place) @ way)
            if LEAST_COSINE * tried.length_mm < across and tried.length_mm < span.length_mm * (1.0 - 1e-12):
                span, edge, nearer = tried, other, True
    return span


def _crossings(origin: Array, way: Array, edges: Array) -> list[tuple[float, int]]:
    """Distances at which a ray crosses the outlines, in order, each with the edge it crosses."""
    a, b = edges
    off = np.array([-way[1], way[0]])
    before, after = (a - origin) @ off, (b - origin) @ off
    crossed = np.flatnonzero((before < 0.0) != (after < 0.0))
    share = before[crossed] / (before[crossed] - after[crossed])
    distance = ((a[crossed] - origin) + share[:, None] * (b[crossed] - a[crossed])) @ way
    ahead = distance > 0.0
    return sorted(zip(distance[ahead].tolist(), crossed[ahead].tolist(), strict=True))


def _nearest_on(a: Array, b: Array, place: Array) -> Array:
    edge = b - a
    share = float(np.clip((place - a) @ edge / max(float(edge @ edge), 1e-300), 0.0, 1.0))
    return np.asarray(a + share * edge)
