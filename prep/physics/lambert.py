"""Light of small lamps on a surface: order of the beam, flux, illuminance, evenness."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

MM2_PER_M2 = 1e6


def lambert_order(half_angle_deg: float) -> float:
    """Power of the cosine that falls to half at an angle from the axis: 1 for 60 degrees, a matt chip.

    References
    ----------
    I. Moreno, M. Avendano-Alejo, R. I. Tzonchev, Designing light-emitting diode arrays for uniform near-field
    irradiance, Appl. Opt. 45 (2006) 2265.
    """
    return -math.log(2.0) / math.log(math.cos(math.radians(half_angle_deg)))


def intensity(order: float, angle_deg: ArrayLike) -> Array:
    """Intensity at an angle from the axis, as a share of that along it; 0 behind the lamp."""
    cosine = np.cos(np.radians(np.asarray(angle_deg, dtype=np.float64)))
    return np.asarray(np.maximum(cosine, 0.0) ** order)


def flux_of(order: float, candela: float) -> float:
    """Light a lamp sends out in all, lm: 2 pi I / (m + 1)."""
    return 2.0 * math.pi * candela / (order + 1.0)


def illuminance(
    points: Array, normals: Array, lamps: Array, axes: Array, orders: ArrayLike, candela: ArrayLike
) -> Array:
    """Light falling on points of a surface straight from small lamps, lux.

    Parameters
    ----------
    points, normals : (n, 3)
        Places in mm, and unit normals toward the side that is lit.
    lamps, axes : (k, 3)
        Places in mm, and unit directions of the beams.
    orders, candela : (k,) or one number
        Power of the cosine, and intensity along the axis.

    Returns
    -------
    (n,) float64, lux
        Nothing from behind a lamp, nothing on the back of the surface.

    Notes
    -----
    Sum of I cos^m(a) cos(b) / r^2, exact for lamps small beside their distance. Nothing stands in the way and nothing
    is sent back by the pocket's walls: both are for rays.
    """
    orders, candela = (np.broadcast_to(np.asarray(each, dtype=np.float64), len(lamps)) for each in (orders, candela))
    total = np.zeros(len(points))
    for lamp, axis, order, bright in zip(lamps, axes, orders, candela, strict=True):
        way = points - lamp
        square = np.einsum("ij,ij->i", way, way)
        length = np.sqrt(square)
        leaving = np.maximum(way @ axis / length, 0.0)
        meeting = np.maximum(-np.einsum("ij,ij->i", way, normals) / length, 0.0)
        total += bright * leaving**order * meeting * MM2_PER_M2 / square
    return total


@dataclass(frozen=True)
class Evenness:
    """How even a lit surface is.

    Attributes
    ----------
    min_over_max, min_over_mean, max_over_mean : of the illuminance; 1 is perfectly even
    """

    min_over_max: float
    min_over_mean: float
    max_over_mean: float


def evenness(values: ArrayLike) -> Evenness:
    """Evenness of illuminances sampled evenly over a surface; all zero where no light falls."""
    lux = np.asarray(values, dtype=np.float64)
    low, mean, high = float(lux.min()), float(lux.mean()), float(lux.max())
    if high <= 0.0:
        return Evenness(0.0, 0.0, 0.0)
    return Evenness(low / high, low / mean, high / mean)
