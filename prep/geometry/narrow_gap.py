"""`narrow_gaps`: where two faces stand close across air, measured as a wall of air."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from prep.geometry.solid import Progress, Solid
from prep.geometry.thin_spots import ThinSpot
from prep.geometry.wall_thickness import wall_thickness

_MOST_SAMPLES = 600_000


@dataclass(frozen=True)
class NarrowGaps:
    """Narrow gaps of a solid.

    Attributes
    ----------
    gaps : tuple of ThinSpot
        Below the limit, narrowest first; `kind` is that of the air: a "pin" of air is a small hole. Grooves shallower
        than they are wide and wedges of air, as in a V groove or an inner corner, are not among them.
    narrowest : ThinSpot or None
        The narrowest gap anywhere, even above the limit; None if no two faces look at each other across air.
    resolution_mm : float
        Every gap that reaches farther than this was seen.
    """

    gaps: tuple[ThinSpot, ...]
    narrowest: ThinSpot | None
    resolution_mm: float


def narrow_gaps(solid: Solid, limit_mm: float, *, fine: bool = False, tell: Progress | None = None) -> NarrowGaps:
    """Gaps narrower than a limit: slots, slits, small holes, thin sealed voids.

    Notes
    -----
    The space about the solid is the same surface wound the other way, and a gap is a thin wall of it, so everything
    that tells a wall from an edge holds for gaps: see `wall_thickness`. A gap that reaches less far than it is wide
    fills without harm and is left out, and so is one that reaches less than half the limit any way. Exact on the
    triangles as they stand. Cost: that of one pass of `wall_thickness`, samples two limits apart.
    """
    air = Solid.of(solid.vertices, solid.triangles[:, ::-1])
    spacing = max(2.0 * limit_mm, float(np.sqrt(solid.area_mm2 / _MOST_SAMPLES)))
    spacing = min(spacing, solid.diagonal_mm / 60.0)
    found = wall_thickness(air, limit_mm=limit_mm, spacing_mm=spacing, fine=fine, tell=tell)
    gaps = tuple(spot for spot in found.thin_spots if _fuses(spot, limit_mm))
    narrowest = gaps[0] if gaps else found.thinnest
    return NarrowGaps(gaps, narrowest, found.resolution_mm)


def _fuses(spot: ThinSpot, limit_mm: float) -> bool:
    closed = spot.kind not in ("edge", "knife edge", "relief")
    return closed and spot.thickness_mm < limit_mm and spot.extent_mm[1] >= limit_mm / 2.0
