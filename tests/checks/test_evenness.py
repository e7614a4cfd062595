"""The check for evenly lit windows."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from fixtures.benches import bench_of
from fixtures.lit_shells import WINDOW_RADIUS_MM, light_box
from prep.checks import all_checks
from prep.checks.evenness import Evenness
from tests.checks.lit_bench import lit_bench

TOP = 20.0
INNER = TOP - 0.8


@pytest.fixture(autouse=True)
def few_cells(monkeypatch):
    """Cells coarse enough for boxes of 40 mm, so that tests are quick."""
    monkeypatch.setattr("prep.contract.lit.MOST_CELLS", 20_000)


def near_lamp(behind: float, aside: float = 0.0):
    """A black box with its lamp so far behind the window's inner side, and aside of its middle."""
    shell = light_box(4.0)
    lamp = replace(shell.lamp, at_mm=(aside, 0.0, INNER - behind))
    return replace(shell, lamp=lamp)


def test_it_is_found_by_its_word() -> None:
    """The check is on the list under its own word."""
    assert all_checks()["evenness"] is Evenness


def test_no_window_passes() -> None:
    """A bench without lit windows passes with one finding."""
    (finding,) = Evenness().examine(bench_of(body=light_box().halves[0]))
    assert (finding.verdict, finding.says) == ("pass", "no lit windows")


def test_far_lamp_lights_evenly() -> None:
    """From 14 mm behind a window of 5 mm radius light is even to the cosine's fourth power; black sends little back."""
    (finding,) = Evenness(reflectance="0 %").examine(lit_bench(near_lamp(14.0)))
    assert finding.verdict == "pass"
    edge = WINDOW_RADIUS_MM - 5.0 / 41.0
    assert finding.value == pytest.approx((14.0**2 / (14.0**2 + edge**2)) ** 2, rel=0.02)


def test_near_lamp_is_a_dot_at_its_place_with_three_ways_out() -> None:
    """A lamp 4 mm behind the window, 2 mm aside: uneven, hot spot before it, and the depth that mends it."""
    (finding,) = Evenness().examine(lit_bench(near_lamp(4.0, 2.0)))
    assert finding.verdict == "warn"
    assert finding.value is not None
    assert finding.value < 0.5
    assert finding.at_mm == pytest.approx((2.0, 0.0, TOP), abs=0.4)
    assert "set the lamp" in finding.fix


def test_depth_asked_for_mends_it() -> None:
    """Set as deep as the fix says, the same lamp passes."""
    (finding,) = Evenness().examine(lit_bench(near_lamp(4.0)))
    deep = float(re.search(r"set the lamp ([\d.]+) mm", finding.fix)[1])  # type: ignore[index]
    assert finding.verdict == "warn"
    assert Evenness().examine(lit_bench(near_lamp(deep + 0.1)))[0].verdict == "pass"


def test_pale_walls_even_it() -> None:
    """Light sent back by white walls makes the same window more even than in black."""
    black, white = (Evenness().examine(lit_bench(near_lamp(5.0), each))[0].value for each in ("pla black", "pla white"))
    assert black is not None
    assert white is not None
    assert white > black


def test_dark_window_is_told() -> None:
    """A lamp that shines away from the window in a box that sends nothing back leaves it dark."""
    shell = near_lamp(10.0)
    shell = replace(shell, lamp=replace(shell.lamp, axis=(0.0, 0.0, -1.0)))
    (finding,) = Evenness(reflectance="0 %").examine(lit_bench(shell, "pla white"))
    assert finding.verdict == "warn"
    assert "no light reaches W1" in finding.says


def test_clear_insert_is_not_judged() -> None:
    """A window filled with a clear insert passes with a word why."""
    shell = light_box(4.0)
    bench = lit_bench(shell)
    window = bench.ledger.windows[0].model_copy(update={"wall_mm": 0.0})
    bench = replace(bench, ledger=bench.ledger.model_copy(update={"windows": (window,)}))
    (finding,) = Evenness().examine(bench)
    assert finding.verdict == "pass"
    assert "clear insert" in finding.says
    assert np.isfinite(finding.at_mm).all()
