"""Mass and balance of a print: full walls and skins around a sparse core, calibrated by the scale."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from prep.errors import ImplausibleWeight

Array = NDArray[np.float64]

PLAUSIBLE = (0.7, 1.3)
"""Range of weighed over computed mass that material, flow and infill can explain."""


@dataclass(frozen=True)
class PrintMass:
    """Mass of a printed part and where it balances.

    Attributes
    ----------
    mass_g : float
    centre_mm : (3,) float64
    """

    mass_g: float
    centre_mm: Array


def print_mass(
    volume_mm3: float,
    centre_mm: Array,
    density_g_cm3: float,
    *,
    core_mm3: float = 0.0,
    core_centre_mm: Array | None = None,
    infill: float = 1.0,
) -> PrintMass:
    """Mass and balance point of a print.

    Parameters
    ----------
    volume_mm3, centre_mm : of the whole solid, centre (3,)
    density_g_cm3 : of the material printed full, calibrated or not
    core_mm3, core_centre_mm : of what lies deeper than the printed walls and skins; 0 where all is shell
    infill : share of the core that is filled, 0 to 1

    Notes
    -----
    density * (volume - (1 - infill) * core); the balance point weighs the two alike. Exact in its inputs. Infill is
    taken as spread evenly.
    """
    missing = (1.0 - infill) * core_mm3
    full = volume_mm3 - missing
    centre = np.asarray(centre_mm, dtype=np.float64)
    if missing > 0.0 and core_centre_mm is not None and full > 0.0:
        centre = (volume_mm3 * centre - missing * np.asarray(core_centre_mm)) / full
    return PrintMass(density_g_cm3 * full / 1000.0, centre)


def calibrate(computed_g: float, weighed_g: float) -> float:
    """Factor on the density that makes the computed mass of the bare print the weighed one.

    The factor is put on the density, and so on shell and core alike: flow and density, which are what differs from
    one spool and machine to the next, act on every bead. One reading cannot tell flow from infill; a factor on
    everything leaves the share of mass between shell and core as computed, so a later cut changes the mass in the
    same proportion.

    Raises
    ------
    ImplausibleWeight
        The factor is outside 0.7 to 1.3: something else than density and flow is wrong.
    """
    factor = weighed_g / computed_g if computed_g > 0.0 else float("inf")
    low, high = PLAUSIBLE
    if not low <= factor <= high:
        raise ImplausibleWeight(
            "the weighed print is too far from the computed one",
            found=f"weighed {weighed_g:.2f} g, computed {computed_g:.2f} g; factor {factor:.3f}, not {low} to {high}",
            fix="check material, process, infill and unit; weigh the bare print without supports",
        )
    return factor
