"""`RawMesh`: the triangles of a file as they were found, not yet proven to bound anything."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from prep.geometry.solid import Array, Indices

Colours = NDArray[np.uint8]

MILLIMETRES = {
    "micron": 1e-3,
    "mm": 1.0,
    "cm": 10.0,
    "inch": 25.4,
    "foot": 304.8,
    "m": 1000.0,
}
"""How many mm one of each unit is."""

SYNONYMS = {
    "um": "micron",
    "µm": "micron",
    "micrometer": "micron",
    "micrometre": "micron",
    "millimeter": "mm",
    "millimetre": "mm",
    "centimeter": "cm",
    "centimetre": "cm",
    "in": "inch",
    '"': "inch",
    "inches": "inch",
    "ft": "foot",
    "feet": "foot",
    "meter": "m",
    "metre": "m",
}
"""Other words for the same units, as files and people write them."""


@dataclass(frozen=True, eq=False)
class Parsed:
    """What one format's reader found, in the file's own unit.

    Attributes
    ----------
    vertices : (n, 3) float64
    triangles : (m, 3) int32
    colours : (m, 4) uint8, red green blue alpha, or None
    unit : the unit the file itself names, or None
    notes : what was passed over, a sentence each
    """

    vertices: Array
    triangles: Indices
    colours: Colours | None = None
    unit: str | None = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class RawMesh:
    """Triangles read from a file, in mm; nothing is welded but corners that are equal to the last bit.

    Attributes
    ----------
    vertices : (n, 3) float64, mm
    triangles : (m, 3) int32
    unit : the unit of the file: named by it, given by the caller, or mm
    format : "stl", "obj", "ply" or "3mf"
    sha256 : of the whole file
    triangle_colours : (m, 4) uint8, red green blue alpha, or None where the file has none
    notes : what a person should know about the reading, a sentence each
    """

    vertices: Array
    triangles: Indices
    unit: str
    format: str
    sha256: str
    triangle_colours: Colours | None = None
    notes: tuple[str, ...] = ()

    @property
    def extents_mm(self) -> Array:
        """Size of the bounds along x, y and z, (3,); corners that no triangle uses do not count."""
        used = self.vertices[np.unique(self.triangles)]
        return np.asarray(np.ptp(used, axis=0))
