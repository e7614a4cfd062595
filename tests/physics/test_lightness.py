"""How light a colour looks."""

from __future__ import annotations

import pytest

from prep.physics.lightness import lightness


@pytest.mark.parametrize(("colour", "expected"), [("#ff0000", 53.233), ("#ffffff", 100.0), ("#000000", 0.0)])
def test_published(colour: str, expected: float) -> None:
    """L* of sRGB red, white and black."""
    # red: colour-science 0.4.7, sRGB to Lab under D65; white and black by definition
    assert lightness(colour) == pytest.approx(expected, abs=0.01)


def test_middle_grey() -> None:
    """A grey that reflects 18.42 % looks half as light as white."""
    # CIE 15:2004: L* = 50 where Y/Yn = ((50 + 16) / 116)^3 = 0.18419
    assert lightness("#777777") == pytest.approx(50.0, abs=0.05)


def test_darkest_is_linear() -> None:
    """Near black L* grows in proportion to the light."""
    assert lightness("#020202") == pytest.approx(2.0 * lightness("#010101"), rel=1e-9)


@pytest.mark.parametrize("colour", ["red", "#fff", "ff0000"])
def test_refuses_other_forms(colour: str) -> None:
    """Only six hexadecimal digits after a # are read."""
    with pytest.raises(ValueError, match="rrggbb"):
        lightness(colour)
