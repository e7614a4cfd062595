"""Density of poured shot, as the band that is honest."""

from __future__ import annotations

from dataclasses import dataclass

POURED = 0.601
"""Share of the room that equal spheres fill when poured. G. D. Scott, Packing of spheres, Nature 188 (1960) 908."""

LOOSEST = 0.555
"""Loosest random packing that stands. G. Y. Onoda, E. G. Liniger, Phys. Rev. Lett. 64 (1990) 2727."""

CLOSEST_RANDOM = 0.64
"""Tapped down. J. G. Berryman, Random close packing of hard spheres and disks, Phys. Rev. A 27 (1983) 1053."""


@dataclass(frozen=True)
class PackedDensity:
    """Mass of a poured filling over the room it takes, g/cm3, with the range it may lie in."""

    low: float
    mid: float
    high: float


def packed_density(
    solid_g_cm3: float, packing: float = POURED, packing_low: float = LOOSEST, packing_high: float = CLOSEST_RANDOM
) -> PackedDensity:
    """Density of poured shot, g/cm3, with its band.

    Parameters
    ----------
    solid_g_cm3 : density of one bead
    packing, packing_low, packing_high : share of the room that is solid; 1 for pieces and putty

    Notes
    -----
    Walls loosen the packing within a bead or two of them, so a small pocket sits low in the band.
    """
    return PackedDensity(solid_g_cm3 * packing_low, solid_g_cm3 * packing, solid_g_cm3 * packing_high)
