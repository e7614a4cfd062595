"""The check for details that are lost."""

from __future__ import annotations

import pytest

from prep.checks import all_checks
from prep.checks.feature import Feature
from prep.geometry.solid import unite
from tests.checks.on_bench import bench
from tests.geometry.walled import box, solid


def ridge(width: float) -> object:
    """A plate with a ridge on it, lower than it is wide."""
    return box(20, 20, 4) + box(width, 10, 1.0).translate([2, 0, 1.7])


def test_it_is_found_by_its_word() -> None:
    """The check is on the list under its own word."""
    assert all_checks()["feature"] is Feature


def test_fine_ridge_is_a_warning_with_its_width() -> None:
    """A ridge 0.4 mm wide and 0.2 mm tall is lost in a process that draws 0.6 mm."""
    (finding,) = Feature().examine(bench(solid(ridge(0.4))))
    assert (finding.verdict, finding.made_by, finding.limit) == ("warn", "input", 0.6)
    assert finding.value == pytest.approx(0.4, rel=1e-6)


def test_broad_ridge_passes() -> None:
    """A ridge of 0.7 mm is drawn."""
    assert Feature().examine(bench(solid(ridge(0.7))))[0].verdict == "pass"


def test_detail_a_step_made_fails() -> None:
    """A ridge added by a step fails."""
    original = solid(box(20, 20, 4))
    added = unite([original, solid(box(0.4, 10, 1.0).translate([2, 0, 1.7]))])
    assert [f.verdict for f in Feature().examine(bench(added, original))] == ["fail"]


def test_limit_can_be_set() -> None:
    """A coarser limit finds what the process draws."""
    assert Feature(limit="1 mm").examine(bench(solid(ridge(0.7))))[0].verdict == "warn"


def test_plain_box_has_no_detail() -> None:
    """Sharp edges are no details."""
    assert Feature().examine(bench(solid(box(20, 20, 4))))[0].verdict == "pass"
