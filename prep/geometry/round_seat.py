"""`RoundSeat`: the shape of a round seat, and the cutter that makes it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from prep.geometry.lathe import lathe
from prep.geometry.solid import Array, Solid, subtract, unite

RIBS = 8
"""Crush ribs round a seat: fewer print out of round, many more do not resolve (common practice, no source)."""

RIB_SHARE = 0.14
"""Radius of a rib as a share of the seat's radius."""


@dataclass(frozen=True)
class RoundSeat:
    """A round seat about an axis, measured from its mouth inward.

    Attributes
    ----------
    radius_mm, depth_mm : float
        The circle and depth that stay free; facets stand outside it.
    rim_mm : float
        45 degree lead-in at the mouth, on the radius; 0 for none.
    rib_tip_mm : float
        Radius on which the tips of crush ribs stand; 0 for no ribs.
    groove_mm : float
        Diameter of the air groove up the seat's side; 0 for none.
    hole_mm : float
        Diameter of an air hole on from the floor; 0 for none.
    hole_length_mm : float
        From the floor to where the hole comes out.
    rib_mm : float
        How far the ribs rise from the floor; 0 for nearly up to the mouth.
    roof_mm : float
        For a buried seat: plastic between the skin and the seat's ceiling; 0 for a seat that opens.
    """

    radius_mm: float
    depth_mm: float
    rim_mm: float = 0.0
    rib_tip_mm: float = 0.0
    rib_mm: float = 0.0
    groove_mm: float = 0.0
    hole_mm: float = 0.0
    hole_length_mm: float = 0.0
    roof_mm: float = 0.0

    @property
    def mouth_radius_mm(self) -> float:
        """Radius at the skin, lead-in included."""
        return self.radius_mm + self.rim_mm

    @property
    def overshoot_mm(self) -> float:
        """How far the cutter goes on past the skin it opens on, scaled to the cut."""
        return max(0.2, 0.1 * self.depth_mm)

    def cutter(self, frame: Array, skin_high_mm: float = 0.0, groove_angle_rad: float = 0.0) -> Solid:
        """The solid to take away.

        Parameters
        ----------
        frame : (4, 4)
            From the seat's axes to the part's: origin at the mouth's middle, z out of the material.
        skin_high_mm : float
            How far the skin rises above the mouth's plane over the seat's opening.
        groove_angle_rad : float
            Where round the axis the groove runs, from the frame's x.
        """
        radius, floor = self.radius_mm, -self.depth_mm
        top = max(skin_high_mm, 0.0) + self.overshoot_mm
        if self.roof_mm > 0.0:
            return lathe(np.array([[radius, floor], [radius, -self.roof_mm]]), frame)
        profile = [[radius, floor], [radius, top]]
        if self.rim_mm > 0.0:
            profile = [
                [radius, floor],
                [radius, -self.rim_mm],
                [self.mouth_radius_mm, 0.0],
                [self.mouth_radius_mm, top],
            ]
        body = lathe(np.array(profile), frame)
        if self.rib_tip_mm > 0.0:
            body = subtract(body, self._ribs(frame))
        more = []
        if self.groove_mm > 0.0:
            side = np.array([math.cos(groove_angle_rad), math.sin(groove_angle_rad), 0.0]) * radius
            half = self.groove_mm / 2.0
            more.append(lathe(np.array([[half, floor], [half, top]]), _shifted(frame, side)))
        if self.hole_mm > 0.0:
            half = self.hole_mm / 2.0
            low = floor - self.hole_length_mm - self.overshoot_mm
            more.append(lathe(np.array([[half, low], [half, floor + 0.5 * self.depth_mm]]), frame))
        return unite([body, *more])

    def _ribs(self, frame: Array) -> list[Solid]:
        rib = max(0.4, RIB_SHARE * self.radius_mm)
        high = -self.rim_mm - 0.15 * self.depth_mm
        if self.rib_mm > 0.0:
            high = min(high, self.rib_mm - self.depth_mm)
        angles = (np.arange(RIBS) + 0.5) * 2.0 * math.pi / RIBS
        centres = np.stack([np.cos(angles), np.sin(angles), np.zeros(RIBS)], axis=1) * (self.rib_tip_mm + rib)
        profile = np.array([[rib, -self.depth_mm - 0.2], [rib, high]])
        return [lathe(profile, _shifted(frame, centre), 24) for centre in centres]


def _shifted(frame: Array, by: Array) -> Array:
    moved = frame.copy()
    moved[:3, 3] = frame[:3, 3] + frame[:3, :3] @ by
    return moved
