"""`thickness_map`: a solid with corners dense enough to carry its wall thickness, and the thickness at each."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from prep.geometry.solid import Array, Solid, refined
from prep.geometry.wall_thickness import Thickness

_MOST_CORNERS = 150_000


def thickness_map(solid: Solid, measured: Thickness) -> tuple[Solid, Array]:
    """The same shape with finer triangles where they are large, and the wall thickness at every vertex.

    Returns
    -------
    solid : Solid
    thickness_mm : (n,) float64
        Of the nearest sample; NaN where no face is opposed. A vertex on an edge takes the thinner of its faces, of the
        two nearest samples.

    Notes
    -----
    Values are those of samples, at most the measure's spacing away; nothing is measured again. Corners are put two
    spacings apart, or as far as 150 000 of them allow. Cost: one nearest sample a vertex.
    """
    length = max(2.0 * measured.spacing_mm, float(np.sqrt(2.0 * solid.area_mm2 / _MOST_CORNERS)))
    dense = refined(solid, length)
    return dense, vertex_thickness(dense, measured)


def vertex_thickness(solid: Solid, measured: Thickness) -> Array:
    """The wall thickness at every vertex of a solid, (n,) mm; NaN where no face is opposed."""
    nearest = np.asarray(cKDTree(measured.point).query(solid.vertices, k=min(2, len(measured.point)))[1])
    value = measured.thickness_mm[nearest.reshape(len(solid.vertices), -1)].min(axis=1)
    return np.asarray(np.where(np.isfinite(value), value, np.nan))
