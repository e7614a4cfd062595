"""Tints and light."""

from __future__ import annotations

import numpy as np
import pytest

from prep.report.palette import encoded, linear


def test_tints_are_read_by_the_srgb_curve():
    """Middle grey 119 of 255 is 18.4 % of the light; white is all of it."""
    # IEC 61966-2-1: ((119/255 + 0.055) / 1.055) ^ 2.4 = 0.1845
    assert linear("#777777") == pytest.approx(0.1845, abs=2e-4)
    assert linear("#ffffff") == pytest.approx(1.0)
    assert linear("#0a0a0a") == pytest.approx(10 / 255 / 12.92, rel=1e-6)


def test_every_code_survives_the_way_to_light_and_back():
    """All 256 codes come back as they were, and too much light is white."""
    codes = np.arange(256)
    light = np.array([linear(f"#{code:02x}{code:02x}{code:02x}") for code in codes])
    assert np.array_equal(encoded(light)[:, 0], codes)
    assert encoded(np.array([1.7, -0.2], dtype=np.float32)).tolist() == [255, 0]
