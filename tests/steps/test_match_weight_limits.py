"""`match_weight` where the target cannot be had: the nearest, and what stops it, in numbers."""

from __future__ import annotations

import pytest

from fixtures.benches import bench_of
from fixtures.drawn import box
from prep.build.verify import hold_to
from prep.contract import weigh
from prep.errors import NoSuchPlace, TargetOutOfReach, UnfinishedRow, UnknownRow
from prep.geometry.solid import Solid
from tests.steps.ballast_box import BOX, resin, step, verdicts


def test_a_model_that_is_right_is_left_as_it_is():
    """Nothing is cut where mass and balance are what they should be."""
    bench = resin(bench_of("jetting-0.027", body=Solid.of(*box(BOX))))
    outcome = step(target="283 g", balance={"x": "0 mm"}).apply(bench)
    hold_to(bench, outcome)
    assert outcome.solids["body"].sha256 == bench.parts["body"].solid.sha256
    assert verdicts(outcome) == {"weight": "pass", "balance": "pass"}


def test_too_heavy_a_target_gets_the_most_there_is_and_the_limit():
    """Nearest mass, the room the walls leave, and the ballast, in the finding and in the target's record."""
    bench = resin(bench_of("jetting-0.027", body=Solid.of(*box((50.0, 40.0, 20.0)))))
    outcome = step(target="900 g", fill=["steel shot 2 mm"]).apply(bench)
    hold_to(bench, outcome)
    (finding,) = outcome.findings
    assert finding.verdict == "fail"
    assert finding.value == outcome.facts["mass_g"] > 2.0 * weigh(bench).mass_g
    assert f"{finding.value:.2f} g at most with steel shot 2 mm" in finding.says
    assert "cm3" in finding.says
    assert finding.fix
    assert outcome.facts["target"]["says"]


def test_without_ballast_nothing_gets_heavier():
    """`fill: []` and a heavier target: says to allow ballast."""
    bench = resin(bench_of("jetting-0.027", body=Solid.of(*box(BOX))))
    (finding,) = step(target="300 g").apply(bench).findings
    assert finding.verdict == "fail"
    assert "283.20 g" in finding.says
    assert "steel shot" in finding.fix


def test_a_balance_out_of_reach_says_where_it_stops():
    """The mass is met; the balance comes as far as room and ballast allow."""
    bench = resin(bench_of("jetting-0.027", body=Solid.of(*box(BOX))))
    outcome = step(target="290 g", fill=["steel shot 2 mm"], balance={"x": "30 mm ± 1 mm"}, pockets=2).apply(bench)
    assert verdicts(outcome) == {"weight": "pass", "balance": "fail"}
    finding = next(one for one in outcome.findings if one.check == "balance")
    assert "balance x stops at" in finding.says
    assert finding.value == pytest.approx(outcome.facts["centre_mm"][0])
    assert 2.0 < finding.value < 29.0
    assert finding.fix


def test_no_room_at_all_is_refused_with_numbers():
    """A plate of two walls takes no pocket: the fault names the wall and the room."""
    bench = bench_of("jetting-0.027", body=Solid.of(*box((40.0, 40.0, 2.0))))
    with pytest.raises(TargetOutOfReach) as fault:
        step(target="1 g").apply(bench)
    assert "0.80 mm" in fault.value.found
    assert "wanted" in fault.value.found
    assert fault.value.fix


def test_ballast_that_is_not_known_is_refused():
    """A row that does not exist, and a putty of unknown density."""
    bench = bench_of("jetting-0.027", body=Solid.of(*box(BOX)))
    with pytest.raises(UnknownRow):
        step(target="400 g", fill=["steel shop 2 mm"]).apply(bench)
    with pytest.raises(UnfinishedRow):
        step(target="400 g", fill=["tungsten putty"]).apply(bench)


def test_a_seam_of_other_parts_is_refused():
    """The pockets' part must be one of the two."""
    boxes = {name: Solid.of(*box((20.0, 20.0, 10.0), (0.0, 0.0, z))) for name, z in (("body", 0), ("a", 10), ("b", 20))}
    with pytest.raises(NoSuchPlace):
        step(target="5 g", open={"seam": ["a", "b"]}).apply(bench_of("jetting-0.027", **boxes))
    with pytest.raises(NoSuchPlace):
        step(target="5 g", open={"seam": ["body", "lid"]}).apply(bench_of("jetting-0.027", **boxes))
