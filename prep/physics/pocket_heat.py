"""`pocket_heat`: how warm a lamp makes the closed pocket it sits in."""

from __future__ import annotations

import math
from dataclasses import dataclass

from prep.errors import PocketTooHot

PLASTIC_W_MK = 0.13
"""Conductivity of the least conductive unfilled printing plastics, W/(m K); others reach 0.25."""

STILL_AIR_M2K_W = 0.13
"""Resistance between a wall and still air, radiation included, m2 K/W: ISO 6946:2017, inner face, heat sideways."""

ROOM_C = 30.0
"""A warm room."""

SPARE_C = 10.0
"""Kept between the pocket's wall and the heat at which the plastic gives way; a habit."""


@dataclass(frozen=True)
class PocketHeat:
    """Steady temperatures of a closed pocket.

    Attributes
    ----------
    air_c, wall_c, outside_c : of the air within, of the wall's inner and outer face
    rise_c : of the wall's inner face over the room
    softens_c : of the plastic
    says : in words
    """

    air_c: float
    wall_c: float
    outside_c: float
    rise_c: float
    softens_c: float
    says: str

    @property
    def margin_c(self) -> float:
        """Degrees between the pocket's wall and where the plastic gives way; negative beyond it."""
        return self.softens_c - self.wall_c


def pocket_heat(
    power_mw: float, area_mm2: float, wall_mm: float, softens_c: float, room_c: float = ROOM_C
) -> PocketHeat:
    """Steady temperatures of a closed pocket with a lamp in it.

    Parameters
    ----------
    power_mw : float
        Of the lamps and resistors within, all of it counted as heat.
    area_mm2 : float
        Of the pocket's walls.
    wall_mm : float
        Mean thickness of plastic between pocket and room.
    softens_c : float
        Where the part begins to lose its shape.

    Notes
    -----
    Three resistances in a row: still air within, a hollow ball of plastic with the pocket's area and the wall's
    thickness, still air around it: 1/(h A1), (1/r1 - 1/r2)/(4 pi k), 1/(h A2). A ball has the least outside for its
    inside; the light that leaves is not taken off; the plastic conducts as the worst does: all three on the safe side.
    Where the lamp's body touches the plastic it may be as warm as the air within.

    References
    ----------
    F. P. Incropera, D. P. DeWitt, Fundamentals of Heat and Mass Transfer, 4th ed. (1996), section 3.3 (hollow sphere).
    ISO 6946:2017, Building components and building elements, table 7 (surface resistance).
    """
    watts, inner = power_mw / 1e3, math.sqrt(area_mm2 / (4.0 * math.pi)) / 1e3
    outer = inner + wall_mm / 1e3
    outside = room_c + watts * STILL_AIR_M2K_W / (4.0 * math.pi * outer**2)
    wall = outside + watts * (1.0 / inner - 1.0 / outer) / (4.0 * math.pi * PLASTIC_W_MK)
    air = wall + watts * STILL_AIR_M2K_W / (area_mm2 / 1e6)
    says = (
        f"{power_mw:.0f} mW in a closed pocket of {area_mm2:.0f} mm2 behind {wall_mm:.2g} mm: "
        f"its wall at {wall:.0f} C, the air within at {air:.0f} C, the room at {room_c:.0f} C; "
        f"the plastic gives way at {softens_c:.0f} C"
    )
    return PocketHeat(air, wall, outside, wall - room_c, softens_c, says)


def refuse_hot_pocket(heat: PocketHeat, power_mw: float, room_c: float = ROOM_C) -> None:
    """Raise where the pocket would come too near the heat at which the plastic gives way.

    Raises
    ------
    PocketTooHot
        Less than `SPARE_C` is left.
    """
    if heat.margin_c >= SPARE_C:
        return
    allowed = max(0.0, power_mw * (heat.softens_c - SPARE_C - room_c) / heat.rise_c)
    raise PocketTooHot(
        "the closed pocket would get too warm for the plastic",
        found=f"{heat.says}; {SPARE_C:g} C should be left",
        fix=f"keep it under {allowed:.0f} mW with a lower current, or leave the pocket an opening to the air",
    )
