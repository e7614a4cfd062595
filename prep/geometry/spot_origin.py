"""Whether thin spots of a worked solid were there before the work."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from prep.geometry.distance import Nearest
from prep.geometry.solid import Solid
from prep.geometry.thin_spots import ThinSpot


def already_in(original: Solid, spots: Sequence[ThinSpot], tolerance_mm: float = 0.01) -> tuple[bool, ...]:
    """For every spot, whether both of its skins are skins of the original too, so that it was as thin there.

    Parameters
    ----------
    original : Solid
        The solid before the work, in the same frame.
    tolerance_mm : float
        How far a skin may have moved and still count as the same.

    Notes
    -----
    Two nearest-point queries a spot.
    """
    if not spots:
        return ()
    ends = np.array([end for spot in spots for end in (spot.at_mm, spot.opposite_mm)])
    away = Nearest.of(original).query(ends).distance_mm.reshape(-1, 2)
    return tuple(bool(farther <= tolerance_mm + 1e-6 * original.diagonal_mm) for farther in away.max(axis=1))
