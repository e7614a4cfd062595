"""The tables as they ship, against published figures."""

from __future__ import annotations

import math

import pytest

from prep.errors import UnfinishedRow, UnknownRow
from prep.tables import Tables

TABLES = Tables.load()
NAMES = (
    "grades",
    "magnets",
    "materials",
    "processes",
    "ballast",
    "leds",
    "cells",
    "paints",
    "adhesives",
    "transmission",
)


@pytest.mark.parametrize("name", NAMES)
def test_every_row_names_its_source(name):
    """Every row of every table says where its figures come from and how far to trust them."""
    table = TABLES.named(name)
    assert table.rows
    known = {"published", "common practice, no source", "unverified default", "from memory"}
    for row in table.rows:
        assert len(row.source) > 4
        assert row.status in known


@pytest.mark.parametrize(
    ("name", "mass_g", "diameter_mm", "thickness_mm", "envelope_g_cm3"),
    [
        # US Mint coin specifications
        ("us cent", 2.500, 19.05, 1.52, 5.771),
        ("us nickel", 5.000, 21.21, 1.95, 7.257),
        ("us dime", 2.268, 17.91, 1.35, 6.669),
        ("us quarter", 5.670, 24.26, 1.75, 7.009),
        ("us half dollar", 11.340, 30.61, 2.15, 7.167),
        ("us dollar", 8.1, 26.49, 2.00, 7.349),
        # Regulation (EU) 729/2014, Annex I
        ("1 cent euro", 2.30, 16.25, 1.67, 6.641),
        ("2 cent euro", 3.06, 18.75, 1.67, 6.636),
        ("5 cent euro", 3.92, 21.25, 1.67, 6.619),
        ("10 cent euro", 4.10, 19.75, 1.93, 6.934),
        ("20 cent euro", 5.74, 22.25, 2.14, 6.898),
        ("50 cent euro", 7.80, 24.25, 2.38, 7.096),
        ("1 euro", 7.50, 23.25, 2.33, 7.582),
        ("2 euro", 8.50, 25.75, 2.20, 7.419),
    ],
)
def test_coins_weigh_what_the_mints_publish(name, mass_g, diameter_mm, thickness_mm, envelope_g_cm3):
    """Coins carry the published mass and size, and the density of the cylinder around them, not of the alloy."""
    row = TABLES.ballast.get(name)
    assert (row.mass_g, row.diameter_mm, row.thickness_mm) == (mass_g, diameter_mm, thickness_mm)
    assert row.density_g_cm3 == pytest.approx(envelope_g_cm3, abs=6e-4)


@pytest.mark.parametrize(
    ("grade", "low", "high"),
    # makers' property tables A, B and C: the widest of the three ranges
    [
        ("N35", 1.17, 1.22),
        ("N38", 1.22, 1.26),
        ("N40", 1.25, 1.29),
        ("N42", 1.28, 1.32),
        ("N45", 1.32, 1.38),
        ("N48", 1.37, 1.42),
        ("N50", 1.39, 1.45),
        ("N52", 1.42, 1.48),
    ],
)
def test_grades_span_the_makers_tables(grade, low, high):
    """A grade's remanence spans every maker's range and ordinary grades stop at 80 degrees."""
    row = TABLES.grades.get(grade)
    assert (row.remanence_low_t, row.remanence_high_t, row.highest_c) == (low, high, 80.0)


@pytest.mark.parametrize(
    ("name", "mass_g"),
    # values computed at 7.5 g/cm3, the density of magnet makers' tables
    [
        ("disc 3x1 N42", 0.053),
        ("disc 6x2 N42", 0.424),
        ("disc 6x3 N42", 0.636),
        ("disc 10x3 N35", 1.767),
        ("disc 20x5 N52", 11.781),
        ("disc 1/8 x 1/16 in N42", 0.094),
        ("disc 1/4 x 1/4 in N42", 1.508),
        ("disc 3/4 x 1/4 in N42", 13.574),
        ("block 10x5x2 N42", 0.75),
    ],
)
def test_magnets_weigh_their_size(name, mass_g):
    """A magnet's mass follows from its size at 7.5 g/cm3."""
    assert TABLES.magnets.get(name).mass_g == pytest.approx(mass_g, abs=6e-4)


def test_magnets_take_remanence_from_their_grade():
    """Each magnet lies within its grade and is magnetised through a thickness it has."""
    for row in TABLES.magnets.rows:
        grade = TABLES.grades.get(row.grade)
        assert (row.remanence_low_t, row.remanence_high_t) == (grade.remanence_low_t, grade.remanence_high_t)
        assert row.remanence_low_t < row.remanence_t < row.remanence_high_t
        assert row.thickness_mm > 0
        assert (row.diameter_mm > 0) == (row.shape == "disc")
    assert TABLES.magnets.get("disc 6x2 N42").remanence_t == pytest.approx(1.30)


