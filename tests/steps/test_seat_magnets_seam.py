"""`seat_magnets`: a spread over a seam said as a place, and pulls that share one way."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from pydantic import ValidationError

from fixtures.benches import bench_of, shipped_tables
from fixtures.drawn import flush_pair, nested_pair
from prep.build.verify import hold_to
from prep.contract import Bench, Outcome
from prep.errors import NoSuchPlace
from prep.geometry.round_seat import RoundSeat
from prep.geometry.solid import Solid
from prep.physics.seat_fit import seat_fit
from prep.places.magnet_choice import MagnetSet
from prep.places.seam import SeatsFound
from prep.steps.seat_magnets import SeatMagnets

DISC = "disc 6x2 N42"
AT = {"seam": ["a", "b"], "spread": 3}


def pair_of(pair) -> Bench:
    """A bench with a drawn pair on it."""
    return bench_of(a=Solid.of(*pair[0]), b=Solid.of(*pair[1]))


def apply(bench: Bench, **words: object) -> Outcome:
    """The step on a bench, held to what it predicts."""
    outcome = SeatMagnets.model_validate({"step": "seat_magnets", **words}).apply(bench)
    hold_to(bench, outcome)
    return outcome


def test_a_spread_over_a_seam_may_be_a_place() -> None:
    """On a pair, `at: {seam, spread}` says what `between` and `count` say."""
    bench = pair_of(flush_pair())
    plain = apply(bench, between=["a", "b"], magnet=DISC, count=3)
    assert apply(bench, between=["a", "b"], magnet=DISC, at=AT).places == plain.places


def test_one_part_of_a_seam_alone_may_get_seats() -> None:
    """On one part, the other is looked at and left alone."""
    wanted = SeatMagnets.model_validate({"step": "seat_magnets", "part": "b", "magnet": DISC, "at": AT})
    assert (wanted.changes(), wanted.reads()) == (("b",), ("a",))
    outcome = apply(pair_of(flush_pair()), part="b", magnet=DISC, at=AT)
    assert list(outcome.solids) == ["b"]
    assert [placed.part for placed in outcome.places] == ["b"] * 3
    assert all(placed.place.inward[2] > 0.99 for placed in outcome.places)


@pytest.mark.parametrize("at", [[AT, {"point": "0, 0, 0 mm"}], {"seam": ["a", "c"], "spread": 2}])
def test_a_spread_stands_alone_and_names_the_steps_parts(at: object) -> None:
    """A spread beside another place, or over another seam, is refused when the recipe is read."""
    with pytest.raises(ValidationError, match="stands alone"):
        SeatMagnets.model_validate({"step": "seat_magnets", "between": ["a", "b"], "magnet": DISC, "at": at})


def test_magnets_that_face_one_another_hold_nothing_together() -> None:
    """The pull of a set is what its pulls come to along the way they share, not the sum of their sizes."""
    tables = shipped_tables()
    magnet, process = tables.magnets.get(DISC), tables.processes.get("extrusion-0.4")
    apart = np.array([[1.0, 0.0, 0.0], [-1.0, 0.0, 0.0]])
    found = SeatsFound(apart, (np.zeros((2, 3)),), (np.zeros(2),), np.ones(2))
    fit = seat_fit(magnet, process, "glue")
    across = MagnetSet(magnet, fit, RoundSeat(3.0, 2.0), found, np.zeros(2), np.array([5.0, 5.0]))
    assert across.pull_n == 0.0
    along = replace(across, found=replace(found, axes=np.tile([0.0, 0.0, 1.0], (2, 1))), pulls_n=np.array([5.0, 4.0]))
    assert along.pull_n == pytest.approx(9.0)


def test_a_nested_pair_gets_seats_that_pull_one_way() -> None:
    """On a block in a tray, seats lie all on one face, never on walls that face one another."""
    outcome = apply(pair_of(nested_pair()), between=["a", "b"], magnet="disc 4x2 N42", count=3)
    inward = np.array([placed.place.inward for placed in outcome.places if placed.part == "a"])
    assert (inward @ inward[0] > 0.5).all()
    assert outcome.facts["pull_ideal_n"] == pytest.approx(sum(outcome.facts["pull_each_n"]), rel=1e-9)


def test_a_facet_of_a_curved_skin_is_no_flat() -> None:
    """`facing` on a ball finds no flat, and says how small the largest facet is."""
    from fixtures.drawn import ico_sphere

    with pytest.raises(NoSuchPlace, match="facets") as caught:
        apply(bench_of(a=Solid.of(*ico_sphere(20.0, 4))), part="a", magnet=DISC, at={"facing": "+x"})
    assert "mm2" in caught.value.found


def test_ribs_stand_only_beside_the_magnet() -> None:
    """In a long bore the ribs rise no further than told; the bore above is free."""
    frame = np.eye(4)
    bore = RoundSeat(3.25, 10.0, rib_tip_mm=2.95, rib_mm=2.5)
    cut = bore.cutter(frame)
    radii = np.linalg.norm(cut.vertices[:, :2], axis=1)
    inner = cut.vertices[(radii > 1.0) & (radii < 3.1)]
    assert inner[:, 2].max() == pytest.approx(-10.0 + 2.5, abs=1e-9)
    assert inner[:, 2].min() == pytest.approx(-10.0, abs=1e-9)
