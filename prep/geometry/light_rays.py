"""`LightRays`: a bundle of rays that carry power, and the bundle a small lamp sends out."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from prep.geometry.seat_room import square_axes
from prep.geometry.solid import Array


@dataclass(frozen=True, eq=False)
class LightRays:
    """Rays of light.

    Attributes
    ----------
    origins, directions : (n, 3) float64
        Starting points in mm and unit directions.
    power : (n,) float64
        What each carries, in any one unit.
    """

    origins: Array
    directions: Array
    power: Array

    @property
    def total(self) -> float:
        """Power of all rays together."""
        return float(self.power.sum())


def lamp_rays(at_mm: Array, axis: Array, order: float, count: int, *, seed: int) -> LightRays:
    """Rays of a point lamp whose intensity falls off as the cosine to the axis, raised to an order; total power 1.

    Parameters
    ----------
    at_mm, axis : (3,)
        Where the lamp is, and the unit direction of its strongest light.
    order : float
        1 for a Lambertian lamp; larger is narrower.
    seed : int
        Of the generator: the same seed gives the same rays.

    Notes
    -----
    Every ray carries 1 / count. The cosine is drawn as u^(1 / (order + 1)), one u in each of `count` equal steps, so
    sums over rings about the axis are off by about 1 / count; the angle about the axis is drawn freely.
    """
    generator = np.random.default_rng(seed)
    u = (np.arange(count) + generator.random(count)) / count
    cosine = u ** (1.0 / (order + 1.0))
    sine = np.sqrt(np.maximum(1.0 - cosine * cosine, 0.0))
    turn = 2.0 * math.pi * generator.random(count)
    across, up = square_axes(np.asarray(axis, dtype=np.float64)[None])
    ways = (
        cosine[:, None] * np.asarray(axis)
        + (sine * np.cos(turn))[:, None] * across
        + (sine * np.sin(turn))[:, None] * up
    )
    return LightRays(
        np.broadcast_to(np.asarray(at_mm, dtype=np.float64), ways.shape).copy(), ways, np.full(count, 1.0 / count)
    )