@pytest.mark.parametrize(
    ("name", "diameter", "height"),
    [
        # Linden's Handbook of Batteries, Table 4.9a
        ("AA", 14.5, 50.5),
        ("AAA", 10.5, 44.5),
        ("LR44", 11.6, 5.4),
        ("LR43", 11.6, 4.2),
        ("LR54", 11.6, 3.05),
        ("LR41", 7.9, 3.6),
        ("LR48", 7.9, 5.4),
        # IEC 60086-2, lithium coin cells
        ("CR2032", 20.0, 3.2),
        ("CR2025", 20.0, 2.5),
        ("CR2016", 20.0, 1.6),
        ("CR1632", 16.0, 3.2),
        ("CR1220", 12.5, 2.0),
    ],
)
def test_cells_are_as_large_as_the_standard_allows(name, diameter, height):
    """A cell's row holds the largest size allowed, with the code's rounding of 12.5 to 12 undone."""
    row = TABLES.cells.get(name)
    assert (row.diameter_mm, row.height_mm) == (diameter, height)
    assert row.diameter_min_mm < row.diameter_mm


@pytest.mark.parametrize(
    ("name", "low", "high"),
    # public density tables: carbon steel, chemical lead, bismuth, pure tungsten, within their tolerance
    [
        ("steel shot 2 mm", 7.81, 7.89),
        ("lead shot 3 mm", 11.306, 11.374),
        ("bismuth shot 3 mm", 9.70, 9.83),
        ("tungsten shot 2 mm", 19.15, 19.35),
    ],
)
def test_shot_is_as_dense_as_its_metal(name, low, high):
    """Shot carries the handbook density of its metal and the honest packing band."""
    row = TABLES.ballast.get(name)
    assert low <= row.density_g_cm3 <= high
    assert (row.packing_low, row.packing_high) == (0.555, 0.64)
    assert row.mass_g == 0.0


@pytest.mark.parametrize(
    ("name", "mass_g"), [("M6 washer", 1.0), ("M8 washer", 1.8), ("M10 washer", 3.6), ("M12 washer", 6.3)]
)
def test_washers_weigh_what_flat_washers_weigh(name, mass_g):
    """A washer's mass follows from its size, its hole taken out."""
    # trade figures for standard flat washers, one decimal
    assert TABLES.ballast.get(name).mass_g == pytest.approx(mass_g, abs=0.05)


def test_lead_is_flagged_and_steel_is_ferrous():
    """Hazards that the checks rely on are in the rows."""
    for row in TABLES.ballast.rows:
        assert row.toxic == row.name.startswith("lead")
    assert TABLES.ballast.get("steel shot 2 mm").ferrous
    assert TABLES.ballast.get("1 cent euro").ferrous
    assert not TABLES.ballast.get("tungsten shot 3 mm").ferrous


def test_solid_processes_have_no_shell_and_extrusion_has_one():
    """Only extrusion prints a sparse core, and it has both walls and skins."""
    for row in TABLES.processes.rows:
        extruded = row.category == "material extrusion"
        assert row.solid is not extruded
        assert (row.bead_mm > 0) == (row.walls > 0) == (row.skins > 0) == extruded
        assert row.wall_limit_mm >= 2 * row.layer_mm


def test_names_are_found_whatever_the_case_and_the_spaces():
    """Case, spaces and the multiplication sign make no difference to a name."""
    assert TABLES.magnets.get(" Disc 6 × 2 n42").name == "disc 6x2 N42"


def test_an_unknown_row_names_the_nearest():
    """A row that is not there is refused with the nearest known word."""
    with pytest.raises(UnknownRow, match="no row `pal`") as caught:
        TABLES.materials.get("pal")
    assert "`pla`" in caught.value.fix
    assert caught.value.code == "unknown-row"


def test_putty_without_a_density_is_refused():
    """Tungsten putty ships without a density and cannot be used until the shop gives one."""
    with pytest.raises(UnfinishedRow, match="no density") as caught:
        TABLES.ballast.get("tungsten putty")
    assert "shop/ballast.csv" in caught.value.fix


def test_numbers_are_sane():
    """No shipped number is negative or infinite."""
    for name in NAMES:
        for row in TABLES.named(name).rows:
            for value in vars(row).values():
                if isinstance(value, float):
                    assert math.isfinite(value)
                    assert value >= 0


def test_button_and_coin_cells_bring_a_caution():
    """Cells wider than high, of 16 CFR 1263's scope, name the rule; rods do not; all have steel cans."""
    for row in TABLES.cells.rows:
        assert ("16 CFR 1263" in row.caution) == (row.diameter_mm > row.height_mm)
        assert "loose steel" in row.caution
        assert row.ferrous
