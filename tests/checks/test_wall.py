"""The check for thin walls."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
import trimesh

from prep.checks import all_checks
from prep.checks.wall import Wall
from prep.contract import Ledger, Window, worst
from prep.geometry.solid import Solid, subtract
from tests.checks.on_bench import bench, magnet
from tests.geometry.walled import ball, box, solid, wedge, without


def test_it_is_found_by_its_word() -> None:
    """The check is on the list under its own word."""
    assert all_checks()["wall"] is Wall


def test_thick_part_passes_with_its_thinnest_wall() -> None:
    """A clean plate passes; the finding names its thickness, a place on it and what was surely seen."""
    (finding,) = Wall().examine(bench(solid(box(30, 20, 2))))
    assert (finding.verdict, finding.value, finding.limit, finding.unit) == ("pass", pytest.approx(2.0), 0.8, "mm")
    assert finding.at_mm is not None
    assert abs(finding.at_mm[2]) == pytest.approx(1.0)
    assert "would have been seen" in finding.says


def test_thin_wall_of_the_input_is_a_warning() -> None:
    """A skin that came with the mesh is a warning with place, number, limit and action."""
    body = solid(without(box(30, 20, 6), box(4, 4, 6).translate([-8, 0, -0.5])))
    (finding,) = Wall().examine(bench(body))
    assert (finding.verdict, finding.made_by) == ("warn", "input")
    assert finding.value == pytest.approx(0.5)
    assert finding.says.startswith("skin over a pocket 0.50 mm thick")
    assert "0.30 mm" in finding.fix


def test_thin_wall_a_step_made_fails_and_names_it() -> None:
    """A skin that a step's cut left fails, before the input's, and the step nearest to it is named."""
    original = solid(without(box(30, 20, 6), box(4, 4, 6).translate([-8, 0, -0.4])))
    cut = subtract(original, [solid(box(4, 4, 6).translate([8, 0, -0.5]))])
    items = (magnet("back magnets", (8, 0, 1)), magnet("front magnets", (-8, 0, 1)))
    made, given = Wall().examine(bench(cut, original, items))
    assert (made.verdict, made.made_by, made.value) == ("fail", "back magnets", pytest.approx(0.5))
    assert (given.verdict, given.made_by, given.value) == ("warn", "input", pytest.approx(0.4))
    assert "back magnets" in made.fix
    assert worst((made, given)) == "fail"


def test_thin_wall_no_ledger_entry_explains_is_still_a_step() -> None:
    """A new thin wall with nothing of the ledger near it fails all the same."""
    original = solid(box(30, 20, 6))
    cut = subtract(original, [solid(box(4, 4, 6).translate([8, 0, -0.5]))])
    (finding,) = Wall().examine(bench(cut, original))
    assert (finding.verdict, finding.made_by) == ("fail", "a step")


def test_knife_edge_is_told_beside_the_pass() -> None:
    """A wedge passes as a wall and is warned of as an edge with its angle."""
    passed, edge = Wall().examine(bench(solid(wedge(20))))
    assert passed.verdict == "pass"
    assert (edge.verdict, edge.unit, edge.value) == ("warn", "deg", pytest.approx(20.0, abs=1.0))
    assert "10.00 mm long" in edge.says


def test_limit_can_be_set() -> None:
    """A limit given as text is used instead of the process's; walls within 2 % of it pass."""
    plate = bench(solid(box(30, 20, 2)))
    assert Wall(limit="3 mm").examine(plate)[0].verdict == "warn"
    assert Wall(limit="2.03 mm").examine(plate)[0].verdict == "pass"
    with pytest.raises(ValueError, match="greater than 0"):
        Wall(limit="0 mm")


def test_findings_are_a_handful() -> None:
    """A part with many thin places gives a few findings and the count of the rest."""
    pockets = [box(2, 2, 6).translate([x, y, -0.4]) for x in range(-12, 13, 6) for y in (-6, 0, 6)]
    findings = Wall().examine(bench(solid(without(box(34, 22, 6), *pockets))))
    assert len(findings) == 4
    assert "11 more like it" in findings[-1].says


def test_solid_ball_is_one_wall() -> None:
    """A solid ball's thinnest wall is its diameter."""
    (finding,) = Wall().examine(bench(solid(ball(10))))
    assert finding.value == pytest.approx(20.0, rel=0.01)


# looked at in section at the place named: the neck of the bowl's rim, the wall beside the knob's D-shaft hole, the
# snap groove of the dongle's lid, the counterbores of the block 1/32 inch from its side
SEEN = {
    "bowl-hemisphere": ("pass", 0.804),
    "knob-far-from-origin": ("pass", 1.5),
    "pair2-dongle-bottom": ("pass", 0.998),
    "pair2-dongle-top": ("warn", 0.7),
    "pair3-foot-bottom": ("pass", 1.0),
    "pair4-lightbox-frame": ("pass", 1.484),
    "pair1-case-a": ("warn", 0.445),
}


@pytest.mark.parametrize("name", SEEN)
def test_real_meshes_get_the_verdict_a_person_agrees_with(name: str, shared_meshes: Path) -> None:
    """On real exports the check names the place that a section through it shows to be thinnest."""
    mesh = trimesh.load(shared_meshes / f"{name}.stl")
    finding = Wall().examine(bench(Solid.of(mesh.vertices, mesh.faces)))[0]
    verdict, value = SEEN[name]
    assert finding.verdict == verdict
    assert finding.value == pytest.approx(value, abs=2e-3)


def lit_box(skin: float, asked: float):
    """A block with a chamber that leaves a skin, and the window that asks for one."""
    original = solid(box(30, 20, 6))
    cut = subtract(original, [solid(box(8, 8, 8).translate([0, 0, -1.0 - skin]))])
    window = Window(
        id="window L1",
        step="lamp",
        part="body",
        at_mm=(0, 0, 3),
        out=(0, 0, 1),
        across=(1, 0, 0),
        shape="slot",
        half_mm=(4, 4),
        wall_mm=asked,
        transmits=0.4,
        depth_mm=0.1,
    )
    laid = bench(cut, original, limit=1.2)
    return replace(laid, ledger=Ledger(windows=(window,)))


@pytest.mark.parametrize(("skin", "verdict"), [(1.0, "pass"), (0.6, "warn")])
def test_a_light_wall_is_thin_on_purpose(skin, verdict) -> None:
    """A window's wall is held to what the process prints at all, not to the recipe's tighter wish."""
    found = [one for one in Wall().examine(lit_box(skin, skin)) if "light wall" in one.says]
    assert [one.verdict for one in found] == [verdict]
    assert found[0].limit == 0.8
    assert found[0].value == pytest.approx(skin)


def test_a_light_wall_thinner_than_asked_fails() -> None:
    """Where less is left than the window asks for, it is a thin wall like any other."""
    found = Wall().examine(lit_box(0.7, 1.0))
    assert found[0].verdict == "fail"
    assert "light wall" not in found[0].says
