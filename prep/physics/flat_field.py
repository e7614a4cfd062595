"""`flat_field`: how far apart lamps stand for light that does not sag or peak in the middle, and what else evens it.

A lamp of order m lights a plane by the cosine to the power m + 3 of the angle: m for the beam, one for the slant of the
plane, two for the distance. Published spacings leave the slant out (the light that a small target facing the lamp would
get); `facing=True` gives those.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import gamma, kv

from prep.errors import BadValue
from prep.physics.lambert import Evenness, evenness, illuminance

Array = NDArray[np.float64]

RINGS = 40
"""Reciprocal vectors to each side that the lattice's sum takes; their terms fall like exp(-2 pi z / pitch)."""


def flat_field(order: float, height_mm: float, rows: int = 1, columns: int = 2, *, facing: bool = False) -> float:
    """Pitch of a grid of lamps whose light on a plane is flat in the middle, mm.

    Parameters
    ----------
    order : float
        Power of the cosine of each lamp.
    height_mm : float
        From the lamps to the plane.
    rows, columns : int
        1 and n for a line; 2 and 2 for a square; n and n for a grid.
    facing : bool
        Leave out the slant of the plane, as the published spacings do.

    Returns
    -------
    float
        The smallest pitch at which the second derivative along the longer side is zero.

    Raises
    ------
    BadValue
        An odd number along the longer side: the middle lamp always leaves a peak, which no pitch takes away.

    Notes
    -----
    Two lamps sqrt(4 / (k + 3)) z and two by two sqrt(4 / (k + 2)) z in closed form, k = m + 1 on a plane and m facing
    the lamp; others by root finding to 1e-12.

    References
    ----------
    I. Moreno, M. Avendano-Alejo, R. I. Tzonchev, Designing light-emitting diode arrays for uniform near-field
    irradiance, Appl. Opt. 45 (2006) 2265.
    """
    power = order if facing else order + 1.0
    if max(rows, columns) % 2:
        raise BadValue(
            "no pitch makes an odd number of lamps flat in the middle",
            found=f"{max(rows, columns)} lamps along the longer side: one stands in the middle",
            fix="use an even number, or a ring",
        )
    if sorted((rows, columns)) == [1, 2]:
        return height_mm * math.sqrt(4.0 / (power + 3.0))
    if rows == columns == 2:
        return height_mm * math.sqrt(4.0 / (power + 2.0))
    along, across = np.meshgrid(_steps(max(rows, columns)), _steps(min(rows, columns)))
    x, square = along.ravel() ** 2, (along**2 + across**2).ravel()

    def bend(pitch: float) -> float:
        s = 1.0 + pitch**2 * square
        return float(np.sum(((power + 4.0) * pitch**2 * x - s) * s ** (-(power + 6.0) / 2.0)))

    tries = np.linspace(0.0, 4.0, 401)
    first = next(i for i in range(1, len(tries)) if bend(tries[i]) > 0.0)
    return height_mm * float(brentq(bend, tries[first - 1], tries[first], xtol=1e-14))


def flat_ring(order: float, height_mm: float, *, facing: bool = False) -> float:
    """Radius of a ring of three or more lamps whose light on a plane is flat in the middle, mm.

    Notes
    -----
    sqrt(2 / (k + 2)) z, whatever the number; k = m + 1 on a plane and m facing the lamps. Source as `flat_field`.
    """
    power = order if facing else order + 1.0
    return height_mm * math.sqrt(2.0 / (power + 2.0))


def lattice_evenness(pitch_mm: float, height_mm: float, order: float = 1.0) -> Evenness:
    """Evenness under an endless square array of lamps without side walls.

    Notes
    -----
    Poisson's sum: over the mean, each reciprocal vector G adds c (Gz)^v K_v(Gz) cos(G x), v = (m + 1) / 2 and
    c = 2^(1 - v) / Gamma(v). Least light at the middle of a cell, most under a lamp. Good to 1e-9 for pitches up to
    four times the height.

    References
    ----------
    G. N. Watson, A Treatise on the Theory of Bessel Functions, 2nd ed. (1944), section 6.16 (the transform).
    """
    v = (order + 1.0) / 2.0
    count = np.arange(-RINGS, RINGS + 1)
    first, second = np.meshgrid(count, count)
    reach = 2.0 * math.pi * height_mm / pitch_mm * np.hypot(first, second)
    with np.errstate(invalid="ignore"):
        term = 2.0 ** (1.0 - v) / gamma(v) * reach**v * kv(v, reach)
    term = np.where(reach > 0.0, term, 1.0)
    most, least = float(term.sum()), float((term * (-1.0) ** np.abs(first + second)).sum())
    return Evenness(least / most, least, most)


@dataclass(frozen=True)
class Remedy:
    """What would even out a window.

    Attributes
    ----------
    now : as it stands
    wanted : least over most that was asked for
    depth_mm : standoff at which the same lamps do it
    pair_mm, pair : pitch of two lamps along the longer side in place of one, and what they reach
    ring_mm, ring : radius of a ring of three, and what it reaches
    wide : what the same lamps reach with a beam that falls to half at 60 degrees
    says : in words, all that is enough; empty where nothing is wrong
    """

    now: Evenness
    wanted: float
    depth_mm: float
    pair_mm: float
    pair: Evenness
    ring_mm: float
    ring: Evenness
    wide: Evenness
    says: str


