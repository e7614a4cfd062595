"""How far from a heart device a magnet must stay."""

from __future__ import annotations

from scipy.optimize import brentq

from prep.physics.magnet_field import axis_field

TRIP_T = 1e-3
"""Field that may switch a pacemaker or defibrillator into its magnet mode: 10 gauss."""


def device_distance(d: float, t: float, br: float, field_t: float = TRIP_T) -> float:
    """Distance from the face, on the axis of a disc, at which its field has fallen to `field_t`, mm.

    Returns
    -------
    float
        0 where the field is weaker even at the face. For a single magnet; fields of several add.

    References
    ----------
    U.S. Food and Drug Administration, advice on magnets in consumer electronics and implanted devices, 2021:
    keep 15 cm away; magnet mode above 10 G.
    """
    if float(axis_field(d, t, br, 0.0)) <= field_t:
        return 0.0
    reach = d + t
    while float(axis_field(d, t, br, reach)) > field_t:
        reach *= 2.0
    return float(brentq(lambda z: float(axis_field(d, t, br, z)) - field_t, 0.0, reach, xtol=1e-9))
