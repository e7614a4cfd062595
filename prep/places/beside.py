"""What stands beside a point: the nearest of some named places within its own reach."""

from __future__ import annotations

import math
from collections.abc import Iterable

from prep.places.place import Triple


def beside(at_mm: Triple, named: Iterable[tuple[str, Triple, float]]) -> str:
    """The name whose place is nearest, less its reach; empty where none reaches.

    Parameters
    ----------
    named : (name, place in mm, reach in mm)
        A place farther away than its reach does not count.
    """
    near = [(math.dist(at_mm, place) - reach, name) for name, place, reach in named]
    return min((gap, name) for gap, name in near if gap <= 0.0)[1] if any(gap <= 0.0 for gap, _ in near) else ""
