"""The check that tells of ceilings inside pockets."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fixtures.benches import bench_of
from prep.checks import all_checks
from prep.checks.overhang import Overhang
from tests.geometry.walled import box, solid, without


def room() -> object:
    """A block with a closed room of 30 x 16 x 12."""
    return solid(without(box(40, 30, 20), box(30, 16, 12)))


def test_it_is_found_by_its_word() -> None:
    """The check is on the list under its own word."""
    assert all_checks()["overhang"] is Overhang


def test_ceiling_is_information_and_never_fails() -> None:
    """A ceiling 16 mm across is told with place, area and headroom, and passes."""
    (finding,) = Overhang().examine(bench_of(body=room()))
    assert (finding.verdict, finding.limit) == ("pass", 10.0)
    assert finding.value == pytest.approx(16.0, rel=0.02)
    assert finding.at_mm is not None
    assert finding.at_mm[2] == pytest.approx(6.0, abs=0.01)
    assert "480 mm²" in finding.says


def test_bridge_can_be_set() -> None:
    """A machine that bridges 20 mm needs no support there."""
    (finding,) = Overhang(bridge="20 mm").examine(bench_of(body=room()))
    assert "no ceiling" in finding.says


def test_powder_holds_everything() -> None:
    """In a powder bed nothing is asked."""
    (finding,) = Overhang().examine(bench_of("powder-0.1", body=room()))
    assert "powder" in finding.says


def test_build_direction_is_the_parts_own() -> None:
    """Lying on its side, the room's ceiling is another face."""
    bench = bench_of(body=room())
    lying = replace(bench, parts={"body": replace(bench.parts["body"], up=(0.0, 1.0, 0.0))})
    (finding,) = Overhang().examine(lying)
    assert finding.at_mm is not None
    assert finding.at_mm[1] == pytest.approx(8.0, abs=0.01)
    assert finding.value == pytest.approx(12.0, rel=0.02)
