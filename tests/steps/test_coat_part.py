"""`coat_part`: plugs, caps, film and work; and fits that leave room for it."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from fixtures.benches import bench_of
from fixtures.drawn import box, flush_pair, tray
from prep.contract import Bare, Bench, Coat, Ledger
from prep.errors import FilmSpoilsFit
from prep.geometry.solid import Solid
from prep.steps.coat_part import CoatPart, outside_area_mm2
from prep.steps.seat_magnets import SeatMagnets

COAT = {"step": "coat_part", "part": "a", "paint": "orange enamel"}


def seated() -> tuple[Bench, Bench]:
    """A flush pair before, and with four glued seats."""
    first, second = flush_pair()
    bench = bench_of(a=Solid.of(*first), b=Solid.of(*second))
    step = SeatMagnets(step="seat_magnets", between=("a", "b"), magnet="disc 6x2 N42")
    return bench, bench.after(step.apply(bench))


def test_area_by_hand() -> None:
    """A closed box is all outside; a box with a sealed void counts only its outer skin."""
    # worked by hand: 2 (30 20 + 30 10 + 20 10) = 2200 mm2
    solid = Solid.of(*box((30.0, 20.0, 10.0)))
    assert outside_area_mm2(solid) == pytest.approx(2200.0, rel=1e-9)
    outer, inner = box((30.0, 20.0, 10.0)), box((10.0, 10.0, 5.0))
    vertices = np.concatenate([outer[0], inner[0]])
    triangles = np.concatenate([outer[1], inner[1][:, ::-1] + len(outer[0])])
    assert outside_area_mm2(Solid.of(vertices, triangles)) == pytest.approx(2200.0, rel=0.02)


def test_open_tray_is_painted_inside() -> None:
    """The inside of a shallow tray is seen from outside, so spray reaches it."""
    solid = Solid.of(*tray())
    assert outside_area_mm2(solid) == pytest.approx(solid.area_mm2, rel=0.02)


def test_plugs_for_every_seat() -> None:
    """Each magnet seat gets a plug that fills its mouth and touches no wall below it."""
    _, bench = seated()
    done = CoatPart.model_validate(COAT).apply(bench)
    assert sorted(done.extra) == ["plug 1", "plug 2", "plug 3", "plug 4"]
    part = trimesh.Trimesh(bench.parts["a"].solid.vertices, bench.parts["a"].solid.triangles, process=False)
    for bare, (name, piece) in zip(bench.ledger.bare, done.extra.items(), strict=False):
        body = trimesh.Trimesh(piece.vertices, piece.triangles, process=False)
        assert body.is_watertight, name
        # nowhere below the mouth does it come nearer the part's skin than a hair, and no corner of it is inside
        below = body.vertices[body.vertices @ np.array(bare.out) < np.array(bare.at_mm) @ np.array(bare.out) - 0.5]
        assert len(below) > 50
        assert not part.contains(below).any()
        middle = np.array(bare.at_mm)
        assert np.linalg.norm(np.cross(piece.centre_mm - middle, bare.out)) < 1e-3


def test_film_and_work() -> None:
    """The film is the row's, over the whole outside; plugs go in before the spray and out after it."""
    _, bench = seated()
    done = CoatPart.model_validate(COAT).apply(bench)
    (film,) = done.ledger.films
    row = bench.tables.paints.get("orange enamel")
    assert film.thickness_mm == row.film_mm
    assert film.area_mm2 > 0.9 * bench.parts["a"].solid.area_mm2
    verbs = [task.verb for task in done.ledger.work]
    assert verbs == ["cap", "spray", "uncap"]
    assert done.ledger.work[1].after == (done.ledger.work[0].id,)
    assert any("respirator" in caution for caution in done.cautions)


def test_magnets_leave_room_for_paint() -> None:
    """A coat ahead adds its film to the gap on that side; one that plugs nothing widens the seats as well."""
    bench, _ = seated()
    step = SeatMagnets(step="seat_magnets", between=("a", "b"), magnet="disc 6x2 N42")
    film = bench.tables.paints.get("orange enamel").film_mm
    plain = step.apply(bench).facts
    capped = Bench(**(vars(bench) | {"ahead": (Coat(step="c", part="a", paint="orange enamel"),)}))
    bare = Bench(**(vars(bench) | {"ahead": (Coat(step="c", part="a", paint="orange enamel", capped=False),)}))
    painted, wide = step.apply(capped).facts, step.apply(bare).facts
    assert painted["face_gap_mm"][0] - plain["face_gap_mm"][0] == pytest.approx(film, abs=1e-9)
    assert painted["pull_ideal_n"] < plain["pull_ideal_n"] == pytest.approx(painted["pull_before_paint_n"], rel=1e-9)
    assert painted["seat_diameter_mm"] == plain["seat_diameter_mm"]
    assert wide["seat_diameter_mm"] - plain["seat_diameter_mm"] == pytest.approx(2.0 * film, abs=1e-9)


def with_bare(**told) -> Bench:
    """A box with one thing on its top that must stay bare."""
    bare = Bare(step="s", part="a", at_mm=(0.0, 0.0, 5.0), out=(0.0, 0.0, 1.0), across=(1.0, 0.0, 0.0), **told)
    return bench_of(a=Solid.of(*box((30.0, 20.0, 10.0))), ledger=Ledger(bare=(bare,)))


def test_refuses_to_jam_a_seat() -> None:
    """Without caps, a mouth with less clearance than the film is a fault that names it."""
    size = {"shape": "round", "half_mm": (2.0, 2.0), "depth_mm": 4.0}
    film = bench_of(a=Solid.of(*box())).tables.paints.get("orange enamel").film_mm
    step = CoatPart.model_validate(COAT | {"caps": False})
    with pytest.raises(FilmSpoilsFit, match="bore 1"):
        step.apply(with_bare(id="bore 1", why="light pipe", clearance_mm=0.9 * film, **size))
    assert step.apply(with_bare(id="bore 1", why="light pipe", clearance_mm=1.1 * film, **size)).extra == {}


def test_what_cannot_be_capped_is_said() -> None:
    """A window too wide for a cap is listed for hand masking, with a warning, and nothing is lost."""
    bench = with_bare(id="window L1", why="light window", shape="slot", half_mm=(25.0, 3.0))
    done = CoatPart.model_validate(COAT).apply(bench)
    assert done.extra == {}
    assert [finding.verdict for finding in done.findings] == ["warn"]
    assert "1 by hand" in done.ledger.work[0].says
