"""`seat_magnets`: which disc is chosen, what the ledger and the findings say, and every refusal with its numbers."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
from pydantic import ValidationError

from fixtures.benches import bench_of, shipped_tables
from fixtures.drawn import box, curved_pair, extruded, flush_pair, ico_sphere, nested_pair
from fixtures.gauges import disc_spots, first_hits
from prep.build.verify import hold_to
from prep.contract import Bench, Item, Ledger, Outcome
from prep.errors import CannotInsert, DoesNotFit, PartsApart, PrepError, TooWeak, UnknownRow
from prep.geometry.solid import Solid, subtract, unite
from prep.steps.seat_magnets import SeatMagnets

PAIR = {"between": ["a", "b"], "magnet": "disc 6x2 N42", "count": 2}
SEAM = (28.0, 18.0)


def pair_of(pair, **more) -> Bench:
    """A bench with a drawn pair on it."""
    return bench_of(a=Solid.of(*pair[0]), b=Solid.of(*pair[1]), **more)


def apply(bench: Bench, **words: object) -> Outcome:
    """The step on a bench, held to what it predicts."""
    outcome = SeatMagnets.model_validate({"step": "seat_magnets", **words}).apply(bench)
    hold_to(bench, outcome)
    return outcome


def refused(bench: Bench, kind: type[PrepError] = DoesNotFit, **words: object) -> PrepError:
    """The refusal, with its code, numbers and one action."""
    with pytest.raises(kind) as fault:
        apply(bench, **words)
    assert fault.value.found
    assert fault.value.fix
    assert fault.value.code in str(fault.value)
    return fault.value


def figures(fault: PrepError) -> tuple[float, float, int]:
    """Found, wanted or allowed, and how many fit, as printed."""
    found, wanted, fits = re.search(r"^(-?[\d.]+) mm .*?, ([\d.]+) mm .*; room for (\d+)", fault.found).groups()
    return float(found), float(wanted), int(fits)


# --- choosing ------------------------------------------------------------------------------------


def test_hold_alone_takes_the_smallest_disc_that_holds() -> None:
    """Without a disc named, the lightest stocked one that holds is taken: each lighter one, tried, holds less."""
    bench = pair_of(flush_pair(SEAM, (6.0, 7.0)))
    outcome = apply(bench, between=["a", "b"], count=2, hold="6 N")
    chosen = shipped_tables().magnets.get(outcome.facts["magnet"])
    assert outcome.facts["pull_counted_on_n"] >= 6.0
    lighter = [r for r in shipped_tables().magnets.rows if r.shape == "disc" and r.stocked and r.mass_g < chosen.mass_g]
    assert lighter
    for row in lighter:
        tried = apply(bench, between=["a", "b"], count=2, hold="6 N", magnet=row.name)
        assert tried.facts["pull_counted_on_n"] < 6.0
        (held,) = [f for f in tried.findings if f.check == "hold"]
        assert held.verdict == "fail"
        assert held.value == pytest.approx(tried.facts["pull_counted_on_n"])
        assert held.limit == 6.0
        assert held.fix


def test_a_named_disc_that_holds_passes() -> None:
    """The finding carries the force counted on and the one wanted."""
    outcome = apply(pair_of(flush_pair(SEAM, (6.0, 7.0))), **PAIR, hold="5 N")
    (held,) = [f for f in outcome.findings if f.check == "hold"]
    assert held.verdict == "pass"
    # two 6x2 pairs at 0.2 mm, 6.9576 N each in the reference table, of which 70 % are counted on
    assert held.value == pytest.approx(2.0 * 0.7 * 6.9576, rel=1e-5)


def test_steel_in_the_second_part() -> None:
    """Against steel the pull is that of the twin at double the gap, and the second part gets discs without a pole."""
    outcome = apply(pair_of(flush_pair(SEAM, (6.0, 7.0))), **PAIR, opposite="steel")
    # the face gap is 0.2 mm, so the twin stands 0.4 mm off: between the table's 6.9576 N at 0.2 and 5.2735 N at 0.5
    assert outcome.facts["pull_each_n"][0] == pytest.approx(5.783, abs=0.05)
    steel = [item for item in outcome.ledger.items if item.part == "b"]
    assert [item.id[0] for item in steel] == ["W", "W"]
    assert all(item.pole_out is None and item.ferrous and item.kind == "other" for item in steel)
    assert steel[0].mass_g == pytest.approx(math.pi * 9.0 * 2.0 * 7.85e-3)


def test_letters_go_on_from_the_ledger() -> None:
    """A second step counts on where the first left off."""
    held = Item(id="M1", item="disc", kind="magnet", step="x", part="a", at_mm=(0, 0, 0), axis=(0, 0, 1.0), mass_g=1.0)
    bench = pair_of(flush_pair(SEAM, (6.0, 7.0)), ledger=Ledger(items=(held,)))
    assert [item.id for item in apply(bench, **PAIR).ledger.items] == ["M2", "M3", "M4", "M5"]


def test_warnings_come_along() -> None:
    """Swallowing and implants are warned of; the flux index is that of the largest field over the face."""
    magpy = pytest.importorskip("magpylib")
    outcome = apply(pair_of(flush_pair(SEAM, (6.0, 7.0))), **PAIR)
    assert any("swallow" in caution for caution in outcome.cautions)
    assert any("pacemaker" in caution for caution in outcome.cautions)
    radius = np.linspace(0.0, 3.0, 601)
    magnet = magpy.magnet.Cylinder(polarization=(0, 0, 1.30), dimension=(6e-3, 2e-3))
    field = magnet.getB(np.stack([radius, 0.0 * radius, np.full(601, 1.38)], axis=1) * 1e-3)[:, 2]
    index = (np.abs(field).max() * 10.0) ** 2 * math.pi * 9.0
    assert outcome.facts["flux_index_kg2mm2"] == pytest.approx(index, rel=1e-4)
    highest = index * (shipped_tables().magnets.get("disc 6x2 N42").remanence_high_t / 1.30) ** 2
    assert f"flux index up to {highest:.0f} kG²mm², limit 50" in " ".join(outcome.cautions)
    assert outcome.facts["flux_index_limit_kg2mm2"] == 50.0
    assert outcome.facts["highest_c"] == 80.0
    assert all(item.highest_c == 80.0 for item in outcome.ledger.items)


def test_work_and_voids_are_entered() -> None:
    """Each part has its task of seating after printing, each seat its void with what glue and air it holds."""
    outcome = apply(pair_of(flush_pair(SEAM, (6.0, 7.0))), **PAIR)
    assert [work.after for work in outcome.ledger.work] == [("print a",), ("print b",)]
    assert {void.state for void in outcome.ledger.voids} == {"open"}
    taken = -outcome.predictions[0].volume_mm3
    assert sum(v.volume_mm3 for v in outcome.ledger.voids if v.part == "a") == pytest.approx(
        taken - 2.0 * math.pi * 9.0 * 2.0
    )
    assert len(outcome.places) == 4
    assert len(outcome.views) == 2


def test_places_on_a_pair() -> None:
    """With `at`, each place of the first part gets a seat in both, just there."""
    bench = pair_of(flush_pair(SEAM, (6.0, 7.0)))
    at = [{"point": "-7, 1, 0 mm"}, {"point": "6, -2, 0 mm"}]
    outcome = apply(bench, between=["a", "b"], magnet="disc 6x2 N42", at=at)
    spots = np.array([item.at_mm for item in outcome.ledger.items])
    assert spots[:, :2] == pytest.approx(np.array([[-7, 1], [6, -2], [-7, 1], [6, -2]], dtype=float))


def test_a_hole_that_would_open_a_sealed_void_is_left_out() -> None:
    """No air hole is drilled into a sealed cavity, which would change what the part holds; the seat has no vent."""
    hollow = subtract(Solid.of(*box((30.0, 30.0, 30.0))), [Solid.of(*box((20.0, 20.0, 16.0)))])
    words = {"part": "a", "magnet": "disc 3x1 N42", "at": {"facing": "+z"}, "vent": "hole"}
    outcome = apply(bench_of(a=hollow), **words)
    assert outcome.facts["vented"] == [0]
    assert outcome.predictions[0].genus == 0


def test_a_hole_comes_out_whole_on_a_slope() -> None:
    """On a far skin at 35 degrees the hole is long enough on its long side: no lip is left across it."""
    sloped = subtract(Solid.of(*box((30.0, 20.0, 10.0))), [Solid.of(*under_slope(35.0))])
    outcome = apply(bench_of(a=sloped), part="a", magnet="disc 6x2 N42", at={"point": "0, 0, 5 mm"}, vent="hole")
    assert outcome.facts["vented"] == [1]
    spots = disc_spots(np.array([0.0, 0.0, 2.0]), np.array([0.0, 0.0, 1.0]), 0.499)
    down = np.full(spots.shape, [0.0, 0.0, -1.0])
    assert first_hits(sloped.corners, spots, down)[0].max() == pytest.approx(
        5.0 + 0.499 * math.tan(math.radians(35.0)), abs=0.01
    )
    assert np.isinf(first_hits(outcome.solids["a"].corners, spots, down)[0]).all()


def under_slope(degrees: float):
    """All that lies under a slope through (0, 0, -3), rising along x."""
    rise = 16.0 * math.tan(math.radians(degrees))
    v, t = extruded([(-16.0, -40.0), (16.0, -40.0), (16.0, rise - 3.0), (-16.0, -rise - 3.0)], 40.0)
    return np.stack([v[:, 0], 20.0 - v[:, 2], v[:, 1]], axis=1), t


# --- refusing ------------------------------------------------------------------------------------


def test_a_seam_too_narrow() -> None:
    """On a seam 7 mm wide the 7.5 mm mouth is short by half a millimetre; the disc offered instead does fit."""
    bench = pair_of(flush_pair((28.0, 7.0), (6.0, 7.0)))
    fault = refused(bench, **PAIR)
    found, wanted, fits = figures(fault)
    assert found == pytest.approx(7.0, abs=0.06)
    assert (wanted, fits) == (7.5, 0)
    assert "width of the skin" in fault.what
    offered = re.search(r"`magnet: (.*?)`", fault.fix)[1]
    assert apply(bench, **PAIR | {"magnet": offered}).facts["seats"] == 2


@pytest.mark.parametrize(
    ("size", "heights", "left"),
    [((28.0, 8.5), (6.0, 7.0), 0.5), (SEAM, (2.8, 7.0), 0.5), (SEAM, (6.0, 2.5), 0.2), (SEAM, (1.5, 7.0), -0.8)],
    ids=["beside", "under", "under, in the second", "breaks out"],
)
def test_too_little_wall(size, heights, left) -> None:
    """What is left beside or under the seat is told as it is, by closed form, and the disc offered does fit."""
    fault = refused(pair_of(flush_pair(size, heights)), **PAIR)
    found, wanted, fits = figures(fault)
    assert found == pytest.approx(left, abs=0.02)
    assert wanted == pytest.approx(0.83)
    assert fits == 0
    assert "material beside the seat" in fault.what


def test_too_many_seats() -> None:
    """Six in a row of 40 mm: four fit, as (40 - 2 x 4.08) / 8.33 + 1 says, and four are then placed."""
    bench = pair_of(flush_pair((40.0, 10.0), (6.0, 7.0)))
    fault = refused(bench, **PAIR | {"count": 6})
    found, wanted, fits = figures(fault)
    assert fits == 1 + int((40.0 - 2.0 * (3.25 + 0.83)) / 8.33)
    assert found == pytest.approx((40.0 - 2.0 * (3.25 + 0.83)) / 5.0, abs=0.4)
    assert wanted == pytest.approx(8.33)
    assert "`count: 4`" in fault.fix
    assert apply(bench, **PAIR | {"count": 4}).facts["seats"] == 4


def test_no_free_way_in() -> None:
    """In a slot 4 mm high a disc of 2 mm with 3 mm for a tool has no way in."""
    slot = subtract(Solid.of(*box((40.0, 30.0, 24.0))), [Solid.of(*box((60.0, 20.0, 4.0)))])
    fault = refused(bench_of(a=slot), CannotInsert, part="a", magnet="disc 6x2 N42", at={"point": "0, 0, -2.1 mm"})
    assert figures(fault) == (4.0, 5.0, 0)
    assert "a free way in" in fault.what


def test_parts_apart() -> None:
    """Parts that do not meet are refused with how far apart they are."""
    fault = refused(pair_of(flush_pair(SEAM, gap=3.0)), PartsApart, **PAIR)
    assert "3.00 mm apart" in fault.found


def test_too_weak() -> None:
    """No stocked disc holds 2 kN: the strongest, two 20x5 pairs at 0.2 mm, is named with what it holds."""
    fault = refused(pair_of(flush_pair((60.0, 40.0))), TooWeak, between=["a", "b"], count=2, hold="2000 N")
    assert float(fault.found.split(" N")[0]) == pytest.approx(2.0 * 0.7 * 72.1797, abs=0.01)
    assert "2000.00 N wanted" in fault.found


def test_what_would_fit_but_not_hold_is_said_to() -> None:
    """Where only discs too large would hold, the smaller one offered is named with what it holds."""
    bench = pair_of(flush_pair((40.0, 10.0), (6.0, 7.0)))
    fault = refused(bench, between=["a", "b"], count=2, hold="60 N")
    offered, holds = re.search(r"`magnet: (.*?)` \(holds ([\d.]+) N of 60.00 N\)", fault.fix).groups()
    outcome = apply(bench, between=["a", "b"], count=2, magnet=offered)
    assert outcome.facts["pull_counted_on_n"] == pytest.approx(float(holds), abs=0.01)


def test_a_block_magnet() -> None:
    """Blocks are refused with their size: seats are round."""
    fault = refused(pair_of(flush_pair(SEAM)), **PAIR | {"magnet": "block 10x5x2 N42"})
    assert "5 x 10 mm" in fault.found


def test_an_unknown_magnet() -> None:
    """An unknown name is refused with the nearest known one."""
    fault = refused(pair_of(flush_pair(SEAM)), UnknownRow, **PAIR | {"magnet": "disc 6x2 N43"})
    assert "disc 6x2 N42" in fault.fix


def test_skin_too_curved() -> None:
    """On a ball of 8 mm the skin over the mouth falls by more than is allowed: as much as rays at its facets say."""
    ball = Solid.of(*ico_sphere(8.0, 4))
    fault = refused(bench_of(a=ball), part="a", magnet="disc 6x2 N42", at={"point": "1, 2, 9 mm"})
    found, allowed, _ = figures(fault)
    way = np.array([1.0, 2.0, 9.0])
    distance, row = first_hits(ball.corners, 3.0 * way[None], -way[None] / np.linalg.norm(way))
    axis = ball.triangle_normals[row[0]]
    at = np.array([float(x) for x in re.search(r"at \((.*?)\)", fault.where)[1].split(",")])
    starts = disc_spots(at + 5.0 * axis, axis, 3.75)
    depth, _ = first_hits(ball.corners, starts, np.broadcast_to(-axis, starts.shape))
    assert np.isfinite(distance).all()
    assert found == pytest.approx(np.ptp(depth), abs=0.08)  # the place is printed to 0.1 mm
    assert allowed == 0.6
    assert "too much by" in fault.what


@pytest.mark.parametrize(
    ("heights", "figure", "limit", "what"),
    [((6.0, 30.0), 29.1, 14.3, "bore from behind"), ((2.5, 7.0), 2.5, 3.2, "material behind the seam")],
)
def test_loaded_from_behind_too_deep_or_too_thin(heights, figure, limit, what) -> None:
    """Behind a skin of 0.9 mm the part must hold the seat, and not be so thick that nobody reaches it."""
    fault = refused(pair_of(flush_pair(SEAM, heights)), **PAIR | {"skin": "0.9 mm"})
    assert figures(fault) == (figure, limit, 0)
    assert what in fault.what


@pytest.mark.parametrize(
    ("at", "found", "wanted", "what"),
    [
        ([{"point": "-8, 0, 10 mm"}, {"point": "29, 0, 10 mm"}], 2.0, 7.5, "width of the skin"),
        ([{"point": "-8, 0, 10 mm"}, {"point": "26, 0, 10 mm"}], 0.25, 0.83, "material beside the seat"),
        ([{"point": "-5, 0, 10 mm"}, {"point": "2, 0, 10 mm"}], 7.0, 8.33, "distance between seats"),
    ],
)
def test_one_of_several_places_does_not_fit(at, found, wanted, what) -> None:
    """Where every place must fit, the one that does not is named with its own number; the others count as room."""
    fault = refused(bench_of(a=Solid.of(*box((60.0, 40.0, 20.0)))), part="a", magnet="disc 6x2 N42", at=at)
    assert figures(fault) == (pytest.approx(found, abs=0.06), pytest.approx(wanted), 1)
    assert what in fault.what


def test_one_of_several_places_is_uneven() -> None:
    """A ridge of 1.9 mm beside one place is told for that place, not for the flat one."""
    ridge = unite([Solid.of(*box((60.0, 40.0, 20.0))), Solid.of(*box((4.0, 40.0, 2.0), (20.0, 0.0, 10.9)))])
    at = [{"point": "-15, 0, 10 mm"}, {"point": "16, 0, 10 mm"}]
    fault = refused(bench_of(a=ridge), part="a", magnet="disc 6x2 N42", at=at)
    assert figures(fault) == (1.9, 0.6, 1)
    assert "(16.0, 0.0, 10.0)" in fault.where


def test_seats_that_would_meet_inside_are_refused() -> None:
    """Two seats round a corner, mouths apart and bores crossing, are refused before anything is cut."""
    at = [{"point": "0, -9, 15 mm"}, {"point": "0, -15, 8.5 mm"}]
    words = {"part": "a", "magnet": "disc 1/4 x 1/4 in N42", "at": at}
    fault = refused(bench_of(a=Solid.of(*box((30.0, 30.0, 30.0)))), **words)
    assert figures(fault) == (0.0, 0.83, 1)
    assert "material between seats" in fault.what


def test_long_seats_from_all_sides_of_a_block_keep_apart() -> None:
    """In a narrow nested block, seats that would meet in its middle are not placed; fewer are offered, and fit."""
    bench = pair_of(nested_pair((30.0, 30.0, 20.0), 8.0, 9.0))
    words = {"between": ["a", "b"], "magnet": "disc 1/4 x 1/4 in N42"}
    fault = refused(bench, **words, count=5)
    fits = figures(fault)[2]
    assert fits < 5
    assert apply(bench, **words, count=fits).facts["seats"] == fits


def test_a_curved_seam_too_steep() -> None:
    """On a steep dome the unevenness at the flattest place is told."""
    fault = refused(pair_of(curved_pair((24.0, 20.0), 12.0, 9.0)), **PAIR | {"magnet": "disc 10x3 N42"})
    found, allowed, fits = figures(fault)
    assert found > allowed == 0.6
    assert fits == 0


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ({"magnet": "disc 6x2 N42"}, "either `between"),
        ({"between": ["a", "b"], "part": "a", "magnet": "disc 6x2 N42"}, "either `between"),
        ({"between": ["a", "a"], "magnet": "disc 6x2 N42"}, "two different parts"),
        ({"part": "a", "magnet": "disc 6x2 N42"}, "`at:` says where"),
        ({"between": ["a", "b"]}, "`magnet:`, or `hold:`"),
        ({**PAIR, "fixing": "buried"}, "give `skin:`"),
        ({**PAIR, "fixing": "tape"}, "fixing"),
        ({**PAIR, "count": 0}, "count"),
        ({**PAIR, "skin": 1.0}, "unit"),
        ({**PAIR, "skin": "-1 mm"}, "skin"),
        ({**PAIR, "hold": "0 N"}, "hold"),
        ({**PAIR, "hold": "5 kg"}, "hold|force"),
        ({**PAIR, "service": "120 %"}, "service"),
        ({**PAIR, "magnets": 4}, "magnets"),
    ],
)
def test_settings_that_make_no_sense(words, says) -> None:
    """Each is refused when read, with the setting named."""
    with pytest.raises(ValidationError, match=says):
        SeatMagnets.model_validate({"step": "seat_magnets", **words})
