"""The types a pydantic model gives its fields: text in, plain floats held, text out."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import PydanticCustomError, core_schema

from prep.errors import BadQuantity
from prep.units.band import Band, read_band, write_band
from prep.units.kind import (
    ANGLE,
    CURRENT,
    DENSITY,
    FORCE,
    FRACTION,
    LENGTH,
    MASS,
    TEMPERATURE,
    VOLTAGE,
    Kind,
)
from prep.units.point import (
    AxisLevel,
    Pair,
    Triple,
    read_direction,
    read_numbers,
    write_direction,
    write_numbers,
)


@dataclass(frozen=True)
class TextForm:
    """How one type is read from text, written to it, and described in a JSON schema.

    What `read` gives is handed on to the schema of the type held, so limits such as ``Field(gt=0)`` hold in base units.

    Attributes
    ----------
    read, write : from text, and to text that reads back the same
    says, examples, pattern : for a person and for a JSON schema
    unit : base unit of what is held; empty where there is none
    held : the type of what is held, where it may be given as it is
    """

    read: Callable[[object], Any]
    write: Callable[[Any], str]
    says: str
    examples: tuple[str, ...]
    unit: str = ""
    pattern: str = ""
    held: type | None = None

    def __get_pydantic_core_schema__(self, source: object, handler: GetCoreSchemaHandler) -> core_schema.CoreSchema:
        return core_schema.no_info_before_validator_function(
            self._validate,
            handler(source),
            serialization=core_schema.plain_serializer_function_ser_schema(self.write, when_used="json"),
        )

    def __get_pydantic_json_schema__(
        self, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        described: dict[str, Any] = {"type": "string", "description": self.says, "examples": list(self.examples)}
        if self.pattern:
            described["pattern"] = self.pattern
        return described

    def _validate(self, value: object) -> object:
        if self.held is not None and isinstance(value, self.held):
            return value
        try:
            return self.read(value)
        except BadQuantity as fault:
            context = {"what": fault.what, "found": fault.found, "fix": fault.fix}
            raise PydanticCustomError("bad_quantity", "{what}", context) from fault


def _pattern(kind: Kind) -> str:
    units = "|".join(re.escape(unit) for unit in kind.units)
    return rf"\s*[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+|/\d+)?\s*({units})\s*"


def quantity(kind: Kind) -> TextForm:
    """The form of one kind of quantity: text with its unit, held as a float in its base unit."""
    says = f"{kind.word} with its unit ({', '.join(kind.units)})"
    return TextForm(kind.read, kind.write, says, (kind.example,), kind.base, f"^{_pattern(kind)}$")


def _band(kind: Kind) -> TextForm:
    says = f"{kind.word} with its unit, and the tolerance allowed"
    number = kind.example.split(" ", maxsplit=1)[0]
    examples = (f"{kind.example} ± 1 {kind.base}", kind.example, f"{number} {kind.base} +/- 1 %")
    return TextForm(
        lambda text: read_band(text, kind), lambda band: write_band(band, kind), says, examples, kind.base, held=Band
    )


def _numbers(kind: Kind, count: int, says: str, example: str) -> TextForm:
    return TextForm(
        lambda text: read_numbers(text, kind, count),
        lambda values: write_numbers(values, kind),
        says,
        (example,),
        kind.base,
    )


Length = Annotated[float, quantity(LENGTH)]
"""Text with a unit of length, held in mm."""
Mass = Annotated[float, quantity(MASS)]
"""Text with a unit of mass, held in g."""
Force = Annotated[float, quantity(FORCE)]
"""Text with a unit of force, held in N."""
Angle = Annotated[float, quantity(ANGLE)]
"""Text with a unit of angle, held in degrees."""
Density = Annotated[float, quantity(DENSITY)]
"""Text with a unit of density, held in g/cm3."""
Fraction = Annotated[float, quantity(FRACTION)]
"""Text in percent, held as a share of 1."""
Current = Annotated[float, quantity(CURRENT)]
"""Text with a unit of current, held in mA."""
Voltage = Annotated[float, quantity(VOLTAGE)]
"""Text with a unit of voltage, held in V."""
Temperature = Annotated[float, quantity(TEMPERATURE)]
"""Text with a unit of temperature, held in degrees Celsius."""
LengthBand = Annotated[Band, _band(LENGTH)]
"""A length with its tolerance, held as a `Band` in mm."""
MassBand = Annotated[Band, _band(MASS)]
"""A mass with its tolerance, held as a `Band` in g."""
Point = Annotated[Triple, _numbers(LENGTH, 3, "x, y and z with one unit", "12, 0, 4.5 mm")]
"""Three lengths in one text, held as (x, y, z) in mm."""
Point2 = Annotated[Pair, _numbers(LENGTH, 2, "two lengths with one unit", "12, 0 mm")]
"""Two lengths in one text, held as (u, v) in mm."""
Angles = Annotated[Triple, _numbers(ANGLE, 3, "turns about x, y and z with one unit", "180, 0, 0 deg")]
"""Three angles in one text, held in degrees."""
Direction = Annotated[
    Triple,
    TextForm(read_direction, write_direction, "a signed axis or three plain numbers", ("+z", "0.2, 0, 1")),
]
"""`+x -x +y -y +z -z` or three plain numbers, held as a unit (x, y, z)."""
Level = Annotated[
    AxisLevel,
    TextForm(
        AxisLevel.read,
        AxisLevel.write,
        "an axis and a length",
        ("z 10 mm",),
        "mm",
        rf"^\s*[xyz] {_pattern(LENGTH)}$",
        held=AxisLevel,
    ),
]
"""An axis and a length in one text, held as an `AxisLevel`."""
