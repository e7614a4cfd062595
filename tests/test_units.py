"""Quantities: read, held, written back, and refused."""

from __future__ import annotations

import json
import re
from typing import Annotated

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import Field, TypeAdapter, ValidationError

from prep import units
from prep.errors import BadQuantity
from prep.units import (
    ANGLE,
    DENSITY,
    FORCE,
    FRACTION,
    KINDS,
    LENGTH,
    MASS,
    TEMPERATURE,
    Band,
    Kind,
    read_band,
    read_direction,
    read_numbers,
    write_band,
    write_direction,
    write_numbers,
)

FINITE = st.floats(-1e9, 1e9, allow_nan=False).map(lambda value: value + 0.0)

FIELDS = {
    "Length": "5 mm",
    "Mass": "148 g",
    "Force": "12 N",
    "Angle": "30 deg",
    "Density": "1.18 g/cm3",
    "Fraction": "35 %",
    "Current": "5 mA",
    "Voltage": "3 V",
    "Temperature": "80 C",
    "LengthBand": "0 mm ± 1 mm",
    "MassBand": "148 g ± 1 g",
    "Point": "12, 0, 4.5 mm",
    "Point2": "12, 0 mm",
    "Angles": "180, 0, 0 deg",
    "Direction": "+z",
    "Level": "z 10 mm",
}


@pytest.mark.parametrize(
    ("kind", "text", "value"),
    [
        (LENGTH, "5 mm", 5.0),
        (LENGTH, "0.25 in", 6.35),  # the inch is 25.4 mm exactly (ISO 80000-3)
        (LENGTH, "1/4 in", 6.35),
        (LENGTH, '0.25"', 6.35),
        (LENGTH, "50 µm", 0.05),
        (LENGTH, "50 \u03bcm", 0.05),  # Greek mu, as some keyboards write it
        (LENGTH, "-1.2cm", -12.0),
        (LENGTH, "\u22121 mm", -1.0),  # a true minus sign
        (LENGTH, "1e-3 m", 1.0),
        (LENGTH, "1 ft", 304.8),
        (MASS, "1 lb", 453.59237),  # international pound, exact since 1959
        (MASS, "1 oz", 28.349523125),
        (FORCE, "1 kgf", 9.80665),  # standard gravity, 3rd CGPM 1901
        (FORCE, "8N", 8.0),
        (ANGLE, "1 rad", 57.29577951308232),
        (ANGLE, "30°", 30.0),
        (DENSITY, "1180 kg/m3", 1.18),
        (FRACTION, "35 %", 0.35),
        (TEMPERATURE, "176 F", 80.0),
        (TEMPERATURE, "353.15 K", 80.0),
        (TEMPERATURE, "80 °C", 80.0),
    ],
)
def test_read(kind: Kind, text: str, value: float) -> None:
    """Every unit is read exactly into the base unit."""
    assert kind.read(text) == value


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.base)
@settings(max_examples=60, deadline=None)
@given(value=FINITE)
def test_writing_reads_back(kind: Kind, value: float) -> None:
    """What is written reads back as the very same float."""
    assert kind.read(kind.write(value)) == value


@pytest.mark.parametrize("number", ["5", 5, "4.5", 4.5, "-0.25"])
def test_bare_number(number: object) -> None:
    """A bare number is refused with the text to write."""
    with pytest.raises(BadQuantity) as caught:
        LENGTH.read(number)
    assert caught.value.fix == f"write `{number} mm`"


@pytest.mark.parametrize(
    ("text", "what", "fix"),
    [
        ("5 g", "unit of mass", "such as `5 mm`"),
        ("5 mmm", "not a unit", "write `5 mm`"),
        ("5 MM", "not a unit", "write `5 mm`"),
        ("5,5 mm", "not a length", "`5.5 mm`"),
        ("five mm", "not a length", "`5 mm`"),
        ("1/0 mm", "not a number", "digits"),
        ("", "not a length", "`5 mm`"),
        ("nan mm", "not a length", "`5 mm`"),
        ("1e400 mm", "too large", "smaller"),
        (True, "text with a unit", "`5 mm`"),
        (None, "text with a unit", "`5 mm`"),
        ([5], "text with a unit", "`5 mm`"),
    ],
)
def test_refused(text: object, what: str, fix: str) -> None:
    """What is no length is refused with what is wrong and what to write."""
    with pytest.raises(BadQuantity) as caught:
        LENGTH.read(text)
    assert what in caught.value.what
    assert fix in caught.value.fix


@settings(max_examples=200, deadline=None)
@given(st.text(max_size=40))
def test_any_text_is_read_or_refused(text: str) -> None:
    """Whatever the text, each reader gives a value or a fault, never another exception."""
    readers = [LENGTH.read, TEMPERATURE.read, read_direction, units.AxisLevel.read]
    readers += [lambda text: read_band(text, MASS), lambda text: read_numbers(text, LENGTH, 3)]
    for read in readers:
        try:
            read(text)
        except BadQuantity as fault:
            assert fault.fix


@pytest.mark.parametrize(
    ("text", "band"),
    [
        ("148 g", (148.0, 148.0, 148.0)),
        ("148 g ± 1 g", (148.0, 147.0, 149.0)),
        ("148 g +/- 1 g", (148.0, 147.0, 149.0)),
        ("148 g +- 500 mg", (148.0, 147.5, 148.5)),
        ("148 g ± 1", None),
        ("148 ± 1 g", None),
        ("200 g ± 1 %", (200.0, 198.0, 202.0)),
        ("100 g + 2 g - 1 g", (100.0, 99.0, 102.0)),
        ("148 g ± -1 g", None),
    ],
)
def test_band(text: str, band: tuple[float, float, float] | None) -> None:
    """A tolerance is absolute, in percent, or unequal; each number carries its unit."""
    if band is None:
        with pytest.raises(BadQuantity):
            read_band(text, MASS)
    else:
        assert read_band(text, MASS) == Band(*band)


