"""What a section is dimensioned with: material between an item's pocket and the next free surface."""

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
        return float(math.hypot(*(self.end - self.start)))


def wall_beside(
    outlines: Sequence[Array],
    side: tuple[Array, Array],
    reach_mm: float,
    most_mm: float = math.inf,
    samples: int = SAMPLES,
) -> Span | None:
    """The least material between a pocket and the next free surface, seen from one side of the item in it.

    Rays leave the side square to it, to the right of the way from its first end to its second. Each passes the
    pocket's air, enters the material and leaves it; from the place entered, the nearest of the outlines within 60
    degrees of the ray is taken, so that a slanting or curved outside is measured by its nearest place in the section.

    Parameters
    ----------
    outlines : closed outlines (k, 2) of the part in the section, mm
    side : two places (2,), mm
    reach_mm : float
        The most air there may be between the item and the wall of its pocket.
    most_mm : float
        Material thicker than this, square to the side, is no wall.
    samples : int
        Rays, evenly spread over the side.

    Returns
    -------
    Span or None
        None where no ray meets a wall.

    Notes
    -----
    Exact at the places sampled. Cost: samples x edges.
    """
    if not outlines:
        return None
    edges = np.array([np.concatenate(outlines), np.concatenate([np.roll(ring, -1, axis=0) for ring in outlines])])
    first, second = (np.asarray(end, dtype=np.float64) for end in side)
    along = second - first
    way = np.array([along[1], -along[0]]) / math.hypot(*along)
    straight = []
    for share in (np.arange(samples) + 0.5) / samples:
        start = first + share * along
        met = _crossings(start, way, edges)
        if len(met) % 2:  # the item stands in the material itself: no air to pass
            met.insert(0, 0.0)
        if len(met) >= 2 and met[0] <= reach_mm and met[1] - met[0] <= most_mm:
            straight.append(Span(start + met[0] * way, start + met[1] * way))
    return min((_shortest(edges, span, way) for span in straight), key=lambda span: span.length_mm, default=None)


def room_beside(outlines: Sequence[Array], place: Array, way: Array) -> float:
    """How much air there is from a place to the next material, mm: 0 in material, infinite where there is none."""
    edges = np.array([np.concatenate(outlines), np.concatenate([np.roll(ring, -1, axis=0) for ring in outlines])])
    met = _crossings(place, way, edges)
    return 0.0 if len(met) % 2 else met[0] if met else math.inf


def _crossings(origin: Array, way: Array, edges: Array) -> list[float]:
    """Distances at which a ray crosses the outlines, in order."""
    a, b = edges
    off = np.array([-way[1], way[0]])
    before, after = (a - origin) @ off, (b - origin) @ off
    crossed = np.flatnonzero((before < 0.0) != (after < 0.0))
    share = before[crossed] / (before[crossed] - after[crossed])
    distance = ((a[crossed] - origin) + share[:, None] * (b[crossed] - a[crossed])) @ way
    return sorted(distance[distance > 0.0].tolist())


def _shortest(edges: Array, straight: Span, way: Array) -> Span:
    """From where a span starts to the nearest of all edges that lies, and faces, within 60 degrees of it; or itself.

    A face that looks another way, such as the one a pocket opens on, is no wall of this side.
    """
    a, b = edges
    edge = b - a
    square = np.maximum(np.einsum("ij,ij->i", edge, edge), 1e-300)
    share = np.clip(((straight.start - a) * edge).sum(axis=1) / square, 0.0, 1.0)
    off = a + share[:, None] * edge - straight.start
    length = np.hypot(off[:, 0], off[:, 1])
    outward = np.stack([edge[:, 1], -edge[:, 0]], axis=1) / np.sqrt(square)[:, None]
    ahead = (outward @ way > LEAST_COSINE) & (off @ way > LEAST_COSINE * length)
    ahead &= (length > 1e-9 * straight.length_mm) & (length < straight.length_mm)
    if not ahead.any():
        return straight
    nearest = int(np.argmin(np.where(ahead, length, np.inf)))
    return Span(straight.start, straight.start + off[nearest])
