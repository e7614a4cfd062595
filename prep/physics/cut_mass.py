"""`cut_mass`: what cutting a pocket does to the mass and the balance of a print, its own new walls included."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from prep.geometry.core_points import CorePoints, core_points
from prep.geometry.pocket import Pocket
from prep.geometry.solid import Solid
from prep.tables import MaterialRow, ProcessRow

Array = NDArray[np.float64]


@dataclass(frozen=True)
class PrintedIn:
    """How a part is printed, as far as a cut is concerned.

    Attributes
    ----------
    density_g_mm3 : of the full material, calibrated
    infill : share of the core that is filled
    core : points of the core before the cut; None for a full print
    """

    density_g_mm3: float
    infill: float = 1.0
    core: CorePoints | None = None


def printed_in(
    solid: Solid, material: MaterialRow, process: ProcessRow, up: tuple[float, float, float], factor: float
) -> PrintedIn:
    """How a part is printed: the factor of `part_factor` on its density, and the sparse core where it has one."""
    density = material.density_g_cm3 * factor / 1000.0
    if process.solid:
        return PrintedIn(density)
    core = core_points(solid, process.walls * process.bead_mm, process.skins * process.layer_mm, np.array(up))
    return PrintedIn(density, process.infill, core if len(core.points) else None)


@dataclass(frozen=True)
class CutMass:
    """Change of the printed part, negative for a loss, at each of several depths.

    Attributes
    ----------
    mass_g : (k,)
    moment_gmm : (k, 3) first moment about the point given
    """

    mass_g: Array
    moment_gmm: Array


def cut_mass(pocket: Pocket, depths_mm: Array, printed: PrintedIn, about: Array) -> CutMass:
    """Change of a print's mass and moment when a pocket is cut to each of several depths.

    Parameters
    ----------
    depths_mm : (k,)
    about : (3,) mm
        Moments are taken about this point.

    Notes
    -----
    A full print loses density times volume. A sparse one loses that, but core that comes to lie within a shell's
    thickness of the pocket is printed full: -density * (volume - (1 - infill) * core covered). Exact for a full print
    under a flat skin; else an estimate, off by about the square root of the core points covered.
    """
    depths = np.asarray(depths_mm, dtype=np.float64)
    removed = pocket.area_mm2 * depths + pocket.above_mm3
    middles = np.stack([pocket.at(-depth / 2.0) for depth in depths]) - about
    top = pocket.at((pocket.crest_mm - pocket.rim_mm) / 2.0) - about
    mass = -printed.density_g_mm3 * removed
    straight = (pocket.area_mm2 * depths)[:, None] * middles + pocket.above_mm3 * top
    moment = -printed.density_g_mm3 * straight
    if printed.core is None:
        return CutMass(mass, moment)
    near = printed.core.points
    reach = printed.core.side_mm * float(np.linalg.eigvalsh(np.linalg.inv(printed.core.stretch)).max())
    near = near[pocket.beside(near @ pocket.axes[:2].T) < reach]
    weight = printed.density_g_mm3 * (1.0 - printed.infill) * printed.core.each_mm3
    for row, depth in enumerate(depths):
        away = (near @ pocket.axes.T - pocket.nearest_to(near, float(depth))) @ pocket.axes @ printed.core.stretch
        covered = near[np.linalg.norm(away, axis=1) < printed.core.side_mm]
        mass[row] += weight * len(covered)
        moment[row] += weight * (covered - about).sum(axis=0)
    return CutMass(mass, moment)
