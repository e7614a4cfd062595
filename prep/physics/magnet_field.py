"""Flux density above the face of a disc or block magnet, normal to the face."""

from __future__ import annotations

from itertools import product

import numpy as np
from numpy.typing import NDArray
from scipy.special import elliprf, elliprj

Array = NDArray[np.float64]


def axis_field(d: float, t: float, br: float, z: float | Array) -> Array:
    """Field of a disc on its axis at `z` mm above the face, T.

    Notes
    -----
    (Br/2) [(t+z) / sqrt(R^2 + (t+z)^2) - z / sqrt(R^2 + z^2)], rearranged so that far away no digit is lost. Exact.
    """
    r, height = d / 2.0, np.asarray(z, dtype=np.float64)
    near, back = np.hypot(r, height), np.hypot(r, height + t)
    top = r**2 * t * (t + 2.0 * height)
    return np.asarray(br / 2.0 * top / (near * back * ((t + height) * near + height * back)))


def face_field(d: float, t: float, br: float, radius: float | Array, z: float | Array) -> Array:
    """Field of a disc along its axis at `radius` mm off the axis and `z` mm above the face, T.

    Parameters
    ----------
    d, t, br : diameter mm, thickness mm, remanence T
    radius, z : float or arrays that broadcast, mm, 0 or more

    Notes
    -----
    Exact, in Carlson's elliptic integrals. At the rim of the face itself, where the field is infinite, the value is
    that of the far end alone.

    References
    ----------
    N. Derby, S. Olbert, Cylindrical magnets and ideal solenoids, Am. J. Phys. 78 (2010) 229.
    B. C. Carlson, Numerical computation of real or complex elliptic integrals, Numer. Algorithms 10 (1995) 13.
    """
    a = d / 2.0
    rho, height = np.broadcast_arrays(np.asarray(radius, dtype=np.float64), np.asarray(z, dtype=np.float64))
    slant = (a - rho) / (a + rho)
    total = _end(a, rho, slant, height + t) - _end(a, rho, slant, height)
    return np.asarray(br / np.pi * a / (a + rho) * total)


def block_field(
    length: float, width: float, t: float, br: float, x: float | Array, y: float | Array, z: float | Array
) -> Array:
    """Field of a block normal to its face, at (x, y) mm from the middle of the face and `z` mm above it, T.

    Notes
    -----
    Solid angle of each charged face as seen from the point, four corners each; exact.
    """
    total = np.zeros(np.broadcast_shapes(np.shape(x), np.shape(y), np.shape(z)))
    for i, j in product((-1.0, 1.0), repeat=2):
        u, v = length / 2.0 + i * np.asarray(x), width / 2.0 + j * np.asarray(y)
        for h, sign in ((np.asarray(z, dtype=np.float64), 1.0), (np.asarray(z, dtype=np.float64) + t, -1.0)):
            total = total + sign * np.arctan2(u * v, h * np.sqrt(u**2 + v**2 + h**2))
    return np.asarray(br / (4.0 * np.pi) * total)


def _end(a: float, rho: Array, slant: Array, h: Array) -> Array:
    """One end of the current sheet: h / sqrt(h^2 + (rho+a)^2) times the generalised elliptic integral."""
    reach = np.sqrt(h**2 + (rho + a) ** 2)
    k2 = (h**2 + (a - rho) ** 2) / reach**2
    off_rim = slant != 0.0
    regular = np.where(k2 > 0.0, k2, 1.0)
    square = np.where(off_rim, slant**2, 1.0)
    third = np.where(off_rim, (slant - square) / 3.0 * elliprj(0.0, regular, 1.0, square), 0.0)
    return np.asarray(np.where(h > 0.0, h / reach * (elliprf(0.0, regular, 1.0) + third), 0.0))
