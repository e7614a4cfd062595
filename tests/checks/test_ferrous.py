"""`ferrous`: iron keeps off the magnets."""

from __future__ import annotations

import pytest

from fixtures.benches import bench_of
from fixtures.drawn import box, flush_pair
from prep.checks.ferrous import Ferrous
from prep.contract import Item, Ledger
from prep.geometry.solid import Solid
from prep.steps.seat_magnets import SeatMagnets


def thing(name: str, kind: str, x: float, radius: float = 3.0, **more) -> Item:
    """An item on the x axis; magnets are ferrous too."""
    words = {
        "step": name,
        "at_mm": (x, 0, 0),
        "part": "part",
        "axis": (0, 0, 1.0),
        "mass_g": 1.0,
        "ferrous": True,
        "length_mm": 2.0,
    }
    return Item(id=name, item=name, kind=kind, radius_mm=radius, **words | more)


def found(*items: Item, check: Ferrous | None = None):
    """Findings with these items on the bench."""
    return (check or Ferrous()).examine(bench_of(ledger=Ledger(items=items), part=Solid.of(*box())))


M1 = thing("M1", "magnet", 0.0)


def test_iron_too_near_fails() -> None:
    """Shot whose edge is 9 mm from a 6 mm disc is nearer than two diameters: both are named."""
    (finding,) = found(M1, thing("shot", "ballast", 14.0, 5.0))
    assert finding.verdict == "fail"
    assert (finding.value, finding.limit) == pytest.approx((9.0, 12.0))
    assert "shot" in finding.says
    assert "M1" in finding.says
    assert finding.made_by == "shot"


def test_iron_far_enough_passes() -> None:
    """At two diameters it passes, with the nearest pair named."""
    (finding,) = found(M1, thing("shot", "ballast", 17.0, 5.0), thing("slug", "ballast", 60.0))
    assert finding.verdict == "pass"
    assert finding.value == pytest.approx(12.0)
    assert "shot" in finding.says


def test_the_nearest_comes_first() -> None:
    """Several pieces too near are told nearest first; the wanted distance can be set."""
    findings = found(M1, thing("far", "ballast", 12.0), thing("near", "ballast", 8.0))
    assert [f.made_by for f in findings] == ["near", "far"]
    assert [f.verdict for f in found(M1, thing("far", "ballast", 12.0), check=Ferrous(diameters=1.0))] == ["pass"]


def test_what_is_not_iron_does_not_count() -> None:
    """Lead beside a magnet, magnets beside magnets, and iron without magnets say nothing."""
    assert found(M1, thing("lead", "ballast", 6.0, ferrous=False)) == ()
    assert found(M1, thing("M2", "magnet", 8.0)) == ()
    assert found(thing("shot", "ballast", 5.0)) == ()


def test_the_steel_a_magnet_is_meant_to_pull_does_not_count() -> None:
    """Steel that the same step set opposite on the magnet's axis is its partner; off the axis it is in the way."""
    partner = thing("W3", "other", 0.0, step="M1", at_mm=(0.0, 0.0, 2.5))
    assert found(M1, partner) == ()
    (finding,) = found(M1, partner.model_copy(update={"at_mm": (4.0, 0.0, 2.5)}))
    assert finding.verdict == "fail"


@pytest.mark.parametrize("count", [1, 2])
def test_the_steps_own_steel_partners_pass(count) -> None:
    """Seats with steel opposite, as the step makes them, bring nothing of their own too near but other pairs' steel."""
    pair = flush_pair((44.0, 14.0), (6.0, 7.0))
    bench = bench_of(a=Solid.of(*pair[0]), b=Solid.of(*pair[1]))
    words = {"step": "seat_magnets", "between": ["a", "b"], "magnet": "disc 6x2 N42", "count": count}
    outcome = SeatMagnets.model_validate(words | {"opposite": "steel"}).apply(bench)
    assert [f.verdict for f in Ferrous().examine(bench.after(outcome)) if f.verdict != "pass"] == []
