"""The check that open chambers can be emptied."""

from __future__ import annotations

import pytest

from fixtures.benches import bench_of
from prep.checks import all_checks
from prep.checks.escape import Escape
from prep.geometry.solid import Solid
from tests.geometry.walled import ball, box, rod, solid, without


def bottle(bore: float) -> Solid:
    """A ball of radius 10 with a chamber of radius 8, opened by a bore."""
    return solid(without(ball(10), ball(8), rod(20, bore / 2.0, 96).translate([0, 0, 10])))


def test_it_is_found_by_its_word() -> None:
    """The check is on the list under its own word."""
    assert all_checks()["escape"] is Escape


@pytest.mark.parametrize(
    ("process", "holds"), [("powder-0.1", "powder"), ("vat-0.05", "resin"), ("jetting-0.027", "support")]
)
def test_narrow_neck_fails_with_what_stays(process: str, holds: str) -> None:
    """A bottle with a neck of 2 mm keeps what the process leaves: its kind, volume and mass are told."""
    bench = bench_of(process, body=bottle(2.0))
    (finding,) = Escape().examine(bench)
    assert (finding.verdict, finding.made_by, finding.limit) == ("fail", "input", bench.process.escape_mm)
    assert finding.value == pytest.approx(2.0, abs=0.2)
    assert f"{holds} stays in it" in finding.says
    grams = 2144.66 * bench.process.void_density_g_cm3 / 1000.0
    said = float(finding.says.rpartition("up to ")[2].removesuffix(" g"))
    assert said == pytest.approx(grams, rel=0.05)


def test_wide_neck_passes() -> None:
    """A neck as wide as the process asks passes."""
    assert [f.verdict for f in Escape().examine(bench_of("powder-0.1", body=bottle(3.6)))] == ["pass"]


def test_extrusion_leaves_only_air() -> None:
    """Extrusion is told as information, without measuring."""
    (finding,) = Escape().examine(bench_of("extrusion-0.4", body=bottle(2.0)))
    assert (finding.verdict, finding.value) == ("pass", None)


def test_limit_can_be_set() -> None:
    """A shop with better blasting takes a smaller opening."""
    bench = bench_of("powder-0.1", body=bottle(2.5))
    assert Escape().examine(bench)[0].verdict == "fail"
    assert Escape(limit="2 mm").examine(bench)[0].verdict == "pass"


def test_solid_block_passes() -> None:
    """A block has no chamber."""
    assert Escape().examine(bench_of("vat-0.05", body=solid(box(20, 10, 5))))[0].verdict == "pass"
