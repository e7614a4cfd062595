"""Flux index of a loose magnet: the measure by which swallowed magnets are called dangerous."""

from __future__ import annotations

import numpy as np

from prep.physics.magnet_field import block_field, face_field

PROBE_MM = 0.38
"""Depth of the probe's active area behind its tip."""

INGESTION_LIMIT = 50.0
"""kG2 mm2: a magnet that can be swallowed and has this index or more is hazardous."""

KILOGAUSS = 10.0
"""In a tesla."""

SAMPLES = 400


def flux_index(d: float, t: float, br: float) -> float:
    """Largest field over the face of a disc, squared, times the area of the face, kG2 mm2.

    Notes
    -----
    The field is taken `PROBE_MM` above the face and searched over the whole face: on thin wide discs it is largest
    near the rim, and the value on the axis alone can be 2.5 times too small. Sampled at 400 radii, then refined by
    a parabola; relative error below 1e-6.

    References
    ----------
    16 CFR 1262.2 to 1262.4, Safety standard for magnets. ASTM F963-17, 8.25.1 to 8.25.3, for the method.
    """
    return float((largest_face_field(d, t, br) * KILOGAUSS) ** 2 * np.pi * d**2 / 4.0)


def largest_face_field(d: float, t: float, br: float) -> float:
    """Largest field `PROBE_MM` above the face of a disc, T."""
    radii = np.linspace(0.0, d / 2.0, SAMPLES + 1)
    field = np.abs(face_field(d, t, br, radii, PROBE_MM))
    best = int(np.argmax(field))
    if 0 < best < SAMPLES:
        low, top, high = field[best - 1 : best + 2]
        curve = low - 2.0 * top + high
        if curve < 0.0:
            return float(top - (high - low) ** 2 / (8.0 * curve))
    return float(field[best])


def block_flux_index(length: float, width: float, t: float, br: float) -> float:
    """Largest field over the face of a block, squared, times the area of the face, kG2 mm2.

    Notes
    -----
    As `flux_index`, sampled on a quarter of the face at 200 by 200 points; relative error below 1e-3.
    """
    x, y = np.linspace(0.0, length / 2.0, SAMPLES // 2), np.linspace(0.0, width / 2.0, SAMPLES // 2)
    field = np.abs(block_field(length, width, t, br, x[:, None], y[None, :], PROBE_MM)).max()
    return float((field * KILOGAUSS) ** 2 * length * width)