def window_evenness(
    window_mm: tuple[float, float], standoff_mm: float, order: float, lamps_mm: Array, samples: int = 41
) -> Evenness:
    """Evenness over a flat rectangular window with equal lamps behind it, beams square to it.

    Parameters
    ----------
    window_mm : (2,)
        Its sides, mm; its middle is the origin.
    lamps_mm : (k, 2)
        Places of the lamps in the window's plane.

    Notes
    -----
    Straight light only: the pocket's white walls and the window's own scatter even it further, which is left out.
    """
    wide, high = (np.linspace(-side / 2.0, side / 2.0, samples) for side in window_mm)
    x, y = (each.ravel() for each in np.meshgrid(wide, high))
    points = np.stack([x, y, np.full_like(x, standoff_mm)], axis=1)
    lamps = np.column_stack([lamps_mm, np.zeros(len(lamps_mm))])
    axes = np.tile([0.0, 0.0, 1.0], (len(lamps), 1))
    return evenness(illuminance(points, np.tile([0.0, 0.0, -1.0], (len(points), 1)), lamps, axes, order, 1.0))


def depth_for(window_mm: tuple[float, float], order: float, wanted: float) -> float:
    """Standoff at which one lamp behind the middle lights a rectangular window evenly enough, mm.

    Notes
    -----
    Least over most is cos^(m + 3) at the corner: z = r / sqrt(wanted^(-2 / (m + 3)) - 1), exact.
    """
    corner = math.hypot(*window_mm) / 2.0
    return corner / math.sqrt(wanted ** (-2.0 / (order + 3.0)) - 1.0)


def remedy(
    window_mm: tuple[float, float],
    standoff_mm: float,
    order: float,
    lamps_mm: Array | None = None,
    wanted: float = 0.7,
) -> Remedy:
    """What would even out a window: a deeper pocket, two lamps at the flat-field pitch, or a ring of three.

    Parameters
    ----------
    window_mm : (2,)
        Sides of the window, mm.
    standoff_mm, order : float
        From the lamps to the window, and the power of their cosine.
    lamps_mm : (k, 2), optional
        Places of the lamps about the window's middle; default: one behind the middle.
    wanted : float
        Least over most that counts as even; 0.7 is a habit, a step the eye hardly sees across a window.

    Notes
    -----
    Depth by closed form for one lamp behind the middle, by bisection to 1e-6 mm for others. Spacings are flat in the
    middle only; whether they reach the window's corners is what `pair` and `ring` say.
    """
    places = np.zeros((1, 2)) if lamps_mm is None else np.asarray(lamps_mm, dtype=np.float64)
    now = window_evenness(window_mm, standoff_mm, order, places)
    depth = _depth(window_mm, standoff_mm, order, places, wanted)
    pitch = flat_field(order, standoff_mm)
    way = np.array([1.0, 0.0]) if window_mm[0] >= window_mm[1] else np.array([0.0, 1.0])
    pair = window_evenness(window_mm, standoff_mm, order, np.outer([-pitch / 2.0, pitch / 2.0], way))
    radius = flat_ring(order, standoff_mm)
    turns = np.arange(3) * 2.0 * math.pi / 3.0
    ring = window_evenness(window_mm, standoff_mm, order, radius * np.stack([np.cos(turns), np.sin(turns)], axis=1))
    wide = window_evenness(window_mm, standoff_mm, 1.0, places)
    says = ""
    if now.min_over_max < wanted:
        says = f"least over most is {now.min_over_max:.2f}, wanted {wanted:.2f}: set the light {depth:.1f} mm back"
        for even, other in (
            (pair, f"use two lamps {pitch:.1f} mm apart"),
            (ring, f"use three lamps on a ring of {radius:.1f} mm radius"),
            (wide, "use a lamp with a wide beam, half at 60 degrees"),
        ):
            says += f", or {other} ({even.min_over_max:.2f})" if even.min_over_max >= wanted else ""
    return Remedy(now, wanted, depth, pitch, pair, radius, ring, wide, says)


def _depth(window_mm: tuple[float, float], standoff_mm: float, order: float, places: Array, wanted: float) -> float:
    """The smallest standoff from which on the window is even enough; that asked about where it already is."""
    if not places.any():
        return depth_for(window_mm, order, wanted)

    def over(height: float) -> float:
        return window_evenness(window_mm, height, order, places, 21).min_over_max - wanted

    if over(standoff_mm) >= 0.0:
        return standoff_mm
    deep = standoff_mm
    while over(deep) < 0.0:
        deep *= 1.5
    return float(brentq(over, deep / 1.5, deep, xtol=1e-6))


def _steps(count: int) -> Array:
    return np.arange(count, dtype=np.float64) - (count - 1) / 2.0
