"""`insertion`: what is to go in gets there, through the part as it ends up."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fixtures.benches import bench_of
from fixtures.drawn import box, flush_pair
from prep.checks.insertion import Insertion
from prep.contract import Item, Ledger, Void
from prep.geometry.lathe import lathe
from prep.geometry.solid import Solid, subtract, unite
from prep.steps.seat_magnets import SeatMagnets

BLOCK = Solid.of(*box((40.0, 30.0, 20.0), (0.0, 0.0, -10.0)))
"""Its top face is z = 0."""


def seat(radius: float = 3.25, depth: float = 2.3) -> Solid:
    """The block with a seat in its top."""
    return subtract(BLOCK, [lathe(np.array([[radius, -depth], [radius, 1.0]]), np.eye(4))])


def magnet(z: float = -1.1, name: str = "M1") -> Item:
    """A 6x2 disc in the seat."""
    return Item(
        id=name,
        item="disc 6x2",
        kind="magnet",
        step="back magnets",
        part="part",
        at_mm=(0, 0, z),
        axis=(0, 0, 1.0),
        mass_g=0.4,
        radius_mm=3.0,
        length_mm=2.0,
    )


def found(solid: Solid, *items: Item, voids: tuple[Void, ...] = (), check: Insertion | None = None):
    """Findings of a part with these items."""
    return (check or Insertion()).examine(bench_of(ledger=Ledger(items=items, voids=voids), part=solid))


def roofed(height: float) -> Solid:
    """The seat with a roof over it at a height."""
    post, roof = box((4.0, 30.0, height + 2.0), (-18.0, 0, height / 2)), box((40.0, 30.0, 2.0), (0, 0, height + 1.0))
    return unite([seat(), Solid.of(*post), Solid.of(*roof)])


def test_an_open_seat_passes() -> None:
    """A disc in an open seat goes in."""
    (finding,) = found(seat(), magnet())
    assert finding.verdict == "pass"
    assert "1 items" in finding.says


def test_a_roof_over_the_seat_blocks_it() -> None:
    """Under a roof 4 mm up the disc meets it after 4.1 mm, where 5 mm are wanted with a tool; 6 mm is enough."""
    (finding,) = found(roofed(4.0), magnet())
    assert finding.verdict == "fail"
    assert finding.value == pytest.approx(4.1, abs=0.01)
    assert finding.limit == 5.0
    assert finding.at_mm == magnet().at_mm
    assert finding.made_by == "back magnets"
    assert "M1" in finding.says
    assert [f.verdict for f in found(roofed(6.0), magnet())] == ["pass"]


def test_the_tool_can_be_smaller() -> None:
    """With room for a finer tool the same roof is no obstacle."""
    assert [f.verdict for f in found(roofed(4.0), magnet(), check=Insertion.model_validate({"tool": "2 mm"}))] == [
        "pass"
    ]


def test_a_narrow_mouth_blocks_it() -> None:
    """A bore that narrows above the disc holds it back; a bore open behind lets it in that way."""
    frame = np.eye(4)
    narrow = subtract(BLOCK, [lathe(np.array([[3.25, -8.0], [3.25, -4.0], [2.0, -4.0], [2.0, 1.0]]), frame)])
    (finding,) = found(narrow, magnet(-6.8))
    assert finding.verdict == "fail"
    assert finding.value == pytest.approx(1.8, abs=0.01)
    behind = subtract(narrow, [lathe(np.array([[3.25, -21.0], [3.25, -7.0]]), frame)])
    assert [f.verdict for f in found(behind, magnet(-6.8))] == ["pass"]


def test_what_is_buried_needs_no_way() -> None:
    """A disc in a void declared sealed under it passes; the same disc without it does not, nor with one elsewhere."""
    frame = np.eye(4)
    closed = subtract(BLOCK, [lathe(np.array([[3.25, -8.0], [3.25, -5.7]]), frame)])
    below = Void(step="s", part="part", at_mm=(0.0, 0.0, -8.0), volume_mm3=9.0, state="sealed")
    assert [f.verdict for f in found(closed, magnet(-7.0), voids=(below,))] == ["pass"]
    assert [f.verdict for f in found(closed, magnet(-7.0))] == ["fail"]
    beside = below.model_copy(update={"at_mm": (5.0, 0.0, -7.0)})
    assert [f.verdict for f in found(closed, magnet(-7.0), voids=(beside,))] == ["fail"]


@pytest.mark.parametrize("fixing", ["glue", "press", "ribs", "buried", "behind"])
@pytest.mark.parametrize("magnet_name", ["disc 3x1 N42", "disc 6x2 N42"])
def test_seats_as_the_step_cuts_them_pass(fixing, magnet_name) -> None:
    """Whatever holds the discs, interference and ribs included, the step's own seats let them in."""
    pair = flush_pair((26.0, 14.0), (6.0, 7.0))
    bench = bench_of(a=Solid.of(*pair[0]), b=Solid.of(*pair[1]))
    words = {"step": "seat_magnets", "between": ["a", "b"], "magnet": magnet_name, "count": 1, "fixing": fixing}
    words |= {"buried": {"skin": "1 mm"}, "behind": {"skin": "0.8 mm", "fixing": "press"}}.get(fixing, {})
    after = bench.after(SeatMagnets.model_validate(words).apply(bench))
    assert [f.verdict for f in Insertion().examine(after)] == ["pass", "pass"]


def test_a_later_step_that_closes_the_way_is_seen() -> None:
    """The part as it ends up counts, not as it was when the seat was cut."""
    bench = bench_of(ledger=Ledger(items=(magnet(),)), part=seat())
    closed = replace(bench.parts["part"], solid=roofed(3.0))
    (finding,) = Insertion().examine(replace(bench, parts={"part": closed}))
    assert finding.verdict == "fail"


def test_parts_without_items_say_nothing() -> None:
    """Nothing to put in, nothing found; things without a size are not swept."""
    assert found(BLOCK) == ()
    assert found(BLOCK, magnet().model_copy(update={"radius_mm": 0.0})) == ()


def test_what_the_recipe_carries_is_left_out():
    """Nobody states how a carried thing lies, so a shut way along z says nothing of it."""
    shut = roofed(2.0)
    assert found(shut, magnet().model_copy(update={"step": "carried"})) == ()
    assert found(shut, magnet())[0].verdict == "fail"


def test_an_item_in_solid_material_has_no_way() -> None:
    """A disc where no seat was cut lies in the plastic itself: the way out is none."""
    (finding,) = Insertion().examine(bench_of(part=BLOCK, ledger=Ledger(items=(magnet(z=-10.0),))))
    assert finding.verdict == "fail"
    assert finding.value == 0.0
