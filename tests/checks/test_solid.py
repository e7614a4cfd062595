"""`solid`: one clean body, and whose fault it is where it is not."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fixtures.benches import bench_of
from fixtures.drawn import box, joined, moved, overlapping_boxes, torus
from prep.checks.solid import SolidBody
from prep.geometry.solid import Solid, subtract

BLOCK = Solid.of(*box((40.0, 30.0, 20.0)))


def found(now: Solid, was: Solid | None = None, check: SolidBody | None = None):
    """Findings of a part that was read as `was` and is now `now`."""
    bench = bench_of(part=now)
    bench = replace(bench, parts={"part": replace(bench.parts["part"], original=was or now)})
    return (check or SolidBody()).examine(bench)


@pytest.mark.parametrize("drawn", [box(), torus()])
def test_a_clean_body_passes(drawn) -> None:
    """One closed body passes, with its volume and genus."""
    one = Solid.of(*drawn)
    (finding,) = found(one)
    assert finding.verdict == "pass"
    assert f"{one.volume_mm3:.2f} mm³, genus {one.topology.genus}" in finding.says


def test_loose_bodies_of_the_input_are_a_warning() -> None:
    """Two bodies that came so are the input's, with how many and where the smallest is."""
    (finding,) = found(Solid.of(*joined(box((40.0, 30.0, 20.0)), box((4.0, 4.0, 4.0), (50.0, 0.0, 0.0)))))
    assert (finding.verdict, finding.made_by) == ("warn", "input")
    assert (finding.value, finding.limit, finding.unit) == (2.0, 1.0, "bodies")
    assert finding.at_mm == pytest.approx((50.0, 0.0, 0.0), abs=1.5)
    assert "64.00 mm³" in finding.says
    assert "parts of their own" in finding.fix


def test_a_step_that_cuts_a_part_in_two_fails() -> None:
    """Bodies that were one before are a step's doing."""
    halves = subtract(BLOCK, [Solid.of(*box((2.0, 50.0, 50.0), (10.0, 0.0, 0.0)))])
    (finding,) = found(halves, BLOCK)
    assert (finding.verdict, finding.made_by) == ("fail", "a step")
    assert finding.at_mm[0] == pytest.approx(15.5, abs=1.0)


def test_a_speck_is_called_one() -> None:
    """A body under a thousandth of the part is a speck to delete; the share can be set."""
    drawn = joined(box((40.0, 30.0, 20.0)), box((1.0, 1.0, 1.0), (50.0, 0.0, 0.0)))
    (speck,) = found(Solid.of(*drawn))
    assert "a speck" in speck.says
    assert "delete" in speck.fix
    (body,) = found(Solid.of(*drawn), check=SolidBody(speck=1e-6))
    assert "a speck" not in body.says


def test_a_sealed_void_is_not_a_body() -> None:
    """A hollow part is still one body."""
    hollow = subtract(BLOCK, [Solid.of(*box((4.0, 4.0, 4.0)))])
    assert [f.verdict for f in found(hollow)] == ["pass"]


def test_a_surface_through_itself() -> None:
    """Crossing bodies of the input are a warning with how many and where; made by a step they fail."""
    crossing = Solid.of(*overlapping_boxes())
    old = found(crossing)
    crossed = next(f for f in old if f.unit == "crossings")
    assert (crossed.verdict, crossed.made_by) == ("warn", "input")
    assert crossed.value > 0
    assert all(-5.0 <= low <= 11.0 for low in crossed.at_mm)
    new = next(f for f in found(crossing, Solid.of(*moved(box(), (0.0, 0.0, 0.0)))) if f.unit == "crossings")
    assert (new.verdict, new.made_by) == ("fail", "a step")
    assert new.fix != crossed.fix


def test_each_part_is_looked_at() -> None:
    """Every part on the bench gets a finding."""
    findings = SolidBody().examine(bench_of(one=BLOCK, two=Solid.of(*torus())))
    assert [f.part for f in findings] == ["one", "two"]
