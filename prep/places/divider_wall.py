"""`divider_wall`: how thick a wall between two lights is, whole beads where it stands, and what light it passes."""

from __future__ import annotations

import math
from dataclasses import dataclass

from prep.errors import DoesNotFit
from prep.physics.transmission import transmission_of
from prep.tables import ProcessRow, Tables

SPILL = 0.02
"""Share of a cell's light that may pass into the next where no wall is asked for (habit)."""


@dataclass(frozen=True)
class DividerWall:
    """The wall of a divider.

    Attributes
    ----------
    wall_mm, asked_mm : as made, and before it was snapped
    passes : share of the light through it, 0 to 1
    snapped : "3 beads", or why it was not snapped
    verified : whether the shop measured the material, at that thickness
    says : how the light was found
    """

    wall_mm: float
    asked_mm: float
    passes: float
    snapped: str
    verified: bool
    says: str


def divider_wall(
    asked_mm: float | None, material: str, tables: Tables, process: ProcessRow, *, stands: bool
) -> DividerWall:
    """Thickness and light of a divider.

    Parameters
    ----------
    asked_mm : None for the thinnest wall that passes no more than `SPILL`
    stands : whether it is printed upright, of beads side by side

    Raises
    ------
    DoesNotFit
        The wall would be thinner than the process prints.
    NoTransmission, BadReadings
        Nobody measured the material, or its readings make no curve.

    Notes
    -----
    A wall that was asked for is snapped to the nearest whole number of beads, one found from light to the next above.
    """
    curve = transmission_of(tables, material)
    asked = max(curve.opaque_mm(SPILL), process.wall_limit_mm) if asked_mm is None else asked_mm
    wall, snapped = asked, "not snapped: the process lays no beads"
    if process.bead_mm > 0.0 and not stands:
        snapped = "not snapped: it does not stand upright on the bed"
    elif process.bead_mm > 0.0:
        beads = asked / process.bead_mm
        count = max(1, math.ceil(beads - 1e-9) if asked_mm is None else round(beads))
        wall, snapped = count * process.bead_mm, f"{count} bead{'' if count == 1 else 's'}"
    if wall < process.wall_limit_mm - 1e-9:
        raise DoesNotFit(
            "a divider would be thinner than the process prints",
            found=f"{wall:.2f} mm ({snapped}), limit {process.wall_limit_mm:g} mm",
            fix=f"ask for {process.wall_limit_mm:g} mm or more",
        )
    beyond = curve.beyond(wall)
    return DividerWall(
        wall_mm=wall,
        asked_mm=asked,
        passes=curve.share(wall),
        snapped=snapped,
        verified=curve.verified and not beyond,
        says=beyond or curve.says,
    )
