"""`balance`: lumps together, against the worked examples."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from prep.physics.balance import Lump, balance


def lump(mass: float, *centre: float, band: float = 0.0) -> Lump:
    """A lump with a band of plus or minus a share."""
    return Lump(mass, mass * (1.0 - band), mass * (1.0 + band), np.array(centre))


def test_the_ballast_box() -> None:
    """A box of 283.2 g with a pocket of 9 cm3 at (20, 0, -10), empty and full of lead shot, balances as computed."""
    body, hole = lump(283.2, 0, 0, 0), lump(-9.0 * 1.18, 20, 0, -10)
    empty = balance([body, hole])
    assert empty.mass_g == pytest.approx(272.58, rel=1e-9)
    assert empty.centre_mm == pytest.approx([-0.7792208, 0.0, 0.3896104], abs=5e-8)
    # lead 11.34 at the packing 0.6366 of random spheres: 7.219044 g/cm3
    full = balance([body, hole, lump(9.0 * 7.219044, 20, 0, -10)])
    assert full.mass_g == pytest.approx(337.551396, rel=1e-9)
    assert full.centre_mm == pytest.approx([3.2203331, 0.0, -1.6101666], abs=1e-7)


def test_the_mass_that_moves_the_balance() -> None:
    """40.457 g at x = 40 bring 283.2 g to x = 5: the lever rule."""
    assert balance([lump(283.2, 0, 0, 0), lump(283.2 * 5 / 35, 40, 0, 0)]).centre_mm[0] == pytest.approx(5.0)


def test_bands_add() -> None:
    """The light ends add and the heavy ends add."""
    both = balance([lump(100.0, 0, 0, 0, band=0.02), lump(50.0, 1, 1, 1, band=0.1)])
    assert (both.low_g, both.mass_g, both.high_g) == pytest.approx((143.0, 150.0, 157.0))


@settings(max_examples=30, deadline=None)
@given(seed=st.integers(0, 9999), scale=st.sampled_from([1e-3, 1.0, 1e3]))
def test_grouping_changes_nothing(seed, scale) -> None:
    """Lumps taken together in any grouping balance alike, wherever the origin is."""
    random = np.random.default_rng(seed)
    lumps = [lump(m, *c) for m, c in zip(random.uniform(1, 9, 6) * scale, random.normal(size=(6, 3)), strict=True)]
    whole = balance(lumps)
    grouped = balance([balance(lumps[:2]), balance(lumps[2:5]), lumps[5]])
    assert grouped.mass_g == pytest.approx(whole.mass_g)
    assert grouped.centre_mm == pytest.approx(whole.centre_mm)
    away = [lump(one.mass_g, *(one.centre_mm + 1000.0)) for one in lumps]
    assert balance(away).centre_mm - 1000.0 == pytest.approx(whole.centre_mm, abs=1e-9)


def test_nothing_weighs_nothing() -> None:
    """No lumps: no mass, at the origin."""
    none = balance([])
    assert (none.mass_g, none.low_g, none.high_g) == (0.0, 0.0, 0.0)
    assert none.centre_mm.tolist() == [0.0, 0.0, 0.0]
