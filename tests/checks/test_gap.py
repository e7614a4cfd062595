"""The check for gaps that fuse."""

from __future__ import annotations

import pytest

from prep.checks import all_checks
from prep.checks.gap import Gap
from prep.geometry.solid import subtract
from tests.checks.on_bench import bench, magnet
from tests.geometry.walled import box, rod, solid, without


def test_it_is_found_by_its_word() -> None:
    """The check is on the list under its own word."""
    assert all_checks()["gap"] is Gap


def test_narrow_slot_in_the_input_is_a_warning() -> None:
    """A slot of 0.2 mm that came with the mesh is a warning with place, number, limit and action."""
    body = solid(without(box(20, 10, 8), box(0.2, 12, 10).translate([3, 0, 3])))
    (finding,) = Gap().examine(bench(body))
    assert (finding.verdict, finding.made_by, finding.limit) == ("warn", "input", 0.4)
    assert finding.value == pytest.approx(0.2, rel=1e-6)
    assert finding.at_mm is not None
    assert finding.at_mm[0] == pytest.approx(3.0, abs=0.11)
    assert "widen it by 0.20 mm" in finding.fix


def test_slot_a_step_cut_fails_and_names_it() -> None:
    """A pocket cut 0.25 mm beside a post leaves a gap that fails and names the step."""
    original = solid(box(30, 20, 6))
    ring = solid(without(rod(4, 4, 64), rod(5, 3.75, 64)).translate([5, 0, 3]))
    (finding,) = Gap().examine(bench(subtract(original, [ring]), original, (magnet("back magnets", (5, 0, 3)),)))
    assert (finding.verdict, finding.made_by) == ("fail", "back magnets")
    assert finding.value == pytest.approx(0.25, rel=0.02)


def test_open_part_passes_with_its_narrowest_gap() -> None:
    """A wide slot passes, and its width is told."""
    (finding,) = Gap().examine(bench(solid(without(box(20, 10, 8), box(2, 12, 10).translate([3, 0, 3])))))
    assert finding.verdict == "pass"
    assert finding.value == pytest.approx(2.0, rel=1e-6)


def test_limit_can_be_set() -> None:
    """A tighter limit finds a slot that the process keeps open."""
    body = bench(solid(without(box(20, 10, 8), box(0.5, 12, 10).translate([3, 0, 3]))))
    assert Gap().examine(body)[0].verdict == "pass"
    assert Gap(limit="0.6 mm").examine(body)[0].verdict == "warn"


def test_many_gaps_are_counted_and_not_all_listed() -> None:
    """Six slits give four findings, the last of which says how many there are more."""
    slits = [box(0.2, 12, 10).translate([-7.5 + 3 * k, 0, 3]) for k in range(6)]
    found = Gap().examine(bench(solid(without(box(20, 10, 8), *slits))))
    assert len(found) == 4
    assert "2 more like it" in found[-1].says
