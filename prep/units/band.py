"""`Band`: a value with the range allowed about it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction as Ratio

from prep.errors import BadQuantity
from prep.units.kind import FRACTION, NUMBER, ONE_QUANTITY, Kind, decimal_text, exact, quoted, rounded, tidy

_PLUS_MINUS = re.compile(r"±|\+/-|\+-")
_UNEQUAL = re.compile(rf"(?P<value>.+?)\s+\+\s*(?P<up>{NUMBER}.*?)\s+-\s*(?P<down>{NUMBER}.*)")

UNSTATED = 0.02
"""Share by which a longest side may be off where no tolerance is written."""


@dataclass(frozen=True)
class Band:
    """A value with the range allowed about it, all in base units; without a stated tolerance all three are equal."""

    value: float
    low: float
    high: float

    @property
    def stated(self) -> bool:
        """Whether a tolerance was written."""
        return self.low != self.high

    def or_within(self, share: float) -> Band:
        """The band as written, or `value` ± that share of it where no tolerance was written."""
        if self.stated:
            return self
        width = abs(self.value) * share
        return Band(self.value, self.value - width, self.value + width)

    def holds(self, value: float) -> bool:
        """Whether a value lies in the band, ends included."""
        return self.low <= value <= self.high


def read_band(text: object, kind: Kind) -> Band:
    """A band from `148 g`, `148 g ± 1 g`, `148 g +/- 1 %` or `148 g + 2 g - 1 g`.

    Raises
    ------
    BadQuantity
        One of its quantities cannot be read, or a tolerance is negative.
    """
    line = tidy(text) if isinstance(text, str) else text
    down: Ratio
    if isinstance(line, str) and _PLUS_MINUS.search(line):
        value_text, _, width_text = (part.strip() for part in _PLUS_MINUS.sub("±", line).partition("±"))
        value = kind.read_exactly(value_text)
        up = down = _width(value, width_text, kind)
    elif isinstance(line, str) and (unequal := _UNEQUAL.fullmatch(line)):
        value = kind.read_exactly(unequal["value"])
        up, down = _width(value, unequal["up"], kind), _width(value, unequal["down"], kind)
    else:
        value = kind.read_exactly(line)
        up = down = Ratio(0)
    if up < 0 or down < 0:
        raise BadQuantity("a tolerance cannot be negative", found=quoted(text), fix="leave out the minus sign")
    return Band(rounded(value), rounded(value - down), rounded(value + up))


def write_band(band: Band, kind: Kind) -> str:
    """Text that `read_band` turns into the very same band."""
    value, low, high = (Ratio(repr(float(each))) for each in (band.value, band.low, band.high))
    text = kind.write(band.value)
    if low == high == value:
        return text
    up, down = decimal_text(high - value), decimal_text(value - low)
    if up == down:
        return f"{text} ± {up} {kind.base}"
    return f"{text} + {up} {kind.base} - {down} {kind.base}"


def _width(value: Ratio, text: str, kind: Kind) -> Ratio:
    found = ONE_QUANTITY.fullmatch(text)
    if found is not None and found["unit"] == "%":
        return abs(value) * FRACTION.read_exactly(text)
    scale = found and kind.units.get(found["unit"])
    if found is not None and scale:
        return exact(found["number"]) * Ratio(scale[0])
    return kind.read_exactly(text)
