"""`wet_paint_ml`: how much paint from the can a dry film takes."""

from __future__ import annotations


def wet_paint_ml(area_mm2: float, film_mm: float, solids: float, overspray: float) -> float:
    """Millilitres of wet paint for a dry film, what misses the part included.

    Parameters
    ----------
    area_mm2, film_mm : float
        Painted area and dry thickness.
    solids : float
        Share by volume of the wet paint that stays, above 0 and up to 1.
    overspray : float
        Share of what is sprayed that misses the part, 0 up to below 1.

    Notes
    -----
    Exact: dry volume / solids / (1 - overspray). 1000 mm3 are one millilitre.
    """
    return area_mm2 * film_mm / 1000.0 / solids / (1.0 - overspray)
