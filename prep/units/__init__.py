"""Floor 1. Quantities with units: read from text, held as plain floats in base units, written and shown again.

What lives here: the unit table, the types a pydantic model uses for a quantity, and one way of showing each.
What may be imported: errors; pydantic.
What must not come in: what a quantity is for (a wall, a magnet), numpy, a table of the shop.

Base units: mm, g, N, deg, g/cm3, a share of 1, mA, V and degrees Celsius.

A general unit library was weighed and left out: importing one costs more than all of `prep --help` may take, it hands
back wrapped numbers where numpy and the kernel want plain floats, and none reads `148 g ± 1 g` as a band. The table in
`kind` is all the trade needs. Conversion is done in whole fractions, so `0.25 in` is exactly `6.35 mm`, and what a
model writes reads back as the very same float.
"""

from prep.units.band import Band, read_band, write_band
from prep.units.fields import (
    Angle,
    Angles,
    Current,
    Density,
    Direction,
    Force,
    Fraction,
    Length,
    LengthBand,
    Level,
    Mass,
    MassBand,
    Point,
    Point2,
    Temperature,
    TextForm,
    Voltage,
    quantity,
)
from prep.units.kind import (
    ANGLE,
    CURRENT,
    DENSITY,
    FORCE,
    FRACTION,
    KINDS,
    LENGTH,
    MASS,
    TEMPERATURE,
    VOLTAGE,
    Kind,
)
from prep.units.point import AxisLevel, Pair, Triple, read_direction, read_numbers, write_direction, write_numbers
from prep.units.show import show_deg, show_g, show_mm, show_mm3, show_n, show_percent, show_point

__all__ = [
    "ANGLE",
    "CURRENT",
    "DENSITY",
    "FORCE",
    "FRACTION",
    "KINDS",
    "LENGTH",
    "MASS",
    "TEMPERATURE",
    "VOLTAGE",
    "Angle",
    "Angles",
    "AxisLevel",
    "Band",
    "Current",
    "Density",
    "Direction",
    "Force",
    "Fraction",
    "Kind",
    "Length",
    "LengthBand",
    "Level",
    "Mass",
    "MassBand",
    "Pair",
    "Point",
    "Point2",
    "Temperature",
    "TextForm",
    "Triple",
    "Voltage",
    "quantity",
    "read_band",
    "read_direction",
    "read_numbers",
    "show_deg",
    "show_g",
    "show_mm",
    "show_mm3",
    "show_n",
    "show_percent",
    "show_point",
    "write_band",
    "write_direction",
    "write_numbers",
]
