"""`Filling`: what goes into a pocket, how much of it at a depth, and in which pockets it can go at all."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from prep.geometry.pocket import Pocket
from prep.physics.packing import packed_density
from prep.tables import AdhesiveRow, BallastRow

BEADS_ACROSS = 5.0
"""Narrowest mouth that shot pours into without jamming, in bead diameters (common practice)."""

LEAST_FILL_MM = 2.0
TOXIC_CAP_MM = 1.0
"""Least plug over ballast that must not be touched."""

MOST_COUNTS = 5
"""How many different numbers of pieces are tried in one pocket."""


@dataclass(frozen=True)
class Content:
    """What a filled pocket holds.

    Attributes
    ----------
    mass_g, low_g, high_g : of the ballast, with its band
    height_mm : from the floor to the top of the ballast
    plug_g : of the glue over it
    plug_mm : how thick
    beside_g : of the glue between pieces and wall and in their holes, up to the top of the pieces
    """

    mass_g: float
    low_g: float
    high_g: float
    height_mm: float
    plug_g: float
    plug_mm: float
    beside_g: float = 0.0

    @property
    def glue_g(self) -> float:
        """All the glue that closes the pocket."""
        return self.plug_g + self.beside_g


@dataclass(frozen=True)
class Filling:
    """One way to fill a pocket: nothing, shot or putty up to a line, or a number of pieces.

    Attributes
    ----------
    row : None for a pocket left empty
    count : pieces, laid flat one on another; 0 for shot and putty
    least_mm : shallowest pocket for it
    plug_mm : glue over it
    """

    row: BallastRow | None
    count: int
    least_mm: float
    plug_mm: float
    glue_g_mm3: float

    def content(self, pocket: Pocket, depth_mm: float) -> Content:
        """What it comes to in a pocket of a depth.

        Notes
        -----
        Shot and putty fill the room from the floor to the plug; the band is that of their packing, and the plug lies on
        them. Pieces weigh what the table says; glue takes all the room they leave, beside, in and over them, up to the
        rim: area x depth less mass / density. Without a plug they lie loose, and no glue is counted.
        """
        if self.row is None:
            return Content(0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
        plug = pocket.area_mm2 * self.plug_mm * self.glue_g_mm3
        if self.count:
            mass, height = self.count * self.row.mass_g, self.count * self.row.thickness_mm
            over = depth_mm - height if self.plug_mm > 0.0 else 0.0
            plug = pocket.area_mm2 * over * self.glue_g_mm3
            room = max(pocket.area_mm2 * height - 1000.0 * mass / self.row.density_g_cm3, 0.0)
            beside = room * self.glue_g_mm3 if self.plug_mm > 0.0 else 0.0
            return Content(mass, mass, mass, height, plug, over, beside)
        height = depth_mm - self.plug_mm
        volume = pocket.area_mm2 * height / 1000.0
        packed = packed_density(self.row.density_g_cm3, self.row.packing, self.row.packing_low, self.row.packing_high)
        return Content(packed.mid * volume, packed.low * volume, packed.high * volume, height, plug, self.plug_mm)

    def deepest_mm(self, pocket: Pocket) -> float:
        """Deepest that a pocket is cut for it: just so deep for pieces, as deep as walls allow for the rest."""
        return min(self.least_mm, pocket.deepest_mm) if self.count else pocket.deepest_mm

    @property
    def name(self) -> str:
        """How a report calls it."""
        if self.row is None:
            return "empty"
        return f"{self.count} x {self.row.name}" if self.count else self.row.name


def is_piece(row: BallastRow) -> bool:
    """Whether it is counted: a slug, a washer or a coin."""
    return row.kind in {"slug", "washer", "coin"}


def least_radius(row: BallastRow, smallest_mm: float, fit_mm: float) -> float:
    """Radius of the narrowest pocket for a ballast: that of the piece with its fit, or five beads across."""
    if is_piece(row):
        return row.diameter_mm / 2.0 + fit_mm
    return max(smallest_mm, BEADS_ACROSS / 2.0 * row.diameter_mm)


def fillings(
    pocket: Pocket, row: BallastRow, *, smallest_mm: float, fit_mm: float, plug_mm: float, glue: AdhesiveRow
) -> Iterator[Filling]:
    """Ways to put one ballast into one pocket; none where it does not go in.

    Parameters
    ----------
    smallest_mm : radius of the smallest pocket
    fit_mm : play on the radius of a piece
    plug_mm : glue over it, at least
    """
    plug = max(plug_mm, TOXIC_CAP_MM) if row.toxic else plug_mm
    density = glue.density_g_cm3 / 1000.0
    radius = least_radius(row, smallest_mm, fit_mm)
    if not is_piece(row):
        if pocket.radius_mm >= radius - 1e-9:
            yield Filling(row, 0, plug + max(LEAST_FILL_MM, 1.5 * row.diameter_mm), plug, density)
        return
    if pocket.length_mm > 0.0 or abs(pocket.radius_mm - radius) > 1e-6:
        return
    most = math.floor((pocket.deepest_mm - plug) / row.thickness_mm + 1e-9)
    counts = sorted({round(1 + k * (most - 1) / (MOST_COUNTS - 1)) for k in range(MOST_COUNTS)}) if most >= 1 else []
    for count in counts:
        yield Filling(row, count, plug + count * row.thickness_mm, plug, density)
