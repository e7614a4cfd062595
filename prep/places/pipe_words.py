"""How a light pipe is spoken of: its section, the way it goes in, the faces to polish."""

from __future__ import annotations

import numpy as np

from prep.geometry.light_pipe import PipeShape, Section
from prep.geometry.solid import Array

CAUTIONS = (
    "The light pipe's share of light holds for faces wet-sanded and polished clear: layer lines scatter the light out.",
    "Keep glue and paint off the pipe's sides and mirrors: light is held in by the air beside them.",
)


def section_word(section: Section) -> str:
    """`3 mm round`, or `4 x 2 mm`."""
    return f"{section.wide_mm:g} mm round" if section.is_round else f"{section.wide_mm:g} x {section.tall_mm:g} mm"


def axis_word(way: Array) -> str:
    """A direction by its axis where it is one, else by its numbers."""
    row = int(np.argmax(np.abs(way)))
    if abs(way[row]) > 1.0 - 1e-9:
        return f"{'+' if way[row] > 0.0 else '-'}{'xyz'[row]}"
    return "(" + ", ".join(f"{value + 0.0:.2f}" for value in way) + ")"


def to_polish(shape: PipeShape) -> list[str]:
    """The faces that light goes through or is turned by."""
    return ["entry", *(f"mirror {number}" for number in range(1, len(shape.path) - 1)), "exit"]
