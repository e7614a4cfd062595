"""Mass and balance of a print."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from prep.errors import ImplausibleWeight
from prep.physics.print_mass import calibrate, print_mass

ORIGIN = np.zeros(3)


def test_a_full_print_weighs_its_volume():
    """The ballast box of 100 x 60 x 40 mm at 1.18 g/cm3 weighs 283.2 g and balances in its middle."""
    found = print_mass(240_000.0, ORIGIN, 1.18)
    assert found.mass_g == pytest.approx(283.2, rel=1e-12)
    assert found.centre_mm == pytest.approx([0, 0, 0])


def test_an_empty_pocket_moves_the_balance():
    """The same box with an empty pocket of 9 cm3 at (20, 0, -10) weighs 272.58 g, at (-0.7792208, 0, 0.3896104)."""
    found = print_mass(240_000.0, ORIGIN, 1.18, core_mm3=9_000.0, core_centre_mm=np.array([20, 0, -10]), infill=0.0)
    assert found.mass_g == pytest.approx(272.58, rel=1e-9)
    assert found.centre_mm == pytest.approx([-0.7792208, 0, 0.3896104], abs=6e-8)


def test_a_sparse_core_weighs_its_infill():
    """A box 30x20x10 with shell 2 mm weighs its wall of 3504 mm3 in full and its core of 2496 mm3 by the infill."""
    found = print_mass(6000.0, ORIGIN, 1.24, core_mm3=2496.0, core_centre_mm=ORIGIN, infill=0.15)
    assert found.mass_g == pytest.approx(1.24e-3 * (3504 + 0.15 * 2496))


def test_a_part_that_is_all_shell_weighs_in_full():
    """Without a core the infill says nothing."""
    assert print_mass(500.0, ORIGIN, 1.2, core_mm3=0.0, core_centre_mm=ORIGIN, infill=0.1).mass_g == pytest.approx(0.6)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(st.floats(0, 1), st.floats(0, 0.99), st.floats(0.8, 1.2), st.sampled_from([1e-3, 1.0, 1e3]))
def test_calibration_reproduces_the_scale(infill, share, factor, scale):
    """Density times the factor gives back the weighed mass and leaves the balance where it was."""
    volume, middle = 4000.0 * scale**3, np.array([1.0, 2.0, 3.0]) * scale
    core = {"core_mm3": share * volume, "core_centre_mm": middle * 1.1, "infill": infill}
    bare = print_mass(volume, middle, 1.24, **core)
    found = calibrate(bare.mass_g, bare.mass_g * factor)
    again = print_mass(volume, middle, 1.24 * found, **core)
    assert again.mass_g == pytest.approx(bare.mass_g * factor, rel=1e-12)
    assert again.centre_mm == pytest.approx(bare.centre_mm)


@pytest.mark.parametrize(("computed", "weighed"), [(60.0, 90.0), (60.0, 30.0), (0.0, 10.0)])
def test_an_implausible_weight_is_refused(computed, weighed):
    """A weight that density and flow cannot explain is refused with both masses."""
    with pytest.raises(ImplausibleWeight, match="too far") as caught:
        calibrate(computed, weighed)
    assert f"{weighed:.2f} g" in caught.value.found
