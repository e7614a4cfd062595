"""Lamps, cells and readings of light as they ship, against published figures and common sense."""

from __future__ import annotations

import pytest

from prep.errors import UnfinishedRow
from prep.tables import Tables

TABLES = Tables.load()
LAMPS = [row for row in TABLES.leds.rows if row.shape != "module"]


@pytest.mark.parametrize(
    ("name", "body", "height", "pitch", "tolerance"),
    [
        # datasheets of a 5 mm and a 3 mm lamp: body, height, lead pitch, all within 0.2 mm
        ("round 5 mm white", 5.0, 8.71, 2.54, 0.2),
        ("round 3 mm red", 3.0, 6.12, 2.54, 0.2),
    ],
)
def test_round_lamps_have_the_published_size(name, body, height, pitch, tolerance):
    """Body, height and lead pitch of round lamps are those of the datasheets, with leads of half a millimetre."""
    row = TABLES.leds.get(name)
    assert (row.diameter_mm, row.height_mm, row.pitch_mm, row.size_tolerance_mm) == (body, height, pitch, tolerance)
    assert (row.leads, row.lead_mm, row.resin_mm) == (2, 0.5, 1.5)


@pytest.mark.parametrize(
    ("colour", "low", "high"),
    # forward voltage ranges of a public resistor table, at 20 mA
    [
        ("red", 1.8, 2.2), ("orange", 1.9, 2.2), ("yellow", 2.0, 2.3),
        ("green", 2.8, 3.4), ("blue", 2.8, 3.4), ("white", 2.8, 3.4),
    ],
)  # fmt: skip
def test_forward_voltages_are_those_of_the_colour(colour, low, high):
    """Every bare lamp of a colour carries the range of its colour, its middle within it."""
    bare = [row for row in LAMPS if row.colour == colour and row.shape in {"round", "chip"}]
    assert bare
    for row in bare:
        assert (row.forward_low_v, row.forward_high_v) == (low, high)
        assert low <= row.forward_v <= high


def test_lamps_are_whole():
    """Every lamp has a size, a beam, some light and a caution that leaves the last word to local rules."""
    for row in LAMPS:
        row.refuse_if_unfinished()
        assert 0.0 < row.half_angle_deg < 90.0
        assert row.intensity_cd > 0.0
        assert row.current_ma <= row.current_max_ma
        assert (row.flat_mm > 0.0) == (row.flange_mm > 0.0) == (row.shape == "round")
        assert row.flat_mm < row.flange_mm / 2.0 or row.shape != "round"
    for row in TABLES.leds.rows:
        assert "do not stare" in row.caution
        assert "IEC 62471" in row.caution
        assert "local rules" in row.caution
        assert "memory" in row.source


def test_a_strip_is_a_section_of_lamps():
    """A strip is cut in sections whose lamps stand at the pitch."""
    strip = TABLES.leds.get("strip 8 mm white 12 V")
    assert strip.lamps * strip.pitch_mm == pytest.approx(strip.length_mm, abs=0.5)


def test_a_module_without_a_size_is_refused(tmp_path):
    """A ready-made tea light has no size until the shop gives one."""
    with pytest.raises(UnfinishedRow, match="no size") as caught:
        TABLES.leds.get("tea light module")
    assert "shop/leds.csv" in caught.value.fix
    text = "name,diameter_mm,height_mm,mass_g\ntea light module,37,40,18\n"
    (tmp_path / "leds.csv").write_text(text, encoding="utf-8")
    assert Tables.load(tmp_path).leds.get("tea light module").diameter_mm == 37.0


def test_cells_resist():
    """Every cell has a resistance of its own, coin cells far more than rods."""
    ohms = {row.name: row.internal_ohm for row in TABLES.cells.rows}
    assert min(ohms.values()) > 0.0
    assert 10.0 <= ohms["CR2032"] <= 15.0
    assert ohms["AA"] < ohms["AAA"] < 1.0 < ohms["LR44"]


def test_readings_fall_with_thickness():
    """In the shipped readings a thicker wall of one material never passes more, and each is a share."""
    for material in dict.fromkeys(row.material for row in TABLES.transmission.rows):
        rows = [row for row in TABLES.transmission.rows if row.material == material]
        assert [row.thickness_mm for row in rows] == sorted(row.thickness_mm for row in rows)
        shares = [row.share for row in rows]
        assert shares == sorted(shares, reverse=True)
        assert 0.0 < shares[-1] < shares[0] < 1.0
        assert TABLES.materials.get(material).name == material
