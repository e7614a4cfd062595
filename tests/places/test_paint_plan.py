"""The order of the coats."""

from __future__ import annotations

import graphlib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from prep.places.paint_plan import Coating, chained, paint_plan
from prep.tables import Tables

PAINTS = Tables.load().paints


def coat(step, paint, area=1_000.0, part="body", touches=(), inside=False):
    """One coat with the film of its row."""
    row = PAINTS.get(paint)
    return Coating(step, part, "region", row, area, row.film_mm, touches, inside)


def steps_of(turns):
    """Titles in their order."""
    return [turn.coating.step for turn in turns]


def test_primer_colours_clear() -> None:
    """Primer goes first and clear last, whatever the order they are written in."""
    plan = paint_plan([coat("c", "clear coat"), coat("b", "black enamel"), coat("p", "grey primer")])
    assert steps_of(plan) == ["p", "b", "c"]


def test_light_before_dark() -> None:
    """White, orange, black, though black covers least."""
    # common practice, no source
    plan = paint_plan([coat("k", "black enamel", 10.0), coat("o", "orange enamel"), coat("w", "white enamel", 9e3)])
    assert steps_of(plan) == ["w", "o", "k"]


def test_small_before_large() -> None:
    """Of two as light as one another the smaller goes first."""
    plan = paint_plan([coat("large", "black enamel", 9_000.0), coat("small", "black acrylic", 90.0)])
    assert steps_of(plan) == ["small", "large"]


def test_wet_neighbours_apart() -> None:
    """Where a third coat of the same lightness can go between two that touch, it does, and nobody waits a day."""
    a, b = coat("a", "black enamel", 10.0, touches=("b",)), coat("b", "black enamel", 20.0, touches=("a",))
    far = coat("far", "black enamel", 30.0)
    plan = paint_plan([a, b, far])
    assert steps_of(plan) == ["a", "far", "b"]
    assert max(turn.wait_min for turn in plan) == 120.0
    assert paint_plan([a, b])[1].wait_min == 1440.0


def test_other_parts_do_not_wait() -> None:
    """A coat on another part goes on at once."""
    plan = paint_plan([coat("a", "white enamel"), coat("b", "black enamel", part="dial")])
    assert [turn.wait_min for turn in plan] == [0.0, 0.0]


def test_inner_faces_first() -> None:
    """Black in a light's chamber goes on before the primer."""
    plan = paint_plan([coat("p", "grey primer"), coat("chamber", "black acrylic", inside=True)])
    assert steps_of(plan) == ["chamber", "p"]


def test_paint_by_hand() -> None:
    """Ten square centimetres of orange: 0.0375 ml dry, 0.107 ml wet, 0.214 ml with half sprayed past."""
    # worked by hand with the row's film, solids and overspray
    turn = paint_plan([coat("o", "orange enamel", 1_000.0)])[0]
    assert turn.wet_ml == pytest.approx(0.0375 / 0.35 / 0.5, rel=1e-9)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.sampled_from([row.name for row in PAINTS.rows]), st.floats(1.0, 1e5)), max_size=7))
def test_every_coat_once_and_ranks_kept(drawn) -> None:
    """No coat is lost or doubled, and no dark colour comes before a clearly lighter one."""
    coats = [coat(f"s{k}", paint, area) for k, (paint, area) in enumerate(drawn)]
    plan = paint_plan(coats)
    assert sorted(steps_of(plan)) == sorted(one.step for one in coats)
    kinds = [["primer", "colour", "clear"].index(turn.coating.paint.kind) for turn in plan]
    assert kinds == sorted(kinds)


def test_tasks_chained_in_order() -> None:
    """The first task of a step waits for the last of the step before it, and no ring comes of it."""
    after = {"mask a": (), "spray a": ("mask a",), "mask b": (), "spray b": ("mask b",), "print": ()}
    step_of = {"mask a": "a", "spray a": "a", "mask b": "b", "spray b": "b", "print": "print"}
    more = chained(after, ["b", "a"], step_of)
    assert more == {"mask a": {"spray b"}}
    joined = {task: {*waits, *more.get(task, ())} for task, waits in after.items()}
    order = list(graphlib.TopologicalSorter(joined).static_order())
    assert order.index("spray b") < order.index("mask a")
