"""The check for light outside the windows."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from fixtures.benches import bench_of
from fixtures.lit_shells import block, light_box
from prep.checks import all_checks
from prep.checks.leak import Leak
from prep.contract import Film
from prep.geometry.solid import subtract, unite
from prep.physics.transmission import transmission_of
from tests.checks.lit_bench import lit_bench
from tests.geometry.walled import solid

WALL = 4.0


@pytest.fixture(autouse=True)
def few_cells(monkeypatch):
    """Cells coarse enough for boxes of 40 mm, so that tests are quick."""
    monkeypatch.setattr("prep.contract.lit.MOST_CELLS", 20_000)


def test_it_is_found_by_its_word() -> None:
    """The check is on the list under its own word."""
    assert all_checks()["leak"] is Leak


def test_nothing_glows_without_lamps() -> None:
    """A bench without lamps passes with one finding."""
    (finding,) = Leak().examine(bench_of(body=light_box().halves[0]))
    assert (finding.verdict, finding.part) == ("pass", None)
    assert "no lamps" in finding.says


def test_tight_thick_box_passes_part_by_part() -> None:
    """Every part gets a pass that says how small a glowing place would have been seen."""
    found = Leak().examine(lit_bench(light_box(WALL)))
    assert [(finding.verdict, finding.part) for finding in found] == [("pass", "body"), ("pass", "cover")]
    assert all("would have been seen" in finding.says for finding in found)


def test_thin_wall_is_named_and_the_thickness_it_asks_for_mends_it() -> None:
    """A spot of 0.5 mm is a warning with place and share of the window; as thick as the fix says it passes."""

    def found(left: float) -> tuple:
        pocket = block(8.0, 5.0, 5.0).translate([16.0 + WALL - left - 4.0, 0.0, 8.0])
        return Leak().examine(lit_bench(light_box(WALL, plants=(pocket,))))

    leak = next(finding for finding in found(0.5) if finding.verdict != "pass")
    assert (leak.verdict, leak.part, leak.unit, leak.made_by) == ("warn", "cover", "%", "house led")
    assert leak.value is not None
    assert leak.value > leak.limit == 2.0
    assert leak.at_mm is not None
    assert leak.at_mm[0] == pytest.approx(16.0 + WALL, abs=1e-6)
    assert "coat the inside of cover black" in leak.fix
    asked = float(re.search(r"make it ([\d.]+) mm", leak.fix)[1])  # type: ignore[index]
    curve = transmission_of(bench_of(body=light_box().halves[0]).tables, "pla black")
    assert curve.share(asked) * leak.value / curve.share(0.5) <= 2.0
    assert {finding.verdict for finding in found(asked + 0.05)} == {"pass"}


def test_shop_readings_make_it_a_failure() -> None:
    """By the shop's own step wedge a leak is a failure; by the default it is a warning that says so."""
    pocket = block(8.0, 5.0, 5.0).translate([15.5 + WALL - 4.0, 0.0, 8.0])
    bench = lit_bench(light_box(WALL, plants=(pocket,)))
    assert "unverified" in Leak().examine(bench)[0].says
    table = bench.tables.transmission
    own = replace(table, rows=tuple(replace(row, status="shop") for row in table.rows))
    leak = Leak().examine(replace(bench, tables=replace(bench.tables, transmission=own)))[1]
    assert leak.verdict == "fail"
    assert "unverified" not in leak.says


def test_open_seam_asks_for_a_tongue() -> None:
    """Halves 0.3 mm apart: the seam is named with its width, and a tongue with its height."""
    shell = light_box(WALL)
    lift = np.eye(4)
    lift[2, 3] = -0.3
    found = Leak().examine(lit_bench(replace(shell, halves=(shell.halves[0].moved(lift), shell.halves[1]))))
    (leak,) = [finding for finding in found if finding.verdict != "pass"]
    assert "a seam open by 0.30 mm" in leak.says
    assert "tongue or baffle 1.00 mm high" in leak.fix


def test_opening_is_named() -> None:
    """A hole of 8 mm in the cover is an opening."""
    hole = block(20.0, 8.0, 8.0).translate([20.0, 0.0, 8.0])
    (leak,) = [f for f in Leak().examine(lit_bench(light_box(WALL, plants=(hole,)))) if f.verdict != "pass"]
    assert "opening" in leak.says
    assert leak.part == "cover"


def test_black_coat_inside_mends_pale_walls() -> None:
    """A box of white plastic glows all over; with black inside both parts, the window left bare, it does not."""
    shell = light_box(2.5)
    assert {finding.verdict for finding in Leak().examine(lit_bench(shell, "pla white"))} == {"warn"}
    films = tuple(
        Film(step="s", part=part, region="the chamber of L1", coat="black enamel", thickness_mm=0.04, inside=True)
        for part in ("body", "cover")
    )
    found = Leak().examine(lit_bench(shell, "pla white", films))
    assert {finding.verdict for finding in found} == {"pass"}


def test_cover_off_is_looked_at_too() -> None:
    """A wall that its cover darkens from outside leaks with the cover off, and the words say so."""
    shell = light_box(WALL)
    shell = replace(shell, lamp=replace(shell.lamp, axis=(0.8, 0.0, 0.6)))
    thin = block(8.0, 6.0, 6.0).translate([15.7 + WALL - 4.0, 0.0, -8.0])
    body = subtract(shell.halves[0], [solid(thin)])
    plate = solid(block(4.0, 12.0, 40.0).translate([16.0 + WALL + 2.0, 0.0, 0.0]))
    cover = unite([shell.halves[1], plate])
    found = Leak().examine(lit_bench(replace(shell, halves=(body, cover))))
    (leak,) = [finding for finding in found if finding.verdict != "pass"]
    assert leak.says.startswith("with the covers off, ")
    assert leak.part == "body"


def test_lamp_without_a_window_has_nothing_to_compare_with() -> None:
    """A lamp whose light reaches no window is told, and leaks of it are not weighed."""
    bench = lit_bench(light_box(WALL))
    bench = replace(bench, ledger=bench.ledger.model_copy(update={"windows": ()}))
    found = Leak().examine(bench)
    assert "reaches no window" in found[0].says
    assert [finding.verdict for finding in found] == ["warn", "pass", "pass"]
