"""`magnet_spacing`: magnets of one part, whichever step set them."""

from __future__ import annotations

import pytest

from fixtures.benches import bench_of
from fixtures.drawn import box
from prep.checks.magnet_spacing import MagnetSpacing
from prep.contract import Item, Ledger
from prep.geometry.solid import Solid


def magnet(name: str, x: float, y: float = 0.0, radius: float = 3.0, part: str = "body", **more) -> Item:
    """A magnet in the plane, set by the step named like it."""
    words = {"item": "disc", "kind": "magnet", "axis": (0, 0, 1.0), "mass_g": 0.4, "length_mm": 2.0, "ferrous": True}
    return Item(id=name, step=f"set {name}", part=part, at_mm=(x, y, 0.0), radius_mm=radius, **words | more)


def found(*items: Item, check: MagnetSpacing | None = None, scale: float = 1.0):
    """Findings with these items on the bench."""
    moved = tuple(
        item.model_copy(update={"at_mm": tuple(scale * v for v in item.at_mm), "radius_mm": scale * item.radius_mm})
        for item in items
    )
    solid = Solid.of(*box())
    return (check or MagnetSpacing()).examine(bench_of(ledger=Ledger(items=moved), body=solid, lid=solid))


@pytest.mark.parametrize("scale", [1e-3, 1.0, 1e3])
def test_magnets_of_two_steps_too_near_warn(scale: float) -> None:
    """A 3-4-5 triangle scaled: 10 mm between discs of 6 mm is under 12 mm, with place and what to do."""
    (finding,) = found(magnet("M1", 0.0), magnet("M2", 6.0, 8.0), magnet("M3", 60.0), scale=scale)
    assert finding.verdict == "warn"
    assert (finding.value, finding.limit) == pytest.approx((10.0 * scale, 12.0 * scale))
    assert finding.at_mm == (0.0, 0.0, 0.0)
    assert finding.fix == "glue one at a time and let each cure"
    assert finding.made_by == "set M2"
    assert "M1 and M2" in finding.says


def test_two_diameters_are_enough() -> None:
    """At 12 mm it passes, with the nearest two; a stricter wish fails the same pair."""
    pair = magnet("M1", 0.0), magnet("M2", 12.0)
    (finding,) = found(*pair)
    assert (finding.verdict, finding.value, finding.fix) == ("pass", 12.0, "")
    assert found(*pair, check=MagnetSpacing(diameters=2.1))[0].verdict == "warn"


def test_the_larger_one_counts() -> None:
    """Beside a disc of 20 mm a small one stands 40 mm away, though smaller ones stand nearer by figures."""
    (finding,) = found(magnet("M1", 0.0, radius=10.0), magnet("M2", 30.0), magnet("M3", 43.0))
    assert (finding.verdict, finding.value, finding.limit) == ("warn", 30.0, 40.0)


def test_parts_are_told_apart() -> None:
    """Partners across a seam are meant to be near; one magnet alone, or other things, say nothing."""
    assert found(magnet("M1", 0.0), magnet("M2", 1.0, part="lid")) == ()
    assert found(magnet("M1", 0.0), magnet("P1", 1.0, kind="ballast")) == ()
    both = [magnet(f"M{k}", 20.0 * k, part=part) for k, part in enumerate(("body", "lid") * 2)]
    assert [finding.part for finding in found(*both)] == ["body", "lid"]
