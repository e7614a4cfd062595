"""`part_mass`: full prints, walls and skins around sparse infill, and the scale."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fixtures.benches import shipped_tables
from fixtures.drawn import box, wedge
from prep.errors import ImplausibleWeight
from prep.geometry.solid import Solid, subtract
from prep.physics.part_mass import part_factor, part_mass

TABLES = shipped_tables()
PLA = TABLES.materials.get("pla")
EXTRUSION = TABLES.processes.get("extrusion-0.4")
UP = (0.0, 0.0, 1.0)
BLOCK = Solid.of(*box((30.0, 20.0, 10.0)))


@pytest.mark.parametrize("process", ["jetting-0.027", "vat-0.05", "powder-0.1"])
def test_full_prints_weigh_volume_times_density(process) -> None:
    """Jetting, vat and powder print full: mass is volume times density, at the centroid."""
    part = Solid.of(*wedge(30.0))
    found = part_mass(part, PLA, TABLES.processes.get(process), UP)
    assert found.mass_g == pytest.approx(part.volume_mm3 * PLA.density_g_cm3 / 1000.0, rel=1e-12)
    assert found.centre_mm == pytest.approx(part.centre_mm)


def core_of_block(up: tuple[float, float, float]) -> float:
    """Core of the block behind 3 beads of 0.45 mm and 4 layers of 0.2 mm, mm3."""
    sizes = [side - 2.0 * (0.8 if along else 1.35) for side, along in zip((30.0, 20.0, 10.0), up, strict=True)]
    return sizes[0] * sizes[1] * sizes[2]


@pytest.mark.parametrize("up", [(0.0, 0.0, 1.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0)])
def test_an_extruded_block_in_closed_form(up) -> None:
    """Walls on the sides, skins along the build direction, 15 % inside: within 0.5 % of the closed form."""
    full = 6000.0 - 0.85 * core_of_block(up)
    assert part_mass(BLOCK, PLA, EXTRUSION, up).mass_g == pytest.approx(full * PLA.density_g_cm3 / 1000.0, rel=5e-3)


def test_a_pocket_cut_into_sparse_infill_can_add_weight() -> None:
    """The walls that a deep narrow pocket brings weigh more than the infill it takes away."""
    big = Solid.of(*box((60.0, 60.0, 60.0)))
    cut = subtract(big, [Solid.of(*box((6.0, 6.0, 50.0), (0.0, 0.0, 10.0)))])
    before, after = (part_mass(part, PLA, EXTRUSION, UP).mass_g for part in (big, cut))
    # the pocket's room at 15 %, less its lining: wall (8.7^2 - 6^2) x 45.8 and floor 8.7^2 x 0.8, counted full
    taken = 6.0 * 6.0 * (45.0 - 0.8) * 0.15 + 36.0 * 0.8
    added = ((8.7**2 - 36.0) * (45.0 - 0.8) + 8.7**2 * 0.8) * 0.85
    assert after > before
    assert after - before == pytest.approx((added - taken) * PLA.density_g_cm3 / 1000.0, rel=0.1)


def test_the_scale_calibrates() -> None:
    """A bare print that weighs 5 % more puts 5 % on the density, of the cut part as well."""
    computed = part_mass(BLOCK, PLA, EXTRUSION, UP).mass_g
    factor = part_factor(BLOCK, PLA, EXTRUSION, UP, 1.05 * computed)
    assert factor == pytest.approx(1.05)
    assert part_mass(BLOCK, PLA, EXTRUSION, UP, factor).mass_g == pytest.approx(1.05 * computed)
    assert part_factor(BLOCK, PLA, EXTRUSION, UP, None) == 1.0


@pytest.mark.parametrize("share", [0.5, 1.6])
def test_a_reading_that_nothing_explains_is_refused(share) -> None:
    """Half or twice the computed mass is refused with both numbers."""
    computed = part_mass(BLOCK, PLA, EXTRUSION, UP).mass_g
    with pytest.raises(ImplausibleWeight, match=f"computed {computed:.2f} g"):
        part_factor(BLOCK, PLA, EXTRUSION, UP, share * computed)


def test_full_infill_weighs_the_volume() -> None:
    """At 100 % the core makes no difference."""
    full = replace(EXTRUSION, infill=1.0)
    assert part_mass(BLOCK, PLA, full, UP).mass_g == pytest.approx(6.0 * PLA.density_g_cm3, rel=1e-9)
