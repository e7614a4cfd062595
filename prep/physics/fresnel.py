"""Light at a smooth face between air and a clear material: what is sent back, what passes, what is trapped."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


def reflectance(n1: float, n2: float, cos_incidence: ArrayLike) -> Array:
    """Share of unpolarised light that a smooth face sends back.

    Parameters
    ----------
    n1, n2 : float
        Refractive index on the side the light comes from, and beyond.
    cos_incidence : (...,) 0 to 1
        Cosine of the angle between the light and the face's normal.

    Returns
    -------
    (...,) float64
        1 where the angle is beyond the critical one.

    Notes
    -----
    Exact for a smooth face; a printed face that is not polished scatters.

    References
    ----------
    M. Born, E. Wolf, Principles of Optics, 7th ed. (1999), section 1.5.
    """
    c1 = np.clip(np.asarray(cos_incidence, dtype=np.float64), 0.0, 1.0)
    c2_squared = 1.0 - (n1 / n2) ** 2 * (1.0 - c1**2)
    trapped = c2_squared < 0.0
    c2 = np.sqrt(np.where(trapped, 0.0, c2_squared))
    with np.errstate(invalid="ignore", divide="ignore"):
        across = (n1 * c1 - n2 * c2) / (n1 * c1 + n2 * c2)
        along = (n1 * c2 - n2 * c1) / (n1 * c2 + n2 * c1)
        both = (across**2 + along**2) / 2.0
    return np.where(trapped | ~np.isfinite(both), 1.0, both)


def critical_angle_deg(n: float) -> float:
    """Angle from the normal, inside the material, beyond which a face to air lets nothing out, degrees."""
    return math.degrees(math.asin(1.0 / n))


def brewster_angle_deg(n: float) -> float:
    """Angle from the normal, in air, at which light polarised in the plane of incidence is not sent back, degrees."""
    return math.degrees(math.atan(n))


def normal_loss(n: float) -> float:
    """Share that one face sends back of light that meets it square."""
    return ((n - 1.0) / (n + 1.0)) ** 2


def slab_transmission(n: float) -> float:
    """Share that a clear slab passes of light that meets it square, all light going to and fro within it counted.

    Notes
    -----
    (1 - R) / (1 + R) of the two faces' geometric series is 2n / (n^2 + 1); without absorption or interference.
    """
    return 2.0 * n / (n * n + 1.0)


def escape_share(n: float) -> float:
    """Share of light sent out evenly in all directions within a slab that can leave through one of its faces.

    Notes
    -----
    The cone within the critical angle over the whole sphere; what the face sends back of it is not taken off.
    """
    return (1.0 - math.sqrt(1.0 - 1.0 / (n * n))) / 2.0
