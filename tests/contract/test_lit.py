"""Parts of a bench under their lamps."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fixtures.lit_shells import light_box
from prep.contract import Film, Item
from prep.contract.lit import DARK_REFLECTANCE, glowing, lit
from prep.errors import NoTransmission
from tests.checks.lit_bench import lit_bench


@pytest.fixture(autouse=True)
def few_cells(monkeypatch):
    """Cells coarse enough for boxes of 40 mm, so that tests are quick."""
    monkeypatch.setattr("prep.contract.lit.MOST_CELLS", 20_000)


def test_lamps_windows_and_parts_are_taken_from_the_bench() -> None:
    """Order, places, and which window shows which lamp; the beam's order from its half angle (60 degrees: 1)."""
    bench = lit_bench(light_box(4.0))
    found = lit(bench)
    assert found.names == ("body", "cover")
    assert found.field.sources[0].at_mm == bench.ledger.lamps[0].at_mm
    assert found.field.sources[0].order == pytest.approx(1.0, abs=1e-9)
    assert found.field.panes[0].lamps == (0,)
    assert found.window_glow[0] > 0.0
    assert not found.verified
    assert lit(bench).field is found.field
    assert glowing(bench).shown is glowing(bench).shown


def test_covers_off_leaves_the_part_and_its_lamps() -> None:
    """One part alone: no window of the other, and the lamp shines into the open."""
    found = lit(lit_bench(light_box(4.0)), parts=("body",))
    assert (found.names, found.windows) == (("body",), ())
    assert found.window_glow[0] == 0.0
    assert (found.field.air.triangle < 0).any()


def test_black_plastic_and_dark_coats_inside_send_little_back() -> None:
    """Black plastic is dark; a dark inner film darkens that alone; white, or one outside, does not."""
    shell = light_box(4.0)

    def film(coat: str, *, inside: bool) -> Film:
        return Film(step="s", part="body", region="inside band.stl", coat=coat, thickness_mm=0.04, inside=inside)

    def plastic(material: str, *films: Film):
        return lit(lit_bench(shell, material, films)).field.plastics[0]

    assert plastic("pla black").reflectance == DARK_REFLECTANCE
    assert plastic("pla white").coat_reflectance is None
    assert plastic("pla white", film("black enamel", inside=True)).coat_reflectance == DARK_REFLECTANCE
    assert plastic("pla white", film("white enamel", inside=True)).coat_reflectance is None
    assert plastic("pla white", film("black enamel", inside=False)).coat_reflectance is None


def test_body_of_a_lamp_plugs_its_bore() -> None:
    """The lamp's item tells how wide its body is."""
    bench = lit_bench(light_box(4.0))
    item = Item(
        id="L1", item="round 5 mm white", kind="led", step="house led", part="body", at_mm=(0, 0, 0), axis=(0, 0, 1),
        mass_g=0.3, radius_mm=2.5, length_mm=8.7,
    )  # fmt: skip
    bench = replace(bench, ledger=bench.ledger.model_copy(update={"items": (item,)}))
    assert lit(bench).field.sources[0].body_mm == 2.5


def test_unread_plastic_is_a_fault() -> None:
    """A material nobody has read the light of is refused with what to print."""
    bench = lit_bench(light_box(4.0))
    table = bench.tables.transmission
    none = replace(table, rows=tuple(row for row in table.rows if row.material != "pla black"))
    with pytest.raises(NoTransmission, match="pla black"):
        lit(replace(bench, tables=replace(bench.tables, transmission=none)))
    assert np.isfinite(lit(bench).window_glow).all()
