"""`Kind`: one kind of quantity with its units, exact both ways; and the table of all of them."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction as Ratio
from typing import NoReturn

from prep.errors import BadQuantity

NUMBER = r"[+-]?(?:\d{1,400}(?:\.\d{0,400})?|\.\d{1,400})(?:[eE][+-]?\d{1,3}|/\d{1,6})?"
"""How a number is written: `12`, `4.5`, `.5`, `1/4`, `-3`, `1e-3`."""

ONE_QUANTITY = re.compile(rf"(?P<number>{NUMBER})\s*(?P<unit>[^\s\d.,+\-±][^\s,+±]*)?")
_COMMA = re.compile(r"[+-]?\d+,\d+\s*[^\s\d,]*")


@dataclass(frozen=True)
class Kind:
    """One kind of quantity: its word, its base unit, and how many base units each unit holds.

    Parameters
    ----------
    word : str
        The kind with its article, as faults print it: "a length".
    base : str
        Unit of the floats held.
    units : mapping of str to (scale, shift)
        ``base = number * scale + shift``, both exact decimals or ratios in text.
    example : str
    """

    word: str
    base: str
    units: Mapping[str, tuple[str, str]]
    example: str

    def read(self, text: object) -> float:
        """The quantity in base units, from text such as `5 mm`.

        Raises
        ------
        BadQuantity
            Not text, no unit, an unknown unit, a unit of another kind, or not a number.
        """
        return rounded(self.read_exactly(text))

    def read_exactly(self, text: object) -> Ratio:
        """As `read`, without rounding to a float."""
        number, unit = self._split(text)
        if unit is None:
            self._refuse_bare(number)
        if unit not in self.units:
            self._refuse_unit(number, unit)
        scale, shift = self.units[unit]
        return exact(number) * Ratio(scale) + Ratio(shift)

    def write(self, value: float) -> str:
        """Text in the base unit that `read` turns into the very same float."""
        scale, shift = self.units[self.base]
        return f"{decimal_text((Ratio(repr(float(value))) - Ratio(shift)) / Ratio(scale))} {self.base}"

    def _split(self, text: object) -> tuple[str, str | None]:
        if isinstance(text, bool) or not isinstance(text, str | int | float):
            raise BadQuantity(
                f"{self.word} is written as text with a unit", found=quoted(text), fix=f"write `{self.example}`"
            )
        line = tidy(text if isinstance(text, str) else repr(text))
        found = ONE_QUANTITY.fullmatch(line)
        if found is None:
            if _COMMA.fullmatch(line):
                fix = f"write a decimal point: `{line.replace(',', '.')}`"
            else:
                fix = f"write a number and a unit, such as `{self.example}`"
            raise BadQuantity(f"this is not {self.word}", found=quoted(text), fix=fix)
        return found["number"], found["unit"]

    def _refuse_bare(self, number: str) -> NoReturn:
        raise BadQuantity(f"{self.word} needs a unit", found=f"`{number}`", fix=f"write `{number} {self.base}`")

    def _refuse_unit(self, number: str, unit: str) -> NoReturn:
        known = ", ".join(self.units)
        other = next((kind for kind in KINDS if unit in kind.units), None)
        if other is not None:
            raise BadQuantity(
                f"{self.word} is needed here, but `{unit}` is a unit of {other.word.split(' ', 1)[1]}",
                found=f"`{number} {unit}`",
                fix=f"write it in {known}, such as `{self.example}`",
            )
        import difflib  # only a fault needs it

        nearest = difflib.get_close_matches(unit, self.units, n=1, cutoff=0.5)
        lower = [known_unit for known_unit in self.units if known_unit.lower() == unit.lower()]
        best = (lower or nearest or [self.base])[0]
        raise BadQuantity(
            f"`{unit}` is not a unit of {self.word.split(' ', 1)[1]}; known are {known}",
            found=f"`{number} {unit}`",
            fix=f"write `{number} {best}`",
        )


LENGTH = Kind(
    "a length",
    "mm",
    {
        "mm": ("1", "0"),
        "um": ("1/1000", "0"),
        "µm": ("1/1000", "0"),
        "cm": ("10", "0"),
        "m": ("1000", "0"),
        "in": ("25.4", "0"),
        '"': ("25.4", "0"),
        "ft": ("304.8", "0"),
    },
    "5 mm",
)
MASS = Kind(
    "a mass",
    "g",
    {
        "g": ("1", "0"),
        "mg": ("1/1000", "0"),
        "kg": ("1000", "0"),
        "oz": ("28.349523125", "0"),
        "lb": ("453.59237", "0"),
    },
    "148 g",
)
FORCE = Kind(
    "a force",
    "N",
    {
        "N": ("1", "0"),
        "mN": ("1/1000", "0"),
        "kN": ("1000", "0"),
        "gf": ("0.00980665", "0"),
        "kgf": ("9.80665", "0"),
        "lbf": ("4.4482216152605", "0"),
    },
    "12 N",
)
ANGLE = Kind(
    "an angle",
    "deg",
    {"deg": ("1", "0"), "°": ("1", "0"), "rad": (f"{Ratio(180) / Ratio('3.14159265358979323846264338328')}", "0")},
    "30 deg",
)
DENSITY = Kind(
    "a density",
    "g/cm3",
    {"g/cm3": ("1", "0"), "g/cm³": ("1", "0"), "kg/m3": ("1/1000", "0"), "kg/m³": ("1/1000", "0")},
    "1.18 g/cm3",
)
FRACTION = Kind("a share", "%", {"%": ("1/100", "0")}, "35 %")
CURRENT = Kind("a current", "mA", {"mA": ("1", "0"), "uA": ("1/1000", "0"), "A": ("1000", "0")}, "5 mA")
VOLTAGE = Kind("a voltage", "V", {"V": ("1", "0"), "mV": ("1/1000", "0")}, "3 V")
TEMPERATURE = Kind(
    "a temperature",
    "C",
    {"C": ("1", "0"), "°C": ("1", "0"), "K": ("1", "-273.15"), "F": ("5/9", "-160/9")},
    "80 C",
)
KINDS = (LENGTH, MASS, FORCE, ANGLE, DENSITY, FRACTION, CURRENT, VOLTAGE, TEMPERATURE)


_REPLACED: dict[int, str] = {
    ord("\N{MINUS SIGN}"): "-",
    ord("\N{NO-BREAK SPACE}"): " ",
    ord("\N{THIN SPACE}"): " ",
    ord("\N{NARROW NO-BREAK SPACE}"): " ",
    ord("\N{GREEK SMALL LETTER MU}"): "µ",
}


def tidy(text: str) -> str:
    """The text with single plain spaces, plain minus signs and one kind of micro sign."""
    return " ".join(text.translate(_REPLACED).split())


def exact(number: str) -> Ratio:
    """The number a text stands for, without rounding."""
    try:
        return Ratio(number)
    except (ValueError, ZeroDivisionError) as cause:
        raise BadQuantity(
            "this is not a number", found=f"`{number}`", fix="write digits with a decimal point"
        ) from cause


def rounded(number: Ratio) -> float:
    """The nearest float.

    Raises
    ------
    BadQuantity
        The number is beyond what a float can hold.
    """
    try:
        return float(number)
    except OverflowError as cause:
        raise BadQuantity("this number is too large", found="over 1e308", fix="write a smaller one") from cause


def decimal_text(number: Ratio) -> str:
    """All digits of a number whose denominator holds no primes but two and five; else those of its nearest float."""
    twos = fives = 0
    rest = number.denominator
    while rest % 2 == 0:
        rest, twos = rest // 2, twos + 1
    while rest % 5 == 0:
        rest, fives = rest // 5, fives + 1
    if rest != 1:
        return repr(float(number))
    places = max(twos, fives)
    digits = str(abs(number.numerator) * 10**places // number.denominator)
    sign = "-" if number < 0 else ""
    if places > 20:  # far below a micron: powers of ten are easier to read than a row of noughts
        return f"{sign}{digits[0]}.{digits[1:] or '0'}e{len(digits) - places - 1}"
    digits = digits.rjust(places + 1, "0")
    whole, part = digits[: len(digits) - places], digits[len(digits) - places :]
    return sign + whole + (f".{part}" if part else "")


def quoted(value: object) -> str:
    """What was found, between backquotes and cut short."""
    text = repr(value) if not isinstance(value, str) else value
    return f"`{text if len(text) <= 60 else text[:57] + '...'}`"
