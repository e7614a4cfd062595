"""The sheet pictures are drawn on: words as they are, bars of round length, the same bytes twice."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from prep.report.paper import Paper, printable, round_length, shortened, swatch


@settings(deadline=None)
@given(st.floats(1e-6, 1e6))
def test_a_scale_bar_is_round_and_fills_most_of_its_room(longest):
    """1, 2 or 5 times a power of ten, never longer than the room and never under two fifths of it."""
    length = round_length(longest)
    head = length / 10.0 ** math.floor(math.log10(length) + 1e-9)
    assert min(abs(head - step) for step in (1.0, 2.0, 5.0)) < 1e-6
    assert 0.399 * longest < length <= longest * (1 + 1e-8)


def test_what_the_font_lacks_is_a_box():
    """Letters of a script the font does not have become boxes, line feeds spaces, the rest stays."""
    assert printable("Ø 6 µm\nfür 中x") == "Ø 6 µm für □x"


def test_long_words_are_cut_off():
    """What may not fit ends in three dots, what fits is left."""
    assert shortened("lid", 200.0) == "lid"
    cut = shortened("a very long name of a part that goes on and on", 200.0)
    assert cut.endswith("…")
    assert len(cut) <= 200 / (0.66 * 21) + 1


@pytest.mark.parametrize("kind", ["png", "svg"])
def test_a_sheet_has_the_same_bytes_twice(kind):
    """Names with signs of formulas or markup draw without a fault, and alike each time."""

    def sheet() -> bytes:
        paper = Paper(300, 200)
        paper.area([swatch(20, 20, 80)], fill="#ddccbb", hatch="//", within=swatch(10, 10, 60))
        paper.words((20, 150), "$\\frac{1}{2 <b>&amp; -- 中", bold=True)
        paper.arrow((10, 10), (90, 90), both=True)
        paper.scale_bar(280, 180, 0.1, 100)
        return paper.png() if kind == "png" else paper.svg()

    first = sheet()
    assert first == sheet()
    assert b"Matplotlib v" not in first
