"""`house_led`: what it refuses, with the numbers; wires and cells on the way."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import trimesh
from pydantic import ValidationError

from fixtures.benches import bench_of
from fixtures.drawn import box, bumpy_dome, frustum, hemisphere_bowl, joined, moved, tray, turned
from fixtures.gauges import distances, within
from prep.contract import Item, Ledger
from prep.errors import (
    BadValue,
    CannotInsert,
    CavityBreaksOut,
    DoesNotFit,
    NoWireRoute,
    PocketTooHot,
    SupplyTooLow,
)
from prep.geometry.solid import Solid
from prep.steps.house_led import HouseLed
from tests.steps.lit import WORDS, lit

TIMER = Path(__file__).resolve().parents[2] / "recipes" / "kitchen-timer" / "body.stl"
SLAB = box((40.0, 40.0, 24.0))
TOP = {"at": {"point": "0, 0, 12 mm"}, "led": "round 3 mm white", "standoff": "4 mm"}


def test_a_side_too_near_the_cavity_is_refused() -> None:
    """With its middle 2.4 mm from a slab's side, a recess of 2.15 mm leaves 0.25 of the 0.8 mm; the lack is named."""
    with pytest.raises(CavityBreaksOut, match="too near the window") as fault:
        lit(SLAB, TOP | {"at": {"point": "-17.6, 0, 12 mm"}})
    assert "2.4 mm from the middle to the side, 3.0 mm needed" in fault.value.found
    assert "0.6 mm away" in fault.value.fix


def test_a_rod_thinner_than_the_cavity_is_refused() -> None:
    """A 10 mm lamp does not go into a bar 11 mm wide."""
    with pytest.raises(CavityBreaksOut, match="too near the window"):
        lit(box((60.0, 11.0, 40.0)), TOP | {"led": "round 10 mm white", "at": {"point": "0, 0, 20 mm"}})


def test_a_part_that_tapers_behind_the_window_is_refused() -> None:
    """A wedge wide enough for the window, and too thin for its wall farther down, is refused with the lack."""
    with pytest.raises(CavityBreaksOut, match="too thin") as fault:
        lit(frustum(2.4, 6.2, 20.0), TOP | {"at": {"point": "0, 0, 20 mm"}})
    assert "mm" in fault.value.found


def test_two_cavities_too_close_are_refused() -> None:
    """Windows 4.5 mm apart leave 0.2 mm between recesses of 4.3 mm."""
    at = {"point": "0, 0, 12 mm", "row": {"count": 2, "pitch": "4.5 mm"}}
    with pytest.raises(CavityBreaksOut, match="wall beside") as fault:
        lit(SLAB, TOP | {"at": at})
    assert "short of 0.80 mm" in fault.value.found


def test_a_window_over_the_edge_is_refused() -> None:
    """With its middle 1 mm from the edge, part of the window has no skin."""
    with pytest.raises(DoesNotFit, match="run off the skin"):
        lit(SLAB, TOP | {"at": {"point": "-19, 0, 12 mm"}})


def test_a_part_not_deep_enough_is_refused() -> None:
    """Stand-off and lamp need 11.9 mm behind a wall of 0.8; a plate of 8 mm has not got them."""
    with pytest.raises(DoesNotFit, match="not deep enough") as fault:
        lit(box((40.0, 40.0, 8.0)), TOP | {"at": {"point": "0, 0, 4 mm"}})
    assert "3.42 mm too far" in fault.value.found


def test_a_floor_behind_blocks_the_way_in() -> None:
    """In a box closed below, the lamp cannot come out of the side that is called open."""
    closed = joined(box((40.0, 40.0, 24.0)), turned(box((34.0, 34.0, 18.0)), (1.0, 0.0, 0.0), 180.0))
    hollow = (closed[0], np.concatenate([closed[1][:12], closed[1][12:][:, ::-1]]))
    with pytest.raises(CannotInsert, match="in its way") as fault:
        lit(hollow, TOP | {"led": "chip 2835 white", "at": {"point": "0, 0, 12 mm"}, "standoff": "2 mm"})
    assert "blocked at" in fault.value.found


def test_solid_material_behind_a_side_window_is_refused() -> None:
    """A window on the side of a solid block opened downward has no hidden side straight behind it."""
    with pytest.raises(CannotInsert, match="no hidden side straight behind") as fault:
        lit(SLAB, TOP | {"at": {"ray": {"from": "50, 0, 0 mm", "toward": "-x"}}})
    assert "90 deg" in fault.value.found


