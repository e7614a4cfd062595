"""`next_up`: the resistor that is made, and the power it must bear."""

from __future__ import annotations

import math
from typing import Literal

from prep.errors import ResistorTooHot

E12 = (10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82)
"""IEC 60063:2015, Preferred number series for resistors and capacitors."""

E24 = (10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91)
"""IEC 60063:2015. Eight of them are not 10 x 10^(i/24) rounded, so the list is used, never the formula."""

Series = Literal["E12", "E24"]
SERIES: dict[Series, tuple[int, ...]] = {"E12": E12, "E24": E24}

RATINGS_W = (0.125, 0.25, 0.5, 1.0, 2.0)
"""What small resistors are sold for."""

LOADED = 0.5
"""Share of its rating a resistor closed in plastic is used to; a habit."""


def next_up(ohm: float, series: Series = "E24") -> float:
    """The smallest value of the series that is not below `ohm`, which is above 0.

    Notes
    -----
    From the list of IEC 60063 itself; a value that is on the list to 1e-9 counts as on it.
    """
    decade = 10.0 ** math.floor(math.log10(ohm))
    wanted = ohm / decade * 10.0
    value = next((each for each in SERIES[series] if each >= wanted * (1.0 - 1e-9)), 100)
    return float(f"{value * decade / 10.0:.3g}")


def rating_for(burnt_mw: float) -> float:
    """The rating to buy for a resistor that turns so much to heat, W.

    Raises
    ------
    ResistorTooHot
        No small resistor bears it.
    """
    need = burnt_mw / 1000.0 / LOADED
    rating = next((each for each in RATINGS_W if each >= need), None)
    if rating is None:
        raise ResistorTooHot(
            "the resistor would run hot",
            found=f"{burnt_mw:.0f} mW in it, {LOADED * RATINGS_W[-1] * 1000.0:.0f} mW is the most",
            fix="put more lamps in a row, or use a supply nearer the lamps' volts",
        )
    return rating
