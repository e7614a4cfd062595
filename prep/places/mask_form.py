"""`mask_form`: the measures of a mask, from a recipe where it says so and from the process where it does not."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from prep.errors import LipTooThin
from prep.geometry.distance import Nearest
from prep.geometry.mask_field import MaskForm
from prep.geometry.mask_fit import EdgeSpots
from prep.geometry.patch import Patch
from prep.geometry.solid import Array
from prep.tables import ProcessRow

GAP_MOST_MM = 0.1
"""Wider, and the edge turns soft (common practice, no source)."""
RELIEF_MM = (0.5, 1.0)
"""Least and most room behind the land (common practice, no source)."""
LIP_MM = 0.8
"""Thin enough that paint does not pile against it (one trade page: 0.76 mm)."""
BEADS = 4
"""Rounds of a printed wall that hold a mask stiff; without beads, this many half walls."""
REACH_MM = 12.0
THIN_LANDS = 2.0
THIN_SHARE = 0.03
"""Length of edge, in lands and as a share of it all, that may be too narrow behind: sharp tips always are."""


SHARES = (0.25, 0.5, 0.75, 1.0)
"""Of the least wall, at which the skin behind the edge is looked at."""
TURNS = 0.5
"""How far, as a share of the way, the skin may have turned off the plane behind the edge and still be the same skin."""


def mask_form(
    process: ProcessRow,
    *,
    land_mm: float,
    gap_mm: float | None,
    lip_mm: float | None,
    wall_mm: float | None,
    relief_mm: float | None,
    reach_mm: float | None,
    film_mm: float = 0.0,
) -> MaskForm:
    """The measures of a mask.

    Parameters
    ----------
    film_mm : of paint that already lies under the land; the gap leaves room for it

    Raises
    ------
    LipTooThin
        The lip is thinner than the process prints.

    Notes
    -----
    Gap: half the process's tolerance, at most 0.1 mm. Relief: four times the tolerance, 0.5 to 1 mm. Lip: 0.8 mm or the
    least wall. Wall: four beads or two least walls.
    """
    limit = process.wall_limit_mm
    lip = max(LIP_MM, limit) if lip_mm is None else lip_mm
    if lip < limit:
        raise LipTooThin(
            "the lip of the mask is thinner than the process can print",
            found=f"{lip:.2f} mm, limit {limit:.2f} mm in {process.name}",
            fix=f"set `lip: {limit:g} mm`, or leave it out",
        )
    gap = min(process.tolerance_mm / 2.0, GAP_MOST_MM) if gap_mm is None else gap_mm
    relief = float(np.clip(4.0 * process.tolerance_mm, *RELIEF_MM)) if relief_mm is None else relief_mm
    wall = max(BEADS * process.bead_mm, BEADS / 2.0 * limit, lip) if wall_mm is None else max(wall_mm, lip)
    reach = REACH_MM if reach_mm is None else reach_mm
    return MaskForm(
        land_mm=land_mm,
        gap_mm=gap + film_mm,
        relief_mm=relief + film_mm,
        lip_mm=lip,
        wall_mm=wall,
        reach_mm=reach,
    )


def refuse_thin_strips(patch: Patch, spots: EdgeSpots, process: ProcessRow, land_mm: float) -> None:
    """Refuse clean strips, between two edges of the window, that are narrower than the process prints.

    Raises
    ------
    LipTooThin
        More of the edge than the tips of corners account for has the window again within the least wall.
    """
    limit = process.wall_limit_mm
    skin = Nearest(patch.vertices, patch.triangles)
    thin = np.zeros(len(spots.at_mm), dtype=bool)
    for share in SHARES:
        thin |= _meets(patch, skin, spots.behind(share * limit), TURNS * share * limit)
    length = float(spots.length_mm[thin].sum())
    if length <= THIN_LANDS * land_mm + THIN_SHARE * float(spots.length_mm.sum()):
        return
    x, y, z = spots.at_mm[np.flatnonzero(thin)[0]].tolist()
    raise LipTooThin(
        "a clean strip between two edges of the window is narrower than a mask can be printed",
        where=f"at ({x:.1f}, {y:.1f}, {z:.1f}) mm",
        found=f"less than {limit:.2f} mm wide along {length:.1f} mm of the edge",
        fix="join the two areas of paint into one region, or paint the strip by hand afterwards",
    )


def _meets(patch: Patch, skin: Nearest, points: Array, within_mm: float) -> NDArray[np.bool_]:
    """Whether the skin nearest to each of some points is in the window, and no farther than a distance."""
    foot = skin.query(points)
    return np.asarray(patch.inside[foot.triangle] & (foot.distance_mm <= within_mm))
