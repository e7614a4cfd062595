"""How a recipe says window, size, wire and cell."""

from __future__ import annotations

import pytest
from pydantic import TypeAdapter, ValidationError

from prep.places.led_wanted import OpensThrough, WindowSize, WireWanted

WINDOW, SIZE = TypeAdapter(OpensThrough), TypeAdapter(WindowSize)


def test_a_window_is_a_thickness_a_light_or_an_insert() -> None:
    """The three forms of the recipe."""
    assert WINDOW.validate_python("1.2 mm").wall == 1.2
    assert WINDOW.validate_python({"transmit": "35 %"}).transmit == pytest.approx(0.35)
    assert WINDOW.validate_python({"insert": "pmma rod", "thick": "2 mm"}).thick == 2.0


@pytest.mark.parametrize("words", [{}, {"wall": "1 mm", "transmit": "3 %"}, {"wall": "1 mm", "thick": "2 mm"}])
def test_a_window_is_one_of_them(words: dict[str, str]) -> None:
    """None, two, or a thickness without an insert are refused."""
    with pytest.raises(ValidationError):
        WINDOW.validate_python(words)


def test_sizes_are_read_and_written_back() -> None:
    """A diameter and a slot survive writing and reading."""
    for text, held in (("8 mm", (8.0,)), ("20 x 8 mm", (20.0, 8.0)), ("20 mm x 0.5 in", (20.0, 12.7))):
        assert SIZE.validate_python(text) == held
        assert SIZE.validate_python(SIZE.dump_json(held).decode().strip('"')) == held


def test_a_size_without_a_unit_is_refused() -> None:
    """A bare number is no size."""
    with pytest.raises(ValidationError):
        SIZE.validate_python("20 x 8")


def test_a_wire_is_as_wide_as_two_thin_ones_need() -> None:
    """2.2 mm by default."""
    assert WireWanted().width == 2.2
