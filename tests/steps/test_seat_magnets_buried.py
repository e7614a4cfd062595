"""`seat_magnets`, buried: where the print is paused, and when burying is refused."""

from __future__ import annotations

import re

import numpy as np
import pytest

from fixtures.benches import bench_of
from fixtures.drawn import curved_pair, flush_pair, moved
from prep.build.verify import hold_to
from prep.contract import Bench, Outcome
from prep.errors import CannotInsert
from prep.geometry.solid import Solid
from prep.steps.seat_magnets import SeatMagnets

BURIED = {"between": ["a", "b"], "magnet": "disc 6x2 N42", "count": 2, "fixing": "buried", "skin": "0.8 mm"}


def apply(bench: Bench, **words: object) -> Outcome:
    """The step on a bench, held to what it predicts."""
    outcome = SeatMagnets.model_validate({"step": "seat_magnets", **BURIED, **words}).apply(bench)
    hold_to(bench, outcome)
    return outcome


def pair_of(pair, **more) -> Bench:
    """A bench with a drawn pair on it."""
    return bench_of(a=Solid.of(*pair[0]), b=Solid.of(*pair[1]), **more)


def void_tops(solid: Solid, up: float) -> float:
    """Highest point of the sealed voids over the part's foot along +z or -z, from the triangles alone, mm."""
    heights = solid.vertices[:, 2] * up
    inside = solid.triangles[np.isin(solid.shell_of_triangle, np.flatnonzero(solid.shell_volumes_mm3 < 0))]
    return float(heights[np.unique(inside)].max() - heights.min())


@pytest.mark.parametrize("shift", [0.0, 37.3])
@pytest.mark.parametrize("up", [1.0, -1.0])
def test_the_pause_is_at_the_last_layer_before_the_roof(up: float, shift: float) -> None:
    """Heights are over the bed, whichever way the part stands and wherever the assembly lies, in whole layers."""
    pair = tuple(moved(part, (0.0, 0.0, shift)) for part in flush_pair((28.0, 18.0), (8.0, 9.0)))
    bench = pair_of(pair, up=(0.0, 0.0, up))
    outcome = apply(bench)
    layer = bench.process.layer_mm
    for work in outcome.ledger.work:
        name = work.id.split()[1].rstrip(":")
        (said,) = re.findall(r"pause ([\d.]+) mm above the bed", work.says)
        top = void_tops(outcome.solids[name], up)
        assert 0.0 <= top - float(said) < layer
        assert float(said) / layer == pytest.approx(round(float(said) / layer), abs=1e-6)


def test_a_process_that_fills_voids_is_refused() -> None:
    """Jetting, vat and powder leave support, resin or powder in the seat: the refusal names it and what to do."""
    for process, holds in (("jetting-0.027", "support"), ("vat-0.05", "resin"), ("powder-0.1", "powder")):
        with pytest.raises(CannotInsert, match=holds) as caught:
            apply(pair_of(flush_pair((28.0, 18.0), (8.0, 9.0)), process=process))
        assert "glue" in caught.value.fix


def test_a_seat_that_would_not_lie_flat_is_refused() -> None:
    """Parts printed on their side, or a seam that leans, cannot take a magnet at a pause: the tilt is told."""
    with pytest.raises(CannotInsert, match="lie flat") as caught:
        apply(pair_of(flush_pair((28.0, 18.0), (8.0, 9.0)), up=(1.0, 0.0, 0.0)))
    assert "90.0 deg" in caught.value.found
    with pytest.raises(CannotInsert, match="lie flat"):
        apply(pair_of(curved_pair((30.0, 18.0), 8.0, 2.0, cells=(20, 12))))


def test_steel_is_said_to_be_a_bound() -> None:
    """Against a steel disc the pull is that of wide, thick steel: no more than a warning, and the words say so."""
    bench = pair_of(flush_pair((28.0, 18.0), (8.0, 9.0)))
    outcome = apply(bench, fixing="glue", skin="0 mm", opposite="steel", hold="3 N")
    (hold,) = [finding for finding in outcome.findings if finding.check == "hold"]
    assert hold.verdict == "warn"
    assert "thick steel" in hold.says
    assert outcome.facts["against"] == "thick steel"
