"""Density of poured shot."""

from __future__ import annotations

import pytest

from prep.physics.packing import CLOSEST_RANDOM, LOOSEST, POURED, packed_density
from prep.tables import Tables


def test_random_packing_is_as_published():
    """The band spans poured to tapped random packing and stays below the densest lattice."""
    # Berryman 1983: 0.64 +/- 0.02; bulk extrapolation of 2003: 0.635 +/- 0.002; Onoda and Liniger 1990: 0.555
    assert abs(CLOSEST_RANDOM - 0.64) < 0.02
    assert abs(CLOSEST_RANDOM - 0.635) < 0.02
    assert abs(LOOSEST - 0.555) < 0.005
    assert LOOSEST < POURED < CLOSEST_RANDOM < 0.7404804897


@pytest.mark.parametrize(
    ("solid", "packing", "bulk"),
    # density times packing fraction: lead at close, poured and loosest packing, steel and tungsten at close packing
    [
        (11.34, 0.6366, 7.2190),
        (11.34, 0.601, 6.8153),
        (11.34, 0.555, 6.2937),
        (7.85, 0.6366, 4.9973),
        (19.25, 0.6366, 12.2546),
    ],
)
def test_bulk_density_of_shot(solid, packing, bulk):
    """Poured shot is as dense as its metal times its packing."""
    assert packed_density(solid, packing).mid == pytest.approx(bulk, abs=6e-5)


def test_the_worked_ballast_box():
    """A box of 283.2 g with a pocket of 9 cm3 of lead shot weighs 337.551396 g."""
    # body 100 x 60 x 40 at 1.18 g/cm3, pocket 30 x 30 x 10, shot at packing 0.6366
    mass = 240.0 * 1.18 - 9.0 * 1.18 + 9.0 * packed_density(11.34, 0.6366).mid
    assert mass == pytest.approx(337.551396, rel=1e-9)


def test_pieces_have_no_band():
    """A slug or washer fills its own room, so its band has no width."""
    row = Tables.load().ballast.get("5 g slug")
    density = packed_density(row.density_g_cm3, row.packing, row.packing_low, row.packing_high)
    assert density.low == density.mid == density.high == row.density_g_cm3


def test_the_shipped_shot_keeps_the_honest_band():
    """Shot in the table carries a band of some seven per cent either way."""
    row = Tables.load().ballast.get("steel shot 2 mm")
    density = packed_density(row.density_g_cm3, row.packing, row.packing_low, row.packing_high)
    assert 0.06 < 1 - density.low / density.mid < 0.08
    assert 0.06 < density.high / density.mid - 1 < 0.08
