"""Where the gun stands, and what stays dry."""

from __future__ import annotations

from fixtures.benches import bench_of
from fixtures.drawn import box
from prep.contract.spraying import spraying
from prep.geometry.solid import Solid, subtract
from prep.places.region import find_region
from prep.places.region_wanted import RegionWanted


def of(solid: Solid, region: dict):
    """The spraying of a region of a part without a mask."""
    part = bench_of(part=solid).parts["part"]
    patch = find_region(part, RegionWanted.model_validate(region), {})
    return spraying("part", "orange top", patch, [solid])


def test_a_flat_top_takes_one_pass() -> None:
    """An open flat is reached whole from straight above, and the finding passes."""
    found = of(Solid.of(*box((30.0, 20.0, 10.0))), {"facing": "+z"})
    assert found.says == "from +z"
    assert [one.verdict for one in found.findings] == ["pass"]
    assert found.facts["stays_dry_cm2"] == 0.0


def test_what_no_pass_reaches_is_a_warning_with_its_place() -> None:
    """The walls of a deep narrow slot stay dry within the gun's angle; share, area and place are said."""
    slot = Solid.of(*box((1.0, 16.0, 18.0), (0.0, 0.0, 5.0)))
    part = subtract(Solid.of(*box((30.0, 20.0, 20.0))), [slot])
    found = of(part, {"all": [{"between": ["z -3 mm", "z 11 mm"]}, {"box": ["-5, -9, -3 mm", "5, 9, 11 mm"]}]})
    (warning,) = found.findings
    assert warning.verdict == "warn"
    assert warning.value > warning.limit
    assert "dry" in warning.says
    assert abs(warning.at_mm[0]) < 1.0