def test_a_holder_that_runs_into_a_cover_is_refused() -> None:
    """A block that the closed model has right behind the window leaves no room, and is named."""
    shell = bumpy_dome(30.0, 2.5, 0.0)
    block = box((12.0, 12.0, 14.0), (0.0, 0.0, 17.0))
    words = TOP | {"at": {"point": "0, 0, 30 mm"}}
    lit(shell, words, block=block)
    with pytest.raises(DoesNotFit, match="runs into block"):
        lit(shell, words | {"covers": ["block"]}, block=block)


def test_a_supply_too_low_is_refused() -> None:
    """A white lamp needs more than the 1.5 V of one AA cell."""
    with pytest.raises(SupplyTooLow):
        lit(SLAB, TOP | {"supply": "AA"})


def test_leds_that_make_no_whole_rows_are_refused() -> None:
    """Three lamps are not rows of two."""
    at = {"point": "0, 0, 12 mm", "row": {"count": 3, "pitch": "10 mm"}}
    with pytest.raises(BadValue, match="whole rows"):
        lit(SLAB, TOP | {"at": at, "supply": "9 V", "current": "5 mA", "in_series": 2})


def test_a_cell_for_a_mains_unit_is_refused() -> None:
    """5 V is no cell to seat."""
    with pytest.raises(BadValue, match="no cell to seat"):
        lit(SLAB, TOP | {"supply": "5 V", "current": "5 mA", "cell": {"at": {"point": "0, 0, -12 mm"}, "open": "-z"}})


def test_words_that_lack_a_half_are_refused() -> None:
    """A cell without a supply has no size, and a wire without a cell no end."""
    with pytest.raises(ValidationError, match="supply"):
        HouseLed.model_validate(WORDS | TOP | {"cell": {"at": {"point": "0, 0, 0 mm"}, "open": "-z"}})
    with pytest.raises(ValidationError, match="where it leads"):
        HouseLed.model_validate(WORDS | TOP | {"wire": {"width": "2 mm"}})


def test_a_lamp_too_warm_for_the_plastic_is_refused() -> None:
    """A white 3 mm lamp at 20 mA in a close cavity of PLA, which gives way at 55 C."""
    with pytest.raises(PocketTooHot):
        lit(SLAB, TOP | {"supply": "5 V", "current": "20 mA"})


WIRED = TOP | {"wire": {"to": {"ray": {"from": "-60, 0, -6 mm", "toward": "+x"}}, "width": "2 mm", "bend": "3 mm"}}


def test_a_wire_leads_through_solid_material_and_stays_covered() -> None:
    """Its channel joins the bore and the named place, open at both ends, with the wall to every face it passes."""
    one = lit(SLAB, WIRED)
    facts = one.outcome.facts
    assert one.outcome.predictions[0].genus == 1
    assert facts["wire_least_wall_mm"] >= 0.8
    wire = next(item for item in one.outcome.ledger.items if item.id == "L1 wire")
    assert wire.mass_g > 0.0
    assert 15.0 < facts["wire_length_mm"] < 40.0
    end = next(each.place for each in one.outcome.places if each.feature == "wire")
    assert end.at_mm[0] == pytest.approx(-20.0, abs=1e-6)
    # a wire of 1.9 mm goes in at the named end: no plastic within its radius of the channel's middle there
    spots = np.array(end.at_mm) + np.array([[0.5, 0.0, 0.0], [2.0, 0.0, 0.0]])
    faces = (one.solid.vertices, one.solid.triangles)
    assert not within(faces, spots).any()
    assert distances(faces, spots)[1] >= 0.95


def test_a_wire_goes_round_a_magnet() -> None:
    """What other steps have put into the part keeps its wall."""
    straight = lit(SLAB, WIRED).outcome.facts["wire_length_mm"]
    magnet = Item(
        id="M1", item="disc", kind="magnet", step="s", part="p", at_mm=(-10.0, 0.0, -6.0), axis=(0.0, 0.0, 1.0),
        mass_g=0.4, radius_mm=3.0, length_mm=2.0,
    )  # fmt: skip
    step = HouseLed.model_validate(WORDS | WIRED)
    round_it = step.apply(bench_of(ledger=Ledger(items=(magnet,)), p=Solid.of(*SLAB)))
    assert round_it.facts["wire_length_mm"] > straight + 0.3


