"""The check for thin webs between features."""

from __future__ import annotations

import pytest

from prep.checks import all_checks
from prep.checks.web import Web
from prep.geometry.solid import subtract
from tests.checks.on_bench import bench, magnet
from tests.geometry.walled import box, rod, solid, without


def test_it_is_found_by_its_word() -> None:
    """The check is on the list under its own word."""
    assert all_checks()["web"] is Web


def test_part_without_webs_passes() -> None:
    """A plate with one hole, and a thin skin over a pocket, have no thin web."""
    body = without(box(30, 20, 6), rod(9, 2), box(4, 4, 6).translate([-8, 0, -0.5]))
    (finding,) = Web().examine(bench(solid(body)))
    assert (finding.verdict, finding.check, finding.limit) == ("pass", "web", 0.8)


@pytest.mark.parametrize("gap", [0.2, 0.5])
def test_web_between_hole_and_slot_is_found(gap: float) -> None:
    """The web between a hole and a slot is a warning where it came with the mesh."""
    body = without(box(30, 20, 4), rod(9, 2, 64).translate([-2 - gap, 0, 0]), box(2, 6, 9).translate([1, 0, 0]))
    (finding,) = Web().examine(bench(solid(body)))
    assert (finding.verdict, finding.made_by) == ("warn", "input")
    assert finding.value == pytest.approx(gap, rel=1e-6)
    assert finding.at_mm is not None
    assert abs(finding.at_mm[1]) < 0.3
    assert "between two features" in finding.says


def test_web_a_step_left_fails_and_names_it() -> None:
    """Two seats cut too near each other fail, and the step is named."""
    original = solid(box(30, 20, 4))
    seats = [solid(rod(3, 3.1, 64).translate([x, 0, 2])) for x in (-3.3, 3.3)]
    found = Web().examine(bench(subtract(original, seats), original, (magnet("back magnets", (3.3, 0, 1)),)))
    assert [(f.verdict, f.made_by) for f in found] == [("fail", "back magnets")]
    assert found[0].value == pytest.approx(0.4, abs=1e-3)
    assert "back magnets" in found[0].fix


def test_limit_can_be_set() -> None:
    """A tighter limit finds a web that the process allows."""
    body = bench(
        solid(without(box(30, 20, 4), box(4, 4, 9).translate([-2.5, 0, 0]), box(4, 4, 9).translate([2.5, 0, 0])))
    )
    assert Web().examine(body)[0].verdict == "pass"
    assert Web(limit="1.5 mm").examine(body)[0].verdict == "warn"
