"""Tabs, ears, pins and sockets of a mask's pieces."""

from __future__ import annotations

import numpy as np

from prep.geometry.lathe import lathe, prism
from prep.geometry.solid import Array, Solid, subtract

TAB_MM = (8.0, 2.4, 11.0)
"""Wide, thick, and how far it stands out: what two fingers hold."""
EAR_MM = (8.0, 7.0, 3.0)
"""Wide, standing out, and thick on either side of the parting."""
NOTCH_MM = (2.6, 1.2)
"""Wide and deep, for a rubber band laid round."""
PIN_LONG_MM = 2.0
PIN_ROOT_MM = 1.5
PIN_TIP_MM = 0.4
PIN_OUT_MM = 3.0
"""From the mask's outside to the pin's middle."""


def frame_at(at: Array, x: Array, y: Array, z: Array) -> Array:
    """The (4, 4) frame with these axes at a point."""
    frame = np.eye(4)
    frame[:3, 0], frame[:3, 1], frame[:3, 2], frame[:3, 3] = x, y, z, at
    return frame


def square_frame(at: Array, z: Array, near_x: Array) -> Array:
    """The (4, 4) frame at a point with this z and an x as near as can be to another direction."""
    x = near_x - (near_x @ z) * z
    if np.linalg.norm(x) < 1e-6:
        x = np.cross(z, np.eye(3)[int(np.argmin(np.abs(z)))])
    x = x / np.linalg.norm(x)
    return frame_at(at, x, np.cross(z, x), z)


def tab(frame: Array, root_mm: float) -> Solid:
    """A flat tab along the frame's z, wide along x, from `root_mm` below the origin."""
    return prism(
        _oblong(-TAB_MM[0] / 2.0, TAB_MM[0] / 2.0, -TAB_MM[1] / 2.0, TAB_MM[1] / 2.0), -root_mm, TAB_MM[2], frame
    )


def ear(frame: Array, root_mm: float) -> Solid:
    """A lug across a parting: z is the parting's normal, y points out of the mask; notched on top for a band."""
    wide, out, thick = EAR_MM
    block = prism(_oblong(-wide / 2.0, wide / 2.0, -root_mm, out), -thick, thick, frame)
    half = NOTCH_MM[0] / 2.0
    notch = prism(_oblong(-half, half, out - NOTCH_MM[1], out + 1.0), -thick - 1.0, thick + 1.0, frame)
    return subtract(block, [notch])


def pin(frame: Array, radius_mm: float) -> Solid:
    """A pin along the frame's z, rooted below the origin, its tip chamfered."""
    return lathe(
        np.array(
            [
                [radius_mm, -PIN_ROOT_MM],
                [radius_mm, PIN_LONG_MM - PIN_TIP_MM],
                [radius_mm - PIN_TIP_MM, PIN_LONG_MM],
            ]
        ),
        frame,
    )


def socket(frame: Array, radius_mm: float, fit_mm: float) -> Solid:
    """The cutter for a pin's socket, wider and deeper by the fit; it begins below the origin."""
    return lathe(np.array([[radius_mm + fit_mm, -PIN_ROOT_MM], [radius_mm + fit_mm, PIN_LONG_MM + fit_mm]]), frame)


def _oblong(left: float, right: float, low: float, high: float) -> Array:
    return np.array([[left, low], [right, low], [right, high], [left, high]])
