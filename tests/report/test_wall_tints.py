"""Thickness as tints."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from prep.report.palette import linear
from prep.report.wall_tints import TINTS, UNMEASURED, wall_tints


def test_the_limit_is_a_break_and_not_a_blend():
    """A hair under the limit and the limit itself have the two tints on either side of it."""
    below, at = wall_tints(np.array([1.2 * (1 - 1e-6), 1.2]), 1.2)
    assert below == pytest.approx(linear(TINTS[1]), abs=1e-5)
    assert at == pytest.approx(linear(TINTS[2]), abs=1e-5)


def test_what_was_not_measured_is_pale():
    """No wall, no tint of one."""
    assert wall_tints(np.array([np.nan]), 1.0)[0] == pytest.approx(linear(UNMEASURED))


@settings(deadline=None)
@given(st.floats(0.0, 20.0), st.sampled_from([1e-3, 1.0, 1e3]))
def test_only_the_ratio_to_the_limit_counts(share, scale):
    """Thickness and limit scaled together keep their tint, and thin is redder than thick."""
    tint = wall_tints(np.array([share * scale]), scale)[0]
    assert tint == pytest.approx(wall_tints(np.array([share]), 1.0)[0], abs=1e-4)
    assert (tint[0] > 2.0 * tint[2]) == (share < 1.0) or share < 2.0
