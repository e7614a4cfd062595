"""`CellRoom`: how much wall a seat of any form leaves that opens on one face of a part."""

from __future__ import annotations

import numpy as np

from prep.geometry.distance import Nearest
from prep.geometry.inside import Inside
from prep.geometry.rays import RayScene
from prep.geometry.seat_room import OPENS
from prep.geometry.solid import Array, Solid, refined

LOOK_MM = 3.0
_SPACING_MM = 1.2
_BELOW_MM = 0.02
_HIGHEST_MM = 0.6


class CellRoom:
    """A part made ready to be asked about seats that open at one place.

    Parameters
    ----------
    frame : (4, 4)
        From the seat's axes to the part's: origin at the mouth's middle, z out of the material.
    """

    def __init__(self, host: Solid, frame: Array) -> None:
        self._frame = frame
        self._out = frame[:3, 2]
        self._scene = RayScene([host])
        self._whole = Nearest.of(host)
        self._inside = Inside(host.vertices, host.triangles)
        walls = host.triangles[host.triangle_normals @ self._out <= OPENS]
        self._walls = Nearest(host.vertices, np.ascontiguousarray(walls))

    def highest_mm(self, half_mm: tuple[float, float]) -> float:
        """How far the skin rises above the mouth's plane within a rectangle about it, looked at from `LOOK_MM`."""
        steps = [np.arange(-half, half + _SPACING_MM / 2.0, _SPACING_MM / 2.0) for half in half_mm]
        flat = np.stack(np.meshgrid(*steps, indexing="ij"), axis=-1).reshape(-1, 2)
        heights = self._skin(flat)
        return float(np.clip(heights[np.isfinite(heights)].max(initial=0.0), 0.0, _HIGHEST_MM))

    def wall_mm(self, cutter: Solid) -> float:
        """Least material between a cutter and every face but those it opens on; negative where it breaks out.

        Notes
        -----
        Exact distance from points on the cutter some 1.2 mm apart, those below the skin it opens on; between points
        the least may be missed by about spacing^2 / (8 radius).
        """
        points = refined(cutter, _SPACING_MM).vertices
        local = (points - self._frame[:3, 3]) @ self._frame[:3, :3]
        skin = self._skin(local[:, :2])
        if not np.isfinite(skin).all():
            return -np.inf
        below = local[:, 2] < np.minimum(skin, 0.0) - _BELOW_MM
        points = points[below]
        distance = self._walls.query(points).distance_mm
        within = self._inside.test(points, self._whole.query(points))
        return float(np.where(within, distance, -distance).min())

    def _skin(self, flat: Array) -> Array:
        """Height of the skin over places of the mouth's plane, (n,) mm; infinite where none is near."""
        starts = self._frame[:3, 3] + flat @ self._frame[:3, :2].T + LOOK_MM * self._out
        hits = self._scene.cast(starts, np.tile(-self._out, (len(starts), 1)))
        height = LOOK_MM - hits.distance_mm
        return np.where(np.isfinite(height) & (height > -LOOK_MM), height, np.inf)
