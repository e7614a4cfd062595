"""What a section is dimensioned with: material between an item's pocket and the outside, air between two items."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from prep.geometry.solid import Array

SAMPLES = 33


@dataclass(frozen=True, eq=False)
class Span:
    """A straight distance in a section, from one place to another, (2,) mm each."""

    start: Array
    end: Array

    @property
    def length_mm(self) -> float:
        """How long it is."""
        return float(np.linalg.norm(self.end - self.start))


def wall_beside(outlines: Sequence[Array], side: tuple[Array, Array], reach_mm: float) -> Span | None:
    """The least material between a pocket and the next free surface, seen from one side of the item in it.

    Rays leave the side square to it, to the right of the way from its first end to its second. Each passes the
    pocket's air, enters the material and leaves it; from the places entered, the least distance to the outline
    edges left is taken, so that a slanting or curved outside is measured by its nearest place in the section.

    Parameters
    ----------
    outlines : closed outlines (k, 2) of the part in the section, mm
    side : two places (2,), mm
    reach_mm : float
        The most air there may be between the item and the wall of its pocket.

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
    entered, left = [], []
    for share in (np.arange(SAMPLES) + 0.5) / SAMPLES:
        met = _crossings(first + share * along, way, edges)
        if len(met) % 2:  # the item stands in the material itself: no air to pass
            met.insert(0, (0.0, -1))
        if len(met) >= 2 and met[0][0] <= reach_mm:
            entered.append(first + share * along + met[0][0] * way)
            left.append(met[1][1])
    if not entered:
        return None
    best: Span | None = None
    for edge in sorted(set(left)):
        a, b = edges[0, edge], edges[1, edge]
        for place in entered:
            span = Span(place, _nearest_on(a, b, place))
            if best is None or span.length_mm < best.length_mm - 1e-9:
                best = span
    return best


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
