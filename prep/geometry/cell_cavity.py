"""`CoinCavity` and `LongCavity`: the cutters of seats for button cells lying flat and for long cells side by side."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from prep.geometry.lathe import lathe, prism, slot_outline
from prep.geometry.solid import Array, Solid, unite

OVER_SHARE = 0.1
"""How far a cutter goes on past the skin, as a share of its depth; at least `OVER_MM`."""

OVER_MM = 0.2
_BEYOND_MM = 0.5
"""How far pieces of one cutter reach into one another, so that none share a face."""


@dataclass(frozen=True)
class CoinCavity:
    """A round seat with two contact slots up its side and a notch for a fingernail, measured from its mouth inward.

    Attributes
    ----------
    radius_mm, depth_mm : that stay free; facets stand outside
    slot_mm : width of a contact slot, and how far it reaches past the side
    notch_mm : radius of the bite for the finger, how far it reaches past the side, and its depth
    """

    radius_mm: float
    depth_mm: float
    slot_mm: tuple[float, float]
    notch_mm: tuple[float, float, float]

    def cutter(self, frame: Array, high_mm: float, angle_rad: float) -> Solid:
        """The solid to take away: the notch lies at an angle from the frame's x, the slots square to it."""
        top = max(high_mm, 0.0) + max(OVER_MM, OVER_SHARE * self.depth_mm)
        pieces = [lathe(np.array([[self.radius_mm, -self.depth_mm], [self.radius_mm, top]]), frame)]
        wide, past = self.slot_mm
        for side in (0.5, -0.5):
            turned = _turned(frame, angle_rad + side * math.pi)
            near, far = self.radius_mm - _BEYOND_MM - wide / 2.0, self.radius_mm + past
            box = np.array([[near, -wide / 2.0], [far, -wide / 2.0], [far, wide / 2.0], [near, wide / 2.0]])
            pieces.append(prism(box, -self.depth_mm, top, turned))
        bite, past, depth = self.notch_mm
        turned = _turned(frame, angle_rad)
        turned[:3, 3] += (self.radius_mm + past - bite) * turned[:3, 0]
        pieces.append(lathe(np.array([[bite, -depth], [bite, top]]), turned))
        return unite(pieces)

    def slot_walls(self, frame: Array, angle_rad: float, up_mm: float) -> list[tuple[Array, Array]]:
        """On the far wall of each slot, so far above the floor: the point, and the way on into the material."""
        found = []
        for side in (0.5, -0.5):
            turned = _turned(frame, angle_rad + side * math.pi)
            at = (self.radius_mm + self.slot_mm[1]) * turned[:3, 0] + (up_mm - self.depth_mm) * turned[:3, 2]
            found.append((frame[:3, 3] + at, turned[:3, 0].copy()))
        return found


@dataclass(frozen=True)
class LongCavity:
    """A trough along the frame's x for long cells side by side, with a slot for a contact plate at each end.

    Attributes
    ----------
    radius_mm : of the trough's lower corners
    width_mm, length_mm, depth_mm : that stay free
    plate_mm : thickness of a contact plate's slot, and how far it reaches past each side
    notch_mm : length of the finger's notch across the middle, how far it reaches past each side, and its depth;
        all 0 for none
    """

    radius_mm: float
    width_mm: float
    length_mm: float
    depth_mm: float
    plate_mm: tuple[float, float] = (0.0, 0.0)
    notch_mm: tuple[float, float, float] = (0.0, 0.0, 0.0)

    def cutter(self, frame: Array, high_mm: float, *, beyond_mm: float | None = None) -> Solid:
        """The solid to take away; `beyond_mm` past the skin, by default a tenth of the depth."""
        over = max(OVER_MM, OVER_SHARE * self.depth_mm) if beyond_mm is None else beyond_mm
        top = max(high_mm, 0.0) + over
        lying = np.eye(4)
        lying[:3, 0], lying[:3, 1], lying[:3, 2] = frame[:3, 1], frame[:3, 2], frame[:3, 0]
        lying[:3, 3] = frame[:3, 3]
        ring = slot_outline(self.radius_mm, self.width_mm - 2.0 * self.radius_mm)
        low = ring[ring[:, 1] < 0.0] + [0.0, self.radius_mm - self.depth_mm]
        half = float(low[:, 0].max())
        low = low[np.argsort(low[:, 0])]
        half_long = self.length_mm / 2.0
        pieces = [prism(np.array([*low, [half, top], [-half, top]]), -half_long, half_long, lying)]
        thick, past = self.plate_mm
        if thick > 0.0:
            wide = self.width_mm / 2.0 + past
            for near, far in ((half_long - thick, half_long), (-half_long, thick - half_long)):
                box = np.array([[near, -wide], [far, -wide], [far, wide], [near, wide]])
                pieces.append(prism(box, self.radius_mm - self.depth_mm, top, frame))
        long, past, depth = self.notch_mm
        if depth > 0.0:
            wide = self.width_mm / 2.0 + past
            box = np.array([[-long, -wide], [long, -wide], [long, wide], [-long, wide]]) * [0.5, 1.0]
            pieces.append(prism(box, -depth, top, frame))
        return unite(pieces)


def _turned(frame: Array, angle_rad: float) -> Array:
    c, s = math.cos(angle_rad), math.sin(angle_rad)
    turned = frame.copy()
    turned[:3, 0] = c * frame[:3, 0] + s * frame[:3, 1]
    turned[:3, 1] = c * frame[:3, 1] - s * frame[:3, 0]
    return turned
