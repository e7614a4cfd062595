"""The stated dimension against the one read."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from prep.errors import WrongUnit
from prep.geometry.longest import check_longest
from prep.geometry.raw_mesh import MILLIMETRES


@pytest.mark.parametrize(
    ("drawn_in", "read_as"),
    [("inch", "mm"), ("cm", "mm"), ("m", "mm"), ("mm", "inch"), ("mm", "cm"), ("micron", "mm"), ("inch", "cm")],
)
def test_names_the_likely_unit(drawn_in, read_as):
    """A part of 92 mm, read in the wrong unit, is refused with both readings and the unit that explains them."""
    number = 92.0 / MILLIMETRES[drawn_in]
    read = number * MILLIMETRES[read_as]
    with pytest.raises(WrongUnit) as fault:
        check_longest([read, read / 2, read / 3], 92.0, 1.0, read_as)
    assert f"unit: {drawn_in}" in fault.value.fix
    assert f"read as {drawn_in} it is 92 mm" in fault.value.found
    assert f"read as {read_as} is {read:.6g} mm" in fault.value.found


@settings(max_examples=100, deadline=None, derandomize=True)
@given(st.floats(0.1, 1e4), st.floats(0.0, 0.05), st.floats(-1.0, 1.0))
def test_within_tolerance_passes(stated, share, off):
    """Anything within the tolerance passes, at any size."""
    tolerance = share * stated
    check_longest([stated + 0.999 * off * tolerance, 0.05, 0.0], stated, tolerance, "mm")


def test_no_unit_explains_it():
    """A part twice as long is the wrong file, not the wrong unit."""
    with pytest.raises(WrongUnit) as fault:
        check_longest((184.0, 10.0, 10.0), 92.0, 1.0, "mm")
    assert "no unit explains it" in fault.value.what
    assert "0.5 times" in fault.value.found


def test_just_outside_the_tolerance():
    """Off by a little more than allowed is refused, and no other unit is named."""
    with pytest.raises(WrongUnit) as fault:
        check_longest((93.1, 10.0, 10.0), 92.0, 1.0, "mm")
    assert "unit:" not in fault.value.fix
