"""`cell_borders`: the straight lines midway between neighbouring points of a plane."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from prep.geometry.solid import Array


@dataclass(frozen=True, eq=False)
class Border:
    """The stretch of the line midway between two points that no third point is nearer to.

    Attributes
    ----------
    pair : numbers of the two points
    middle : (2,) halfway between them
    normal : (2,) unit, from the first to the second
    along : (2,) unit, the normal turned counter-clockwise by a right angle
    low_mm, high_mm : ends from the middle along `along`; infinite where no third point ends it
    """

    pair: tuple[int, int]
    middle: Array
    normal: Array
    along: Array
    low_mm: float
    high_mm: float


def cell_borders(points: Array, shortest_mm: float) -> list[Border]:
    """All borders between neighbours that are longer than a length, in the order of their pairs.

    Parameters
    ----------
    points : (n, 2)
        Pairwise apart.

    Notes
    -----
    Exact: on the line midway between two points, each further point bounds the stretch by one linear inequality.
    Cost: the cube of the number of points.

    References
    ----------
    F. Aurenhammer, Voronoi diagrams - a survey of a fundamental geometric data structure, ACM Computing Surveys 23
    (1991) 345, section 1.
    """
    borders = []
    for first in range(len(points)):
        for second in range(first + 1, len(points)):
            apart = points[second] - points[first]
            normal = apart / np.linalg.norm(apart)
            along = np.array([-normal[1], normal[0]])
            middle = (points[first] + points[second]) / 2.0
            low, high = -math.inf, math.inf
            for third in set(range(len(points))) - {first, second}:
                slope = 2.0 * float((points[third] - points[first]) @ along)
                room = float((points[third] - middle) @ (points[third] - middle) - apart @ apart / 4.0)
                if abs(slope) <= 1e-9 * float(np.linalg.norm(points[third] - middle)):
                    low, high = (low, high) if room > 0.0 else (math.inf, -math.inf)
                elif slope > 0.0:
                    high = min(high, room / slope)
                else:
                    low = max(low, room / slope)
            if high - low > shortest_mm:
                borders.append(Border((first, second), middle, normal, along, low, high))
    return borders
