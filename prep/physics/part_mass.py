"""`part_mass`: what a part weighs as printed, on the geometry as it stands."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from prep.geometry.shell_volume import core_of
from prep.geometry.solid import Solid
from prep.physics.print_mass import PrintMass, calibrate, print_mass
from prep.tables import MaterialRow, ProcessRow

Triple = tuple[float, float, float]


@lru_cache(maxsize=6)
def part_mass(solid: Solid, material: MaterialRow, process: ProcessRow, up: Triple, factor: float = 1.0) -> PrintMass:
    """Mass and balance point of a part printed in a material by a process.

    Parameters
    ----------
    up : build direction
    factor : from `part_factor`, put on the density

    Notes
    -----
    Jetting, vat and powder print full. Extrusion prints walls and skins full and the core behind them sparse, found on
    this very geometry: a pocket cut into sparse infill brings its own walls. The last few parts are remembered.
    """
    density = material.density_g_cm3 * factor
    if process.solid:
        return print_mass(solid.volume_mm3, solid.centre_mm, density)
    core = core_of(solid, process.walls * process.bead_mm, process.skins * process.layer_mm, np.array(up))
    return print_mass(
        solid.volume_mm3,
        solid.centre_mm,
        density,
        core_mm3=core.volume_mm3,
        core_centre_mm=core.centre_mm,
        infill=process.infill,
    )


def part_factor(
    original: Solid, material: MaterialRow, process: ProcessRow, up: Triple, weighed_g: float | None
) -> float:
    """Factor on the density that makes the bare print weigh what the scale said; 1 where it was not weighed.

    Raises
    ------
    ImplausibleWeight
        The reading is too far from what material and process explain.
    """
    if weighed_g is None:
        return 1.0
    return calibrate(part_mass(original, material, process, up).mass_g, weighed_g)
