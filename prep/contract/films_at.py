"""`films_at`, `films_between`: how thick the paint will lie where a fit is made."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from prep.contract import Bench
from prep.geometry.solid import Array
from prep.places.region import find_region


def films_at(bench: Bench, name: str, points: Array, *, uncapped: bool = False) -> Array:
    """Dry film that all coats ahead leave at points of a part's skin, (n,) mm.

    Parameters
    ----------
    points : (n, 3) mm
    uncapped : bool
        Only coats whose step leaves mouths open; what they leave lies on the walls of a seat as well.

    Raises
    ------
    NoSuchRegion, NoColours, NoSuchPlace
        A coat's region is not on the part.
    """
    film = np.zeros(len(points))
    for coat in bench.ahead:
        if coat.part != name or (uncapped and coat.capped):
            continue
        row = bench.tables.paints.get(coat.paint)
        if coat.region is None:
            film += row.film_mm
        else:
            beside = [bench.parts[cover].solid for cover in coat.covers]
            patch = find_region(bench.parts[name], coat.region, bench.bodies, beside)
            film += np.where(patch.contains(points), row.film_mm, 0.0)
    return film


def films_between(bench: Bench, names: Sequence[str], points: Array) -> tuple[float, float]:
    """Most film that will lie between the faces of parts that meet at points of a seam, and on a seat's walls there.

    Parameters
    ----------
    names : the one part, or the two that meet
    points : (n, 3) mm

    Returns
    -------
    gap_mm : both faces together
    walls_mm : of the worse part, per side; only coats that leave mouths open count
    """
    gap = sum(float(films_at(bench, name, points).max(initial=0.0)) for name in names)
    walls = max((float(films_at(bench, name, points, uncapped=True).max(initial=0.0)) for name in names), default=0.0)
    return gap, walls
