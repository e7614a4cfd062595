"""`linked`: which samples of a solid's skin see one another through its material."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from prep.geometry.rays import RayScene
from prep.geometry.solid import Array, Solid

NEIGHBOURS = 10
OFF = 1e-4
"""How deep rays start, in spacings of the samples."""


def linked(solid: Solid, points: Array, normals: Array, spread: int) -> NDArray[np.intp]:
    """Pairs of samples, (k, 2), that a straight line inside the solid joins, each beside the other.

    Parameters
    ----------
    points, normals : (n, 3) on the skin, unit outward
    spread : the first so many are an even spread; every sample is tried with the nearest of those

    Notes
    -----
    The lines run between places half as deep as the solid is thick, at most one spacing, so both skins of a wall are
    joined. No pair is false; where the spread is coarser than the solid's folds a pair may be missing. Cost:
    `NEIGHBOURS` rays a sample.
    """
    scene = RayScene([solid])
    spacing = float(np.sqrt(solid.triangle_areas.sum() / spread))
    thick = scene.cast(points - OFF * spacing * normals, -normals).distance_mm
    deep = np.clip(0.5 * np.where(np.isfinite(thick), thick, 0.0), OFF * spacing, spacing)
    under = points - deep[:, None] * normals
    count = min(NEIGHBOURS + 1, spread)
    near = cKDTree(under[:spread]).query(under, k=count)[1].reshape(len(points), count)
    pairs = np.stack([np.repeat(np.arange(len(points)), count), near.ravel()], axis=1)
    pairs = np.unique(np.sort(pairs[pairs[:, 0] != pairs[:, 1]], axis=1), axis=0)
    if not len(pairs):
        return pairs
    line = under[pairs[:, 1]] - under[pairs[:, 0]]
    long = np.linalg.norm(line, axis=1)
    way = np.divide(line, long[:, None], out=np.zeros_like(line), where=long[:, None] > 0.0)
    way[long == 0.0] = (0.0, 0.0, 1.0)
    hit = scene.cast(under[pairs[:, 0]], way).distance_mm
    return np.asarray(pairs[(hit > long) | (long == 0.0)])
