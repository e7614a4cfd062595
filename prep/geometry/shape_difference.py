"""`shape_difference`: how far apart two surfaces are, over how much of them, and where most."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from prep.geometry.contact import fill_triangles
from prep.geometry.distance import Nearest
from prep.geometry.solid import Array, Solid

_SAMPLES = 20_000
_MOST_CORNERS = 200_000


@dataclass(frozen=True)
class ShapeDifference:
    """Two surfaces compared where they stand.

    Attributes
    ----------
    largest_mm : float
        Greatest distance of a sample of either surface from the other.
    at_mm : (3,)
        That sample.
    gone : bool
        It lies on the old surface and no longer on the new.
    share : float
        Of the surface that is farther away than the tolerance: the larger of the share of the old one that is gone
        and the share of the new one that was not there.
    volume_change_mm3 : float
    """

    largest_mm: float
    at_mm: Array
    gone: bool
    share: float
    volume_change_mm3: float


def shape_difference(old: Solid, new: Solid, tolerance_mm: float) -> ShapeDifference:
    """Compare two surfaces in the same frame, in both directions.

    Notes
    -----
    Samples are all corners (of very fine meshes an even choice) and points spread by area; the largest distance is
    exact where it is taken at a corner, else low by at most half the spacing between samples, the root of area over
    20 000. Shares are those of the points spread by area, so a change of a single corner still shows: the share is
    then that of the triangles about it, at least. Cost: two nearest-point queries a sample.
    """
    gone = _away(old, new, tolerance_mm)
    come = _away(new, old, tolerance_mm)
    worst = gone if gone[0] > come[0] else come
    return ShapeDifference(worst[0], worst[1], worst is gone, max(gone[2], come[2]), new.volume_mm3 - old.volume_mm3)


def _away(of: Solid, other: Solid, tolerance_mm: float) -> tuple[float, Array, float]:
    """Greatest distance of one surface's samples from the other, its place, and the share of area that is away."""
    points, owner = fill_triangles(of.corners, float(np.sqrt(of.area_mm2 / _SAMPLES)))
    weight = (of.triangle_areas / np.bincount(owner, minlength=len(of.triangles)))[owner]
    if len(points) > 2 * _MOST_CORNERS:
        step = len(points) // _MOST_CORNERS
        points, weight = points[::step], weight[::step]
    corners = of.vertices[:: max(1, len(of.vertices) // _MOST_CORNERS)]
    found = Nearest.of(other).query(np.concatenate([points, corners])).distance_mm
    far = found > tolerance_mm
    share = float(weight[far[: len(points)]].sum() / weight.sum())
    if share == 0.0 and far.any():
        share = float(of.triangle_areas[np.isin(of.triangles, np.flatnonzero(far[len(points) :])).any(axis=1)].sum())
        share = max(share / of.area_mm2, 1e-12)
    worst = int(np.argmax(found))
    place = points[worst] if worst < len(points) else corners[worst - len(points)]
    return float(found[worst]), place, share
