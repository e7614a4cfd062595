"""`seat_fit`: how large a seat is for a magnet, by way of fixing and process, with every term of the sum."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from prep.tables import MagnetRow, ProcessRow

Fixing = Literal["glue", "press", "ribs", "buried"]


@dataclass(frozen=True)
class SeatFit:
    """Sizes of a seat for one magnet.

    Attributes
    ----------
    diameter_mm, depth_mm : of the hole that stays free, from the plane of its mouth
    rib_tip_mm : diameter over the tips of crush ribs; 0 for none
    under_mm : glue between the seat's floor and the magnet
    recess_mm : how far the magnet's face then lies below the seat's mouth
    diameter_says, depth_says : the sums in words
    """

    diameter_mm: float
    depth_mm: float
    rib_tip_mm: float
    under_mm: float
    recess_mm: float
    diameter_says: str
    depth_says: str


def seat_fit(magnet: MagnetRow, process: ProcessRow, fixing: Fixing, film_mm: float = 0.0) -> SeatFit:
    """Sizes of a disc's seat.

    Parameters
    ----------
    film_mm : float
        Paint that will lie on the seat's walls, per side.

    Notes
    -----
    Depth is the magnet's greatest thickness, so that no magnet of the lot stands proud, and the glue line under it.
    Diameter: glued, the nominal size and the process's clearance on both sides; pressed, the nominal less the
    process's interference; ribbed, a glue-wide hole with rib tips on the nominal less the rib interference; buried, as
    glued, with one layer of room above. Clearances by process are common practice, no source; a fit gauge settles them.
    """
    size, tolerance = magnet.diameter_mm, magnet.size_tolerance_mm
    film = f" + 2 x {film_mm:g} film" if film_mm else ""
    wide = size + 2.0 * (process.glue_fit_mm + film_mm)
    under = process.glue_line_mm if fixing == "glue" else 0.0
    room = process.layer_mm if fixing == "buried" else 0.0
    depth = magnet.thickness_mm + tolerance + under + room
    says = f"{size:g} magnet + 2 x {process.glue_fit_mm:g} fit{film}"
    tip = 0.0
    if fixing == "press":
        wide = size - process.press_mm + 2.0 * film_mm
        says = f"{size:g} magnet - {process.press_mm:g} interference{film}"
    elif fixing == "ribs":
        tip = size - process.rib_mm + 2.0 * film_mm
        says += f"; rib tips on {tip:.2f} = {size:g} - {process.rib_mm:g}"
    terms = [f"{magnet.thickness_mm:g} magnet", f"{tolerance:g} size tolerance"]
    terms += [f"{under:g} glue line"] if under else []
    terms += [f"{room:g} layer"] if room else []
    return SeatFit(wide, depth, tip, under, depth - under - magnet.thickness_mm, says, " + ".join(terms))
