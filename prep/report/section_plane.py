"""`Plane`: the plane of a section, and where its places are on the sheet."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from prep.contract import View
from prep.geometry.solid import Array, Solid, slice_at
from prep.places.place import unit_of
from prep.report.camera import axes_seen_from

WIDTH, HEIGHT = 900, 700
HEAD, FOOT, SIDE = 50, 62, 22
"""The sheet in pixels, and what is kept free of the drawing at its top, foot and sides."""


@dataclass(frozen=True, eq=False)
class Plane:
    """The plane of a section and where its places are on the sheet."""

    origin: Array
    right: Array
    up: Array
    normal: Array
    pixels_per_mm: float

    @classmethod
    def of(cls, view: View) -> Plane:
        """The plane of a view, z up where it can be."""
        right, up, normal = axes_seen_from(unit_of(view.normal))
        return cls(np.array(view.at_mm), right, up, normal, (WIDTH - 2 * SIDE) / view.span_mm)

    def cut(self, solid: Solid) -> list[Array]:
        """Outlines of the solid in the plane's axes, (k, 2) mm each."""
        return slice_at(solid, self.origin, self.normal, self.right)

    def flat(self, vector: Array) -> Array:
        """A direction as far as it lies in the plane, (2,)."""
        return np.array([vector @ self.right, vector @ self.up])

    def spot(self, place: Array) -> tuple[float, float]:
        """Where a place (2,) mm of the plane is on the sheet."""
        middle_row = HEAD + (HEIGHT - HEAD - FOOT) / 2.0
        return WIDTH / 2.0 + float(place[0]) * self.pixels_per_mm, middle_row - float(place[1]) * self.pixels_per_mm

    def spots(self, outline: Array) -> Array:
        """Where an outline (k, 2) mm is on the sheet, (k, 2)."""
        return np.array([self.spot(place) for place in outline])