def test_band_of_temperature_is_a_difference() -> None:
    """A tolerance is a width, so it does not carry the zero of its scale."""
    assert read_band("80 C ± 10 K", TEMPERATURE) == Band(80.0, 70.0, 90.0)


def test_band_uses() -> None:
    """A band without tolerance takes a default one; a stated one stays."""
    assert Band(200.0, 200.0, 200.0).or_within(0.005) == Band(200.0, 199.0, 201.0)
    assert Band(200.0, 190.0, 210.0).or_within(0.005) == Band(200.0, 190.0, 210.0)
    assert Band(200.0, 190.0, 210.0).holds(190.0)
    assert not Band(200.0, 190.0, 210.0).holds(210.1)


@settings(max_examples=100, deadline=None)
@given(FINITE, st.floats(0, 1e6), st.floats(0, 1e6))
def test_band_reads_back(value: float, down: float, up: float) -> None:
    """Any band reads back as itself."""
    band = Band(value, value - down, value + up)
    assert read_band(write_band(band, MASS), MASS) == band


@settings(max_examples=100, deadline=None)
@given(st.tuples(FINITE, FINITE, FINITE))
def test_point_reads_back(values: tuple[float, float, float]) -> None:
    """Any point reads back as itself."""
    assert read_numbers(write_numbers(values, LENGTH), LENGTH, 3) == values


def test_point_with_units_each() -> None:
    """A point may carry one unit, or one each."""
    assert read_numbers("1 in, 0 mm, -4.5 cm", LENGTH, 3) == (25.4, 0.0, -45.0)


@pytest.mark.parametrize(
    ("value", "fix"),
    [
        ([12, 0, 4.5], 'write "12, 0, 4.5 mm"'),
        ("12, 0, 4.5", 'write "12, 0, 4.5 mm"'),
        ("12, 0 mm", 'write "12, 0, 4.5 mm"'),
        ("12, 0, 4.5 g", "such as `5 mm`"),
    ],
)
def test_point_refused(value: object, fix: str) -> None:
    """A point without unit, or of another count, is refused with what to write."""
    with pytest.raises(BadQuantity) as caught:
        read_numbers(value, LENGTH, 3)
    assert fix in caught.value.fix


def test_direction() -> None:
    """A direction is a signed axis, or three numbers made unit."""
    assert read_direction("-y") == (0.0, -1.0, 0.0)
    assert read_direction("0, 3, 4") == (0.0, 0.6, 0.8)


@pytest.mark.parametrize("text", ["z", "0, 0, 0", "up", "1, 2 mm, 3", [0, 0, 1], 1])
def test_direction_refused(text: object) -> None:
    """A direction without sign, length or count is refused."""
    with pytest.raises(BadQuantity):
        read_direction(text)


@settings(max_examples=100, deadline=None)
@given(st.tuples(*[st.floats(-10, 10)] * 3).filter(lambda v: max(map(abs, v)) > 1e-3))
def test_direction_reads_back(values: tuple[float, float, float]) -> None:
    """A direction once read is written and read again without change."""
    once = read_direction(", ".join(f"{value:.12f}" for value in values))
    assert read_direction(write_direction(once)) == once


@pytest.mark.parametrize(("word", "text"), FIELDS.items())
def test_fields_round_trip(word: str, text: str) -> None:
    """Each type is read, written as text, and read again without change; a bare number is refused."""
    adapter = TypeAdapter(getattr(units, word))
    held = adapter.validate_python(text)
    written = adapter.dump_python(held, mode="json")
    assert isinstance(written, str)
    assert adapter.validate_python(written) == held
    with pytest.raises(ValidationError):
        adapter.validate_python(5)


@pytest.mark.parametrize(("word", "text"), FIELDS.items())
def test_fields_schema(word: str, text: str) -> None:
    """Each type's JSON schema is text with a description; its examples read, and fit its pattern."""
    adapter = TypeAdapter(getattr(units, word))
    schema = adapter.json_schema()
    assert schema["type"] == "string"
    assert schema["description"]
    json.dumps(schema)
    for example in [*schema["examples"], text]:
        adapter.validate_python(example)
        assert re.search(schema.get("pattern", ""), example)


@pytest.mark.parametrize(
    "annotation",
    [
        Annotated[units.Length, Field(gt=0)],
        Annotated[units.Length | None, Field(gt=0)],
    ],
)
def test_limits_hold_in_base_units(annotation: object) -> None:
    """A limit set on a field is a limit in mm."""
    adapter = TypeAdapter(annotation)
    assert adapter.validate_python("0.1 in") == pytest.approx(2.54)
    with pytest.raises(ValidationError, match="greater than 0"):
        adapter.validate_python("-1 mm")


@pytest.mark.parametrize(
    ("shown", "text"),
    [
        (units.show_mm(0.8), "0.80 mm"),
        (units.show_mm(0.00423), "0.0042 mm"),
        (units.show_mm(-0.0), "0.00 mm"),
        (units.show_g(148.236), "148.24 g"),
        (units.show_n(12.0), "12.00 N"),
        (units.show_deg(30.0), "30.00 deg"),
        (units.show_percent(0.35), "35.00 %"),
        (units.show_mm3(-41601.0), "-41601.00 mm³"),
        (units.show_point((12.0, 40.06, -0.01)), "(12.0, 40.1, 0.0) mm"),
    ],
)
def test_show(shown: str, text: str) -> None:
    """Quantities are shown to people in one way, never as a negative zero."""
    assert shown == text
