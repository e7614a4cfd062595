"""`Place`: a surface point, the direction into the material, and a roll about it."""

from __future__ import annotations

import numpy as np
from pydantic import BaseModel, ConfigDict

from prep.geometry.solid import Array

Triple = tuple[float, float, float]


class Place(BaseModel):
    """Where a feature goes.

    Attributes
    ----------
    at_mm : point of the surface, mm
    inward : unit direction into the material
    roll : unit direction across, square to `inward`; the feature's own first axis
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    at_mm: Triple
    inward: Triple
    roll: Triple

    @classmethod
    def of(cls, at_mm: Array, inward: Array, roll: Array | None = None) -> Place:
        """A place from arrays (3,); `roll` is made square to `inward`, and chosen if left out."""
        axis = np.asarray(inward, dtype=np.float64) / np.linalg.norm(inward)
        hint = np.eye(3)[int(np.argmin(np.abs(axis)))] if roll is None else np.asarray(roll, dtype=np.float64)
        across = hint - axis * (hint @ axis)
        across = across / np.linalg.norm(across)
        return cls(at_mm=triple(at_mm), inward=triple(axis), roll=triple(across))

    @property
    def frame(self) -> Array:
        """(4, 4) matrix from the place's own axes (roll, out x roll, out) to the part's; out is -inward."""
        out = -np.array(self.inward)
        across = np.array(self.roll)
        matrix = np.eye(4)
        matrix[:3, 0] = across
        matrix[:3, 1] = np.cross(out, across)
        matrix[:3, 2] = out
        matrix[:3, 3] = self.at_mm
        return matrix


def triple(values: Array) -> Triple:
    """Three plain floats from an array (3,)."""
    x, y, z = (float(value) + 0.0 for value in values)
    return (x, y, z)


def unit_of(values: Triple) -> Array:
    """A direction as a unit array (3,)."""
    direction = np.asarray(values, dtype=np.float64)
    return np.asarray(direction / np.linalg.norm(direction))
