"""`fan`: polygons cut into triangles that all share the polygon's first corner."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Whole = NDArray[np.int64]


def fan(counts: Whole, corners: Whole) -> tuple[Whole, Whole]:
    """Triangles of polygons given one after the other.

    Parameters
    ----------
    counts : (p,) int64
        Corners of each polygon; those with fewer than three make no triangle.
    corners : (sum of counts,) int64
        Vertex numbers, polygon after polygon.

    Returns
    -------
    triangles : (m, 3) int64
        Wound as the polygons are.
    polygon : (m,) int64
        Which polygon each triangle comes from.

    Notes
    -----
    Edges of the polygon stay edges of the triangles, so a closed surface stays closed. A flat polygon keeps its signed
    area and volume even where it is not convex; its triangles may then lie over one another.
    """
    pieces = np.maximum(counts - 2, 0)
    polygon = np.repeat(np.arange(len(counts)), pieces)
    begin = (np.cumsum(counts) - counts)[polygon]
    step = np.arange(len(polygon)) - (np.cumsum(pieces) - pieces)[polygon]
    triangles = np.stack([corners[begin], corners[begin + step + 1], corners[begin + step + 2]], axis=1)
    return triangles, polygon
