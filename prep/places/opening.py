"""`Opening` and `Balance`: how a recipe says on which face pockets open, and where the model is to balance."""

from __future__ import annotations

from typing import Annotated

import numpy as np
from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, model_validator

from prep.geometry.contact import find_contact
from prep.geometry.solid import Array, Solid
from prep.units import Band, Direction, LengthBand

BALANCE_MM = 0.5
SEAM_REACH_MM = 0.5
AXES = "xyz"


class Opening(BaseModel):
    """The hidden face that pockets open on: a direction, or the seam of two parts."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    toward: Direction | None = Field(None, description="the side that is hidden")
    seam: tuple[str, str] | None = Field(None, description="two parts that mate; pockets open on their mating face")

    @model_validator(mode="after")
    def _one(self) -> Opening:
        if (self.toward is None) == (self.seam is None):
            raise ValueError("give a direction (`-z`) or a seam (`{seam: [body, back]}`)")
        return self


def _as_mapping(value: object) -> object:
    return {"toward": value} if isinstance(value, str) else value


OpenOn = Annotated[Opening, BeforeValidator(_as_mapping, json_schema_input_type=Direction | Opening)]
"""A direction, or `{seam: [a, b]}`."""


class Balance(BaseModel):
    """Where the model is to balance, axis by axis; an axis left out is free."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    x: LengthBand | None = Field(None, description="along x; without ± : ±0.5 mm")
    y: LengthBand | None = Field(None, description="along y; without ± : ±0.5 mm")
    z: LengthBand | None = Field(None, description="along z; without ± : ±0.5 mm")

    @property
    def bands(self) -> dict[str, Band]:
        """The band asked for along each axis that is not free, with a tolerance even where none was written."""
        written: dict[str, Band | None] = {"x": self.x, "y": self.y, "z": self.z}
        return {
            axis: band if band.stated else Band(band.value, band.value - BALANCE_MM, band.value + BALANCE_MM)
            for axis, band in written.items()
            if band is not None
        }


def seam_of(own: Solid, mate: Solid) -> tuple[Array, Array]:
    """The mean direction in which a part's mating face looks, (3,), and samples of that face, (n, 3) mm.

    Raises
    ------
    PartsApart
        The two do not meet.
    """
    spacing = max(0.6, own.diagonal_mm / 200.0)
    contact = find_contact(own, mate, reach_mm=SEAM_REACH_MM, spacing_mm=spacing)
    out = contact.normals.mean(axis=0)
    return out / np.linalg.norm(out), contact.points
