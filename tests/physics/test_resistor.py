"""Resistors that are made, against the list of the standard."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from prep.errors import ResistorTooHot
from prep.physics.resistor import next_up, rating_for

# IEC 60063:2015, written out again from a public table of the series
E12 = "10 12 15 18 22 27 33 39 47 56 68 82"
E24 = "10 11 12 13 15 16 18 20 22 24 27 30 33 36 39 43 47 51 56 62 68 75 82 91"


@pytest.mark.parametrize(("series", "values"), [("E12", E12), ("E24", E24)])
def test_every_value_of_the_series_is_its_own_next(series, values):
    """Each value of the list is kept in every decade, and just above it comes the one after it."""
    numbers = [float(value) for value in values.split()]
    for value, after in zip(numbers, [*numbers[1:], 100.0], strict=True):
        for decade in (0.1, 1.0, 10.0, 1e4):
            assert next_up(value * decade, series) == pytest.approx(value * decade, rel=1e-12)
            assert next_up(value * decade * 1.001, series) == pytest.approx(after * decade, rel=1e-12)


@pytest.mark.parametrize(
    ("by_formula", "made"), [(26, 27), (29, 30), (32, 33), (35, 36), (38, 39), (42, 43), (46, 47), (83, 91)]
)
def test_the_eight_values_a_formula_gets_wrong(by_formula, made):
    """What 10 x 10^(i/24) rounds to and nobody makes is not given; the next value made is."""
    wrong = {round(10 ** (1 + i / 24)) for i in range(24)} - {int(value) for value in E24.split()}
    assert by_formula in wrong
    assert len(wrong) == 8
    assert next_up(by_formula) == made


@pytest.mark.parametrize(
    ("ohm", "series", "made"),
    [(150, "E24", 150), (580, "E24", 620), (65, "E24", 68), (65, "E12", 68), (120, "E24", 120)],
)
def test_worked_examples(ohm, series, made):
    """The sums of common circuits round up to the values a shop sells."""
    assert next_up(ohm, series) == made


@settings(max_examples=60, deadline=None)
@given(st.floats(0.01, 1e7), st.sampled_from(["E12", "E24"]))
def test_never_below_and_never_far_above(ohm, series):
    """The value made is not below the one asked for, and by less than the series' widest step above it."""
    made = next_up(ohm, series)
    assert ohm * (1.0 - 1e-8) <= made <= ohm * 1.26


@pytest.mark.parametrize(("mw", "watt"), [(60.0, 0.125), (63.0, 0.25), (240.0, 0.5), (1000.0, 2.0)])
def test_a_resistor_is_loaded_to_half(mw, watt):
    """The rating to buy is the smallest that is loaded to half at most."""
    assert rating_for(mw) == watt


def test_a_glowing_resistor_is_refused():
    """More heat than a small resistor bears is refused with both figures."""
    with pytest.raises(ResistorTooHot) as caught:
        rating_for(1001.0)
    assert "1001 mW" in caught.value.found
    assert "1000 mW" in caught.value.found
