"""The picture of what glows."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fixtures.lit_shells import block, light_box
from prep.contract.lit import Glow, glowing
from prep.report.glow_map import LIT_INSIDE, TINTS, UNLIT, draw_glow, glow_tints
from prep.report.palette import linear
from prep.report.plan import plan
from tests.checks.lit_bench import lit_bench

WALL = 4.0


@pytest.fixture(scope="module")
def glow() -> Glow:
    """A black box with a thin spot on the side of its cover."""
    pocket = block(8.0, 5.0, 5.0).translate([15.5 + WALL - 4.0, 0.0, 8.0])
    return glowing(lit_bench(light_box(WALL, plants=(pocket,))))


def tint_at(glow: Glow, start: tuple[float, float, float], way: tuple[float, float, float]) -> np.ndarray:
    """The tint of the skin that a ray meets."""
    hit = glow.light.field.scene.cast(np.array([start]), np.array([way])).triangle[0]
    return glow_tints(glow)[hit]


def test_tints_tell_dark_leak_window_and_inside_apart(glow: Glow) -> None:
    """A dark wall has the darkest tint, a leak one above the limit, the window the brightest, the inside its own."""
    assert tint_at(glow, (0.0, 99.0, 8.0), (0.0, -1.0, 0.0)) == pytest.approx(linear(UNLIT))
    assert tint_at(glow, (3.0, 3.0, 99.0), (0.0, 0.0, -1.0)) == pytest.approx(linear(TINTS[-1]), abs=0.15)
    assert tint_at(glow, (0.0, 0.0, 5.0), (0.0, 1.0, 0.0)) == pytest.approx(linear(LIT_INSIDE))
    leak = tint_at(glow, (99.0, 0.0, 8.0), (-1.0, 0.0, 0.0))
    low, high = linear(TINTS[2]), linear(TINTS[-1])
    assert (leak >= np.minimum(low, high) - 1e-6).all()
    assert (leak <= np.maximum(low, high) + 1e-6).all()


def test_picture_is_written_the_same_twice(glow: Glow, tmp_path) -> None:
    """One sheet with both views, key and list; the same bytes again."""
    first, again = (draw_glow(glow, tmp_path / name, title="what glows") for name in ("a.png", "b.png"))
    assert first.read_bytes() == again.read_bytes()
    assert first.read_bytes().startswith(b"\x89PNG")


def test_many_leaks_are_listed_up_to_a_dozen(glow: Glow, tmp_path) -> None:
    """Beyond a dozen leaks the list says how many more; without any it says that."""
    many = replace(glow, shown=replace(glow.shown, leaks=glow.shown.leaks * 15))
    none = replace(glow, shown=replace(glow.shown, leaks=()))
    sheets = [
        draw_glow(each, tmp_path / f"{k}.png", title="t").read_bytes() for k, each in enumerate((many, none, glow))
    ]
    assert len(set(sheets)) == 3


def test_report_plans_it_where_there_are_lamps(built, glow: Glow) -> None:
    """A build with lamps gets the picture of what glows; one without has none."""
    assert "glow" not in [planned.entry.kind for planned in plan(built)]
    lit = replace(built, glow=lambda: glow)
    entries = [planned.entry for planned in plan(lit) if planned.entry.kind == "glow"]
    assert [entry.parts for entry in entries] == [tuple(built.after)]
