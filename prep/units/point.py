"""Levels, rows of numbers that share a unit, and directions."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction as Ratio
from typing import Literal

from prep.errors import BadQuantity
from prep.units.kind import LENGTH, NUMBER, ONE_QUANTITY, Kind, decimal_text, exact, quoted, rounded, tidy

Triple = tuple[float, float, float]
Pair = tuple[float, float]


@dataclass(frozen=True)
class AxisLevel:
    """A height along one axis of the assembly: `z 10 mm`."""

    axis: Literal["x", "y", "z"]
    at_mm: float

    @classmethod
    def read(cls, text: object) -> AxisLevel:
        """A level from text.

        Raises
        ------
        BadQuantity
            No axis before the length, or no length after it.
        """
        axis, _, rest = tidy(text).partition(" ") if isinstance(text, str) else ("", "", "")
        if axis not in {"x", "y", "z"} or not rest:
            raise BadQuantity("a level is an axis and a length", found=quoted(text), fix="write `z 10 mm`")
        return cls(axis, LENGTH.read(rest))  # type: ignore[arg-type]  # one of the three, as just tested

    def write(self) -> str:
        """Text that `read` turns into the very same level."""
        return f"{self.axis} {LENGTH.write(self.at_mm)}"


def read_numbers(text: object, kind: Kind, count: int) -> tuple[float, ...]:
    """`count` quantities separated by commas, with one unit at the end or a unit each.

    Raises
    ------
    BadQuantity
        Another count, or a quantity that cannot be read.
    """
    example = ", ".join(["12", "0", "4.5"][:count]) + f" {kind.base}"
    if not isinstance(text, str):
        found = quoted(text)
        if isinstance(text, list | tuple) and len(text) == count and all(_is_number(each) for each in text):
            example = ", ".join(_number_text(each) for each in text) + f" {kind.base}"
        raise BadQuantity(f"{count} values go in one text with a unit", found=found, fix=f'write "{example}"')
    pieces = [piece.strip() for piece in tidy(text).split(",")]
    if len(pieces) != count:
        raise BadQuantity(
            f"{count} values separated by commas are needed",
            found=f"{len(pieces)} in `{text}`",
            fix=f'write "{example}"',
        )
    last = ONE_QUANTITY.fullmatch(pieces[-1])
    if last is None or last["unit"] is None:
        bare = all(re.fullmatch(NUMBER, piece) for piece in pieces)
        fix = f'write "{", ".join(pieces)} {kind.base}"' if bare else f'write "{example}"'
        raise BadQuantity(f"{kind.word} needs a unit", found=f"`{text}`", fix=fix)
    bare_unit = last["unit"]
    return tuple(kind.read(f"{piece} {bare_unit}" if re.fullmatch(NUMBER, piece) else piece) for piece in pieces)


def write_numbers(values: tuple[float, ...], kind: Kind) -> str:
    """Text that `read_numbers` turns into the very same floats."""
    return ", ".join(decimal_text(Ratio(repr(float(value)))) for value in values) + f" {kind.base}"


_AXES: dict[str, Triple] = {
    "+x": (1.0, 0.0, 0.0),
    "-x": (-1.0, 0.0, 0.0),
    "+y": (0.0, 1.0, 0.0),
    "-y": (0.0, -1.0, 0.0),
    "+z": (0.0, 0.0, 1.0),
    "-z": (0.0, 0.0, -1.0),
}


def read_direction(text: object) -> Triple:
    """A unit direction from `+x -x +y -y +z -z` or three numbers such as `0.2, 0, 1`.

    Raises
    ------
    BadQuantity
        Neither of the two forms, or three zeros.
    """
    line = tidy(text) if isinstance(text, str) else ""
    if line in _AXES:
        return _AXES[line]
    pieces = [piece.strip() for piece in line.split(",")]
    if len(pieces) != 3 or not all(re.fullmatch(NUMBER, piece) for piece in pieces):
        fix = f"write `+{line}`" if line in {"x", "y", "z"} else 'write `+z` or "0.2, 0, 1"'
        raise BadQuantity("a direction is a signed axis or three plain numbers", found=quoted(text), fix=fix)
    x, y, z = (rounded(exact(piece)) for piece in pieces)
    length = math.hypot(x, y, z)
    if length == 0.0 or math.isinf(length):
        raise BadQuantity(
            "a direction has a length, neither zero nor endless", found=f"`{text}`", fix='write `+z` or "0.2, 0, 1"'
        )
    if abs(length - 1.0) <= 1e-15:  # a unit direction stays as it is, so that writing and reading changes nothing
        return (x, y, z)
    return (x / length, y / length, z / length)


def write_direction(values: Triple) -> str:
    """Text that `read_direction` turns into the very same direction."""
    for word, axis in _AXES.items():
        if tuple(values) == axis:
            return word
    return ", ".join(decimal_text(Ratio(repr(float(value)))) for value in values)


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _number_text(value: object) -> str:
    return decimal_text(Ratio(repr(value)))
