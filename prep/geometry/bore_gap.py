"""`bore_gaps`: material left between round bores, whichever way each of them runs."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from prep.geometry.seat_room import RIM_POINTS, square_axes
from prep.geometry.solid import Array


@dataclass(frozen=True)
class Bores:
    """Round bores with flat ends.

    Attributes
    ----------
    tops : (n, 3) mm, middle of each mouth
    outs : (n, 3) unit direction out of each mouth
    depths_mm : (n,)
    radius_mm : of all
    """

    tops: Array
    outs: Array
    depths_mm: Array
    radius_mm: float

    def __getitem__(self, rows: NDArray[np.intp]) -> Bores:
        """Some of the bores, in the order asked for."""
        return Bores(self.tops[rows], self.outs[rows], self.depths_mm[rows], self.radius_mm)

    def __len__(self) -> int:
        return len(self.tops)


def bore_gaps(bores: Bores) -> Array:
    """Least material between each bore and any other, (n,) mm; 0 where two meet, without end for a single one.

    Notes
    -----
    Exact distance to the one bore from points on the wall and floor of the other, taken both ways; between points the
    least may be missed by about spacing^2 / (8 radius). Bores farther apart than both their sizes are told by their
    middles alone. Cost: points x near pairs.
    """
    n = len(bores)
    gaps = np.full(n, np.inf)
    middles = bores.tops - 0.5 * bores.depths_mm[:, None] * bores.outs
    reach = np.hypot(bores.radius_mm, 0.5 * bores.depths_mm)
    for one in range(n):
        points = _skin(bores, one)
        for other in range(n):
            least = float(np.linalg.norm(middles[one] - middles[other])) - float(reach[one] + reach[other])
            if other == one or least >= gaps[one]:
                continue
            gap = _apart(bores, other, points)
            gaps[one], gaps[other] = min(gaps[one], gap), min(gaps[other], gap)
    return gaps


def _skin(bores: Bores, row: int) -> Array:
    """Points on the wall and both ends of one bore, (k, 3)."""
    depth, radius = float(bores.depths_mm[row]), bores.radius_mm
    angle = np.arange(RIM_POINTS) * 2.0 * math.pi / RIM_POINTS
    ring = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    heights = np.linspace(-depth, 0.0, max(3, math.ceil(2.0 * depth) + 1))
    rows = [(radius, height) for height in heights]
    rows += [(share * radius, height) for share in (0.0, 0.3, 0.6, 0.8) for height in (-depth, 0.0)]
    across, up = square_axes(bores.outs[row][None])
    return np.concatenate(
        [
            bores.tops[row] + size * (ring[:, :1] * across[0] + ring[:, 1:] * up[0]) + height * bores.outs[row]
            for size, height in rows
        ]
    )


def _apart(bores: Bores, row: int, points: Array) -> float:
    """Least distance from points to one bore, 0 inside it."""
    arm = points - bores.tops[row]
    along = arm @ bores.outs[row]
    off = np.linalg.norm(arm - along[:, None] * bores.outs[row], axis=1) - bores.radius_mm
    past = np.maximum(along, -float(bores.depths_mm[row]) - along)
    return float(np.hypot(np.maximum(off, 0.0), np.maximum(past, 0.0)).min())
