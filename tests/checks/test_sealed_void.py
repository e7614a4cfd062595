"""`sealed_void`: trapped air, support, powder or resin."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fixtures.benches import bench_of
from fixtures.drawn import box, spherical_shell
from prep.checks.sealed_void import SealedVoid
from prep.contract import Ledger, Void
from prep.geometry.solid import Solid, subtract

BLOCK = Solid.of(*box((40.0, 30.0, 20.0)))
HOLLOW = subtract(BLOCK, [Solid.of(*box((10.0, 5.0, 4.0), (8.0, 0.0, 0.0)))])
TWICE = subtract(HOLLOW, [Solid.of(*box((4.0, 5.0, 4.0), (-8.0, 0.0, 0.0)))])


def found(now: Solid, was: Solid, process: str = "extrusion-0.4", *declared: Void):
    """Findings of a part that was read as `was`, with these voids declared."""
    bench = bench_of(process, ledger=Ledger(voids=declared), part=now)
    return SealedVoid().examine(replace(bench, parts={"part": replace(bench.parts["part"], original=was)}))


def void(*at: float, state: str = "sealed", part: str = "part") -> Void:
    """A void as a step declares it."""
    return Void(step="s", part=part, at_mm=at, volume_mm3=200.0, state=state)


def test_none_passes() -> None:
    """A part without voids passes."""
    (finding,) = found(BLOCK, BLOCK)
    assert finding.verdict == "pass"
    assert finding.made_by == ""


@pytest.mark.parametrize(
    ("process", "verdict", "holds"),
    [
        ("extrusion-0.4", "warn", "air"),
        ("jetting-0.027", "fail", "support, 0.22 g"),
        ("vat-0.05", "fail", "resin, 0.22 g"),
        ("powder-0.1", "fail", "powder, 0.10 g"),
    ],
)
def test_a_void_of_the_input(process, verdict, holds) -> None:
    """Volume, place, what it will hold and its mass, by process; only air does no harm."""
    (finding,) = found(HOLLOW, HOLLOW, process)
    assert (finding.verdict, finding.made_by) == (verdict, "input")
    assert finding.value == pytest.approx(200.0)
    assert finding.at_mm == pytest.approx((8.0, 0.0, 0.0), abs=1.0)
    assert f"it will hold {holds}" in finding.says
    assert finding.fix


def test_a_void_of_a_step_fails_even_with_air() -> None:
    """What was not there before is a step's, beside one that was."""
    new, old = sorted(found(TWICE, HOLLOW), key=lambda f: f.verdict)
    assert (new.verdict, new.made_by, old.verdict, old.made_by) == ("fail", "a step", "warn", "input")
    assert new.value == pytest.approx(80.0)
    assert new.at_mm == pytest.approx((-8.0, 0.0, 0.0), abs=1.0)


def test_a_declared_void_passes() -> None:
    """A void that a step declares sealed there passes; open, elsewhere or in another part it does not count."""
    (passed,) = found(HOLLOW, BLOCK, "vat-0.05", void(8.0, 0.0, -2.0))
    assert passed.verdict == "pass"
    assert "1 declared" in passed.says
    for other in (void(8.0, 0.0, 0.0, state="open"), void(-8.0, 0.0, 0.0), void(8.0, 0.0, 0.0, part="lid")):
        assert [f.verdict for f in found(HOLLOW, BLOCK, "vat-0.05", other)] == ["fail"]


def test_a_round_void() -> None:
    """A ball in a ball is found in its middle with its volume."""
    ball = Solid.of(*spherical_shell(10.0, 8.0, 3))
    (finding,) = found(ball, ball)
    assert finding.value == pytest.approx(4152.740817093 * 0.512)
    assert finding.at_mm == pytest.approx((0.0, 0.0, 0.0), abs=0.1)
