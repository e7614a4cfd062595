"""`same_shape`: whether two meshes are one shape, one shape moved, or how far and where they differ."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from prep.geometry.rigid_motion import rigid_motion
from prep.geometry.shape_difference import ShapeDifference, shape_difference
from prep.geometry.solid import Array, Solid

Likeness = Literal["same", "moved", "differs"]

_ULPS = 4.0
"""Roundings to single precision, of the largest coordinate, within which two points are one."""

_MOSTLY = 0.5
"""Share of the surface that must have changed before another position is looked for."""


@dataclass(frozen=True)
class SameShape:
    """What became of a shape.

    Attributes
    ----------
    likeness : "same" where it stands, "moved" only, or it "differs"
    motion : (4, 4)
        Carries the old shape to where the new one is compared with it; the identity where it did not move.
    turn_deg, shift_mm : float
        Angle of that motion, and how far it carries the middle of the old bounds.
    difference : ShapeDifference
        Measured after the motion.
    tolerance_mm : float
        Nearer than this counts as the same place.
    """

    likeness: Likeness
    motion: Array
    turn_deg: float
    shift_mm: float
    difference: ShapeDifference
    tolerance_mm: float


def same_shape(old: Solid, new: Solid, tolerance_mm: float | None = None) -> SameShape:
    """Compare two shapes, whatever their triangles, their order, or where they stand.

    Parameters
    ----------
    tolerance_mm : float, optional
        By default four roundings to single precision of the largest coordinate, and 1e-6 of the diagonal at least.

    Notes
    -----
    The surfaces are compared where they stand; if more than half of either is elsewhere, or volume and area are the
    same to 1e-4, the motion of `rigid_motion` is tried and kept where it explains more. Cost: two nearest-point
    queries a sample, some 40 000 samples.
    """
    tolerance = tolerance_mm if tolerance_mm is not None else _rounding(old, new)
    still = np.eye(4)
    here = shape_difference(old, new, tolerance)
    if here.share == 0.0 or (here.share <= _MOSTLY and not _alike(old, new)):
        return _said(still, here, old, tolerance)
    motion = rigid_motion(old, new, tolerance)
    if motion is None or np.allclose(motion, still, atol=1e-12):
        return _said(still, here, old, tolerance)
    there = shape_difference(old.moved(motion), new, tolerance)
    if there.share > here.share - 0.05 and there.largest_mm > 0.5 * here.largest_mm:
        return _said(still, here, old, tolerance)
    return _said(motion, there, old, tolerance)


def _said(motion: Array, difference: ShapeDifference, old: Solid, tolerance: float) -> SameShape:
    turn = float(np.degrees(np.arccos(np.clip((np.trace(motion[:3, :3]) - 1.0) / 2.0, -1.0, 1.0))))
    middle = old.bounds_mm.mean(axis=0)
    shift = float(np.linalg.norm(motion[:3, :3] @ middle + motion[:3, 3] - middle))
    same: Likeness = "moved" if not np.array_equal(motion, np.eye(4)) else "same"
    likeness: Likeness = same if difference.share == 0.0 else "differs"
    return SameShape(likeness, motion, turn, shift, difference, tolerance)


def _alike(old: Solid, new: Solid) -> bool:
    return bool(
        np.isclose(old.volume_mm3, new.volume_mm3, rtol=1e-4) and np.isclose(old.area_mm2, new.area_mm2, rtol=1e-4)
    )


def _rounding(old: Solid, new: Solid) -> float:
    largest = max(float(np.abs(solid.bounds_mm).max()) for solid in (old, new))
    return max(_ULPS * largest * float(np.finfo(np.float32).eps), 1e-6 * max(old.diagonal_mm, new.diagonal_mm))