def test_a_wire_without_room_is_refused() -> None:
    """To a place 1 mm under the seen top there is no way with a wall."""
    to = {"ray": {"from": "-60, 0, 11 mm", "toward": "+x"}}
    with pytest.raises(NoWireRoute):
        lit(SLAB, TOP | {"wire": {"to": to, "width": "2 mm", "bend": "3 mm"}})


def test_a_cell_is_seated_and_wired_to_its_lamp() -> None:
    """A CR2032 beside the lamp: a seat, an item of 20.0 x 3.2 mm (IEC 60086-2), work, what stays bare, and the wire."""
    words = TOP | {
        "supply": "CR2032",
        "current": "2 mA",
        "at": {"point": "-16, 0, 12 mm"},
        "cell": {"at": {"point": "10, 0, -12 mm"}, "open": "-z"},
        "wire": {"width": "2 mm", "bend": "3 mm"},
    }
    one = lit(box((64.0, 44.0, 24.0)), words)
    ledger = one.outcome.ledger
    cell = next(item for item in ledger.items if item.kind == "cell")
    assert (2.0 * cell.radius_mm, cell.length_mm) == (20.0, 3.2)
    assert cell.mass_g == pytest.approx(3.1)
    assert [bare.why for bare in ledger.bare] == ["light window", "mouth", "cell seat"]
    assert one.outcome.facts["wire_length_mm"] > 3.0
    assert one.outcome.predictions[0].genus == 1
    seat = next(work for work in ledger.work if work.id.startswith("seat cell"))
    assert any(other.id in seat.after for other in ledger.work)


def test_a_cell_may_lie_in_another_part() -> None:
    """Both parts are changed, and each is predicted."""
    lid = moved(box((64.0, 44.0, 10.0)), (0.0, 0.0, -17.0))
    cell = {"part": "lid", "at": {"point": "10, 0, -12 mm"}, "open": "+z"}
    one = lit(box((64.0, 44.0, 24.0)), TOP | {"supply": "CR2032", "current": "2 mA", "cell": cell}, lid=lid)
    assert set(one.outcome.solids) == {"p", "lid"}
    assert {p.part for p in one.outcome.predictions} == {"p", "lid"}
    assert one.step.changes() == ("p", "lid")


def test_covers_are_read_and_not_changed() -> None:
    """The recipe's graph is told which parts the step looks at."""
    step = HouseLed.model_validate(WORDS | TOP | {"covers": ["lid", "p"]})
    assert (step.changes(), step.reads()) == (("p",), ("lid",))


def test_a_tray_upside_down_houses_a_strip() -> None:
    """A section of strip in a thick tray: recess as long as the section, window a slot over it."""
    hood = turned(tray((80.0, 40.0, 40.0), 5.0, 30.0), (1.0, 0.0, 0.0), 180.0)
    top = float(hood[0][:, 2].max())
    words = TOP | {"led": "strip 8 mm white 12 V", "at": {"point": f"0, 0, {top} mm"}, "size": "56 x 14 mm"}
    one = lit(hood, words | {"standoff": "10 mm"})
    assert one.outcome.facts["leds"][0]["window_size_mm"] == pytest.approx([56.0, 14.0])


def test_the_bowl_as_drawn_opens_upward() -> None:
    """A hidden side need not be below: the lamp goes in from above, and shines down."""
    one = lit(hemisphere_bowl(30.0, 27.0, 96, 36), TOP | {"at": {"point": "0, 0, -30 mm"}, "open": "+z"})
    assert one.outcome.ledger.lamps[0].axis == pytest.approx((0.0, 0.0, -1.0))


def test_the_timer_takes_a_lamp_behind_its_dial() -> None:
    """In the example's body, a shell of 2.6 mm, a lamp lights the recess under the dial, walls of 1.2 mm kept."""
    if not TIMER.is_file():
        pytest.skip("the example's meshes are written by fixtures/kitchen_timer.py")
    found = trimesh.load(TIMER, force="mesh")
    found.merge_vertices()
    at = {"ray": {"from": "13.44, 13.44, 27.7 mm", "toward": "-z"}}
    words = {"led": "round 3 mm white", "at": at, "window": "1.2 mm", "standoff": "6 mm"}
    one = lit((found.vertices, found.faces), words, "jetting-0.027", 1.2)
    assert one.outcome.facts["leds"][0]["least_wall_mm"] >= 1.2 - 0.02
    assert one.outcome.facts["light_wall"] == "44 layers"
