"""`balance`: mass and balance point of several lumps together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Lump:
    """A mass at a place, with its honest band.

    Attributes
    ----------
    mass_g, low_g, high_g : float
    centre_mm : (3,)
    """

    mass_g: float
    low_g: float
    high_g: float
    centre_mm: Array


def balance(lumps: Sequence[Lump]) -> Lump:
    """The lumps as one: masses and bands added, balance point weighed by the middle masses.

    Notes
    -----
    The band is the sum of the bands: every lump light, or every lump heavy, together. Exact.
    """
    total = sum(lump.mass_g for lump in lumps)
    moment = sum((lump.mass_g * np.asarray(lump.centre_mm) for lump in lumps), start=np.zeros(3))
    low, high = sum(lump.low_g for lump in lumps), sum(lump.high_g for lump in lumps)
    return Lump(total, low, high, moment / total if total else np.zeros(3))
