"""`wall_tints`: thickness as tints, one hue below the limit and another that pales as the wall grows above it."""

from __future__ import annotations

import numpy as np

from prep.geometry.solid import Array
from prep.report.palette import CHANGED, PAPER, SLATE, linear
from prep.report.paper import FINE_PRINT, Paper
from prep.report.shading import Floats

STOPS = (0.0, 1.0, 1.0, 2.0, 4.0)
"""Thickness in limits at which the tints below stand; between them light is mixed."""
TINTS = ("#7d1f12", CHANGED, "#e3c56b", "#8fb3a4", SLATE)
UNMEASURED = "#e9e5db"


def wall_tints(thickness_mm: Array, limit_mm: float) -> Floats:
    """Linear light (n, 3) for thicknesses (n,) in mm against a limit; NaN, no wall, is pale."""
    light = np.array([linear(tint) for tint in TINTS])
    share = np.asarray(thickness_mm, dtype=np.float64) / limit_mm
    stops = np.array(STOPS)
    stops[1] -= 1e-9
    mixed = np.stack([np.interp(share, stops, light[:, channel]) for channel in range(3)], axis=-1)
    return np.asarray(np.where(np.isnan(share)[..., None], linear(UNMEASURED), mixed), dtype=np.float32)


def wall_legend(paper: Paper, limit_mm: float, middle: float, row: float) -> None:
    """Draw the key to the tints, centred on a place, with the limit marked."""
    cells = (
        (0.0, "0"),
        (0.5, ""),
        (0.999, ""),
        (1.0, f"limit {limit_mm:.2f}"),
        (1.5, ""),
        (2.0, f"{2.0 * limit_mm:.2f}"),
        (3.0, ""),
        (4.0, f"{4.0 * limit_mm:.2f} mm and more"),
    )
    side = 60.0
    left = middle - side * len(cells) / 2.0
    tints = wall_tints(np.array([share for share, _ in cells]) * limit_mm, limit_mm)
    for turn, (_, says) in enumerate(cells):
        start = left + turn * side
        code = "#" + "".join(f"{round(255 * _gamma(float(value))):02x}" for value in tints[turn])
        box = np.array([[start, row - 8], [start + side, row - 8], [start + side, row + 4], [start, row + 4]])
        paper.area([box], fill=code, edge=PAPER, width=0.6)
        if says:
            paper.words((start, row + 22), says, size=FINE_PRINT)


def _gamma(value: float) -> float:
    return 12.92 * value if value <= 0.0031308 else 1.055 * value ** (1.0 / 2.4) - 0.055
