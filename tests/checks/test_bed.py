"""`bed`: size in the build direction against the room there is."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fixtures.benches import bench_of
from fixtures.drawn import box, moved, turned
from prep.checks.bed import Bed
from prep.geometry.solid import Solid


def found(size, up=(0.0, 0.0, 1.0), process="vat-0.05", drawn=None):
    """The finding for a box; the bed of vat-0.05 has 200 x 120 x 200 mm."""
    bench = bench_of(process, part=Solid.of(*(drawn or box(size))))
    bench = replace(bench, parts={"part": replace(bench.parts["part"], up=up)})
    (finding,) = Bed().examine(bench)
    return finding


@pytest.mark.parametrize("size", [(200.0, 120.0, 200.0), (120.0, 200.0, 200.0), (10.0, 10.0, 10.0)])
def test_what_fits_passes(size) -> None:
    """Up to the bed's very size, laid either way."""
    assert found(size).verdict == "pass"


@pytest.mark.parametrize(
    ("size", "value", "limit", "over"),
    [
        ((201.0, 100.0, 50.0), 201.0, 200.0, "1.00 mm"),
        ((100.0, 205.0, 50.0), 205.0, 200.0, "5.00 mm"),
        ((130.0, 190.0, 50.0), 130.0, 120.0, "10.00 mm"),
        ((50.0, 50.0, 203.5), 203.5, 200.0, "3.50 mm"),
    ],
)
def test_what_does_not_is_told_by_how_much(size, value, limit, over) -> None:
    """The worst dimension is told with its limit and how far it is over."""
    finding = found(size)
    assert finding.verdict == "fail"
    assert (finding.value, finding.limit) == pytest.approx((value, limit))
    assert f"too large by {over}" in finding.says
    assert "up:" in finding.fix


def test_the_build_direction_counts() -> None:
    """Too long lying down, the part fits standing up where the machine is high enough."""
    assert found((250.0, 100.0, 50.0), process="extrusion-0.4").verdict == "fail"
    assert found((250.0, 100.0, 50.0), up=(1.0, 0.0, 0.0), process="extrusion-0.4").verdict == "pass"


def test_a_slanted_part_and_direction() -> None:
    """Turned with its build direction and moved a metre away, the height is the same."""
    drawn = moved(turned(box((50.0, 50.0, 203.5)), (1.0, 0.0, 0.0), -30.0), (1000.0, 0.0, 0.0))
    finding = found(None, up=(0.0, 0.5, 0.8660254037844386), drawn=drawn)
    assert finding.value == pytest.approx(203.5, abs=1e-6)
    assert finding.verdict == "fail"
