"""The check for thin free-standing pins."""

from __future__ import annotations

import pytest

from prep.checks import all_checks
from prep.checks.pin import PinThin
from prep.geometry.solid import unite
from tests.checks.on_bench import bench
from tests.geometry.walled import box, rod, solid


def test_it_is_found_by_its_word() -> None:
    """The check is on the list under its own word."""
    assert all_checks()["pin"] is PinThin


def test_thin_pin_in_the_input_is_a_warning() -> None:
    """A pin of 1 mm that stands 7 mm tall is a warning in a process that asks 1.5 mm."""
    (finding,) = PinThin().examine(bench(solid(box(20, 20, 4) + rod(8, 0.5, 64).translate([4, 3, 5]))))
    assert (finding.verdict, finding.made_by, finding.limit) == ("warn", "input", 1.5)
    assert finding.value == pytest.approx(1.0, rel=0.03)
    assert finding.at_mm is not None
    assert finding.at_mm[:2] == pytest.approx((4.0, 3.0), abs=0.1)
    assert "tall" in finding.says


def test_pin_a_step_made_fails() -> None:
    """The same pin added by a step fails."""
    original = solid(box(20, 20, 4))
    (finding,) = PinThin().examine(bench(unite([original, solid(rod(8, 0.5, 64).translate([4, 3, 5]))]), original))
    assert (finding.verdict, finding.made_by) == ("fail", "a step")


def test_stout_or_short_pins_pass() -> None:
    """A pin at the limit, and one no taller than it is thick, pass."""
    stout = box(20, 20, 4) + rod(8, 0.8, 64).translate([4, 3, 5]) + rod(2, 0.5, 64).translate([-4, 3, 2])
    (finding,) = PinThin().examine(bench(solid(stout)))
    assert (finding.verdict, finding.limit) == ("pass", 1.5)


def test_slenderness_can_be_set() -> None:
    """A stricter person counts a pin from its own thickness in height."""
    short = bench(solid(box(20, 20, 4) + rod(4, 0.5, 64).translate([4, 3, 2.5])))
    assert PinThin().examine(short)[0].verdict == "warn"
    assert PinThin(slender=4.0).examine(short)[0].verdict == "pass"
