"""`Camera`: the eye of a picture; parallel rays, so that one scale holds over the whole of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from prep.geometry.solid import Array, Solid


@dataclass(frozen=True, eq=False)
class Camera:
    """A parallel view onto solids.

    Attributes
    ----------
    right, up, out : (3,) unit
        The picture's own axes in the frame of the solids; `out` points from the solids to the eye.
    middle : (3,) mm
        What is seen at the centre of the picture.
    mm_per_pixel : float
    width, height : int, pixels
    reach_mm : float
        How far before `middle` rays start; beyond everything in view.
    """

    right: Array
    up: Array
    out: Array
    middle: Array
    mm_per_pixel: float
    width: int
    height: int
    reach_mm: float

    @classmethod
    def fitted(
        cls, solids: Sequence[Solid], seen_from: Array, *, width: int, height: int, margin: float = 0.08
    ) -> Camera:
        """The camera that shows all of the solids as large as the picture allows.

        Parameters
        ----------
        seen_from : (3,)
            Direction from the solids to the eye.
        width, height : int, pixels
        margin : float
            Share of the smaller side kept free all around.
        """
        right, up, out = axes_seen_from(seen_from)
        vertices = np.concatenate([solid.vertices for solid in solids])
        flat = vertices @ np.stack([right, up, out]).T
        low, high = flat.min(axis=0), flat.max(axis=0)
        free = margin * min(width, height)
        size = np.maximum(high - low, 1e-12)
        scale = max(size[0] / (width - 2.0 * free), size[1] / (height - 2.0 * free))
        centre = (low + high) / 2.0
        middle = right * centre[0] + up * centre[1] + out * centre[2]
        return cls(right, up, out, middle, float(scale), width, height, float(size[2]) * 0.55 + float(scale))

    def origins(self, columns: Array, rows: Array) -> Array:
        """Where rays start, (n, 3) mm, for places in the picture in pixels from its top left corner."""
        across = (columns - self.width / 2.0) * self.mm_per_pixel
        above = (self.height / 2.0 - rows) * self.mm_per_pixel
        start = self.middle + self.out * self.reach_mm
        return np.asarray(start + across[:, None] * self.right + above[:, None] * self.up)

    def pixels(self, points: Array) -> Array:
        """Where points (n, 3) mm are seen: columns and rows from the top left corner, (n, 2)."""
        away = np.atleast_2d(points) - self.middle
        columns = away @ self.right / self.mm_per_pixel + self.width / 2.0
        rows = self.height / 2.0 - away @ self.up / self.mm_per_pixel
        return np.stack([columns, rows], axis=1)


def axes_seen_from(seen_from: Array) -> tuple[Array, Array, Array]:
    """The picture's axes (right, up, out) for an eye in that direction; z is up where it can be, else y."""
    out = np.asarray(seen_from, dtype=np.float64) / np.linalg.norm(seen_from)
    hint = np.array([0.0, 0.0, 1.0]) if abs(out[2]) < 0.999 else np.array([0.0, 1.0, 0.0])
    right = np.cross(hint, out)
    right = right / np.linalg.norm(right)
    return right, np.cross(out, right), out
