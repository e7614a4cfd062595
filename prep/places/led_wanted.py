"""How a recipe says what an LED shines through, how large that is, and where its wire and its cell go."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, model_validator

from prep.places.wanted import PlaceWanted
from prep.units import LENGTH, Direction, Fraction, Length, TextForm, read_numbers, write_numbers


class _Words(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class WindowWanted(_Words):
    """What light passes on its way out: a wall left in the part, told by its thickness or its light, or a clear insert.

    A length alone is the wall's thickness.
    """

    wall: Length | None = Field(None, gt=0.0, description="light wall left, along the skin's normal")
    transmit: Fraction | None = Field(None, gt=0.0, lt=1.0, description="share of the light the wall is to pass")
    insert: str | None = Field(None, description="a clear material: a piece of its own fills the window")
    thick: Length | None = Field(None, gt=0.0, description="with `insert`: how thick that piece is; default: 1.5 mm")

    @model_validator(mode="after")
    def _one(self) -> WindowWanted:
        given = [word for word in ("wall", "transmit", "insert") if getattr(self, word) is not None]
        if len(given) != 1:
            raise ValueError("a window is a thickness (`1.2 mm`), `{transmit: 35 %}` or `{insert: MATERIAL}`")
        if self.insert is None and self.thick is not None:
            raise ValueError("`thick` goes with `insert`; a wall's thickness is written alone: `window: 1.2 mm`")
        return self


class WireWanted(_Words):
    """Where the wire leads, and how wide its channel is."""

    to: PlaceWanted | None = Field(None, description="where it comes out: seam or switch; default: the cell's contact")
    width: Length = Field(2.2, gt=0.0, description="of the channel, across flats; two thin wires go through 2.2 mm")
    bend: Length | None = Field(None, gt=0.0, description="least radius of its middle line; default: twice the width")


class CellWanted(_Words):
    """Where the cell of the supply is seated."""

    part: str | None = Field(None, description="the part that holds it; default: the part of the LED")
    at: PlaceWanted = Field(description="middle of the seat's mouth")
    open: Direction = Field(description="the side the cell goes in from and stays reachable from")


def _as_window(value: object) -> object:
    return {"wall": value} if isinstance(value, str) else value


def _read_size(value: object) -> tuple[float, ...]:
    if isinstance(value, str) and (" x " in value or " × " in value):
        return read_numbers(value.replace(" × ", " x ").replace(" x ", ", "), LENGTH, 2)
    return (LENGTH.read(value),)


def _write_size(values: tuple[float, ...]) -> str:
    return " x ".join(write_numbers((value,), LENGTH) for value in values)


OpensThrough = Annotated[WindowWanted, BeforeValidator(_as_window, json_schema_input_type=Length | WindowWanted)]
"""A thickness, or a mapping."""

WindowSize = Annotated[
    tuple[float, ...],
    TextForm(_read_size, _write_size, "a diameter, or length x width of a slot", ("8 mm", "20 x 8 mm"), "mm"),
]
"""`8 mm` across, or a slot `20 x 8 mm`, held in mm."""
