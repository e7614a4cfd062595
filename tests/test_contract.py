"""What steps and checks share: ledger, bench, weighing, and how both kinds are found."""

from __future__ import annotations

from dataclasses import FrozenInstanceError, replace

import numpy as np
import pytest
from pydantic import ValidationError

from fixtures.benches import bench_of
from fixtures.drawn import box, moved
from prep.checks import all_checks
from prep.contract import (
    Bench,
    Check,
    Film,
    Finding,
    Item,
    Ledger,
    Outcome,
    Prediction,
    Step,
    Void,
    Work,
    weigh,
    weigh_part,
    worst,
)
from prep.geometry.solid import Solid
from prep.steps import all_steps

BLOCK = Solid.of(*box((100.0, 60.0, 40.0)))
OTHER = Solid.of(*moved(box(), (0.0, 0.0, 50.0)))


def item(name: str, mass: float, at=(0.0, 0.0, 0.0), part: str = "body", **more) -> Item:
    """A bought thing."""
    return Item(id=name, item=name, kind="other", step="s", part=part, at_mm=at, axis=(0, 0, 1.0), mass_g=mass, **more)


def finding(verdict) -> Finding:
    """A finding of nothing but a verdict."""
    return Finding(check="c", part=None, verdict=verdict, says="s")


def bench(*items: Item, process: str = "jetting-0.027") -> Bench:
    """Two parts, printed full, with these items."""
    return bench_of(process, ledger=Ledger(items=items), body=BLOCK, lid=OTHER)


def test_ledgers_join_in_order() -> None:
    """Entries of all four kinds go on after those there were, and neither ledger changes."""
    one = Ledger(items=(item("a", 1.0),), work=(Work(id="w", step="s", verb="print", says="p"),))
    void = Void(step="s", part="body", at_mm=(0, 0, 0), volume_mm3=3.0, state="open")
    film = Film(step="s", part="body", region="r", coat="c", thickness_mm=0.05)
    two = Ledger(items=(item("b", 2.0), item("c", 3.0)), voids=(void,), films=(film,))
    both = one.with_entries(two)
    assert [i.id for i in both.items] == ["a", "b", "c"]
    assert (both.voids, both.films, both.work) == ((void,), (film,), one.work)
    assert len(one.items) == 1
    assert Ledger().with_entries(both) == both == both.with_entries(Ledger())


def test_models_are_frozen_and_refuse_stray_fields() -> None:
    """Nothing in a ledger can be changed, and an unknown field is refused."""
    with pytest.raises(ValidationError):
        item("a", 1.0).mass_g = 2.0
    with pytest.raises(ValidationError, match="colour"):
        item("a", 1.0, colour="red")
    with pytest.raises(FrozenInstanceError):
        bench().wall_limit_mm = 2.0  # type: ignore[misc]


def test_the_bench_after_an_outcome() -> None:
    """New solids and entries are on the new bench; the old bench, the originals and other parts stay as they were."""
    before = bench(item("a", 1.0))
    smaller = Solid.of(*box((90.0, 60.0, 40.0)))
    says = Prediction(part="body", volume_mm3=-24000.0, volume_tolerance_mm3=1.0)
    after = before.after(Outcome({"body": smaller}, (says,), ledger=Ledger(items=(item("b", 2.0),))))
    assert after.parts["body"].solid is smaller
    assert after.parts["body"].original is BLOCK
    assert after.parts["lid"] is before.parts["lid"]
    assert before.parts["body"].solid is BLOCK
    assert [i.id for i in after.ledger.items] == ["a", "b"]
    assert [i.id for i in before.ledger.items] == ["a"]


def test_a_full_print_is_weighed_in_closed_form() -> None:
    """A part printed full weighs volume times density, with the band of its material."""
    pla = bench().parts["body"].material
    lump = weigh_part(bench(), "body")
    assert lump.mass_g == pytest.approx(240.0 * pla.density_g_cm3)
    assert (lump.low_g, lump.high_g) == pytest.approx((240.0 * pla.density_low, 240.0 * pla.density_high))
    assert lump.centre_mm == pytest.approx([0.0, 0.0, 0.0], abs=1e-9)


def test_the_whole_model_is_parts_and_items() -> None:
    """All parts and all items count, each at its place; of one part, its own items only."""
    on = bench(item("a", 50.0, (30.0, 0, 0)), item("b", 10.0, (0, 0, 50.0), part="lid", mass_band_g=(9.0, 12.0)))
    density = on.parts["body"].material.density_g_cm3
    whole = weigh(on)
    total = 240.0 * density + 1.0 * density + 60.0
    assert whole.mass_g == pytest.approx(total)
    assert whole.centre_mm == pytest.approx([1500.0 / total, 0.0, (density + 10.0) * 50.0 / total])
    lid = weigh(on, only="lid")
    assert lid.mass_g == pytest.approx(density + 10.0)
    material = on.parts["lid"].material
    assert (lid.low_g, lid.high_g) == pytest.approx((material.density_low + 9.0, material.density_high + 12.0))


def test_a_weighed_part_has_no_band() -> None:
    """The scale settles the density: the mass is as weighed, its band closed, and a later cut keeps the factor."""
    on = bench()
    computed = weigh_part(on, "body").mass_g
    weighed = replace(on.parts["body"], weighed_g=1.1 * computed)
    lump = weigh_part(replace(on, parts={"body": weighed}), "body")
    assert (lump.low_g, lump.mass_g, lump.high_g) == pytest.approx((1.1 * computed,) * 3)
    half = replace(weighed, solid=Solid.of(*box((50.0, 60.0, 40.0), (25.0, 0.0, 0.0))))
    cut = weigh_part(replace(on, parts={"body": half}), "body")
    assert cut.mass_g == pytest.approx(0.55 * computed)
    assert cut.centre_mm == pytest.approx(np.array([25.0, 0.0, 0.0]))


@pytest.mark.parametrize(
    ("verdicts", "expected"),
    [([], "pass"), (["pass"], "pass"), (["pass", "warn"], "warn"), (["fail", "warn", "pass"], "fail")],
)
def test_the_worst_verdict(verdicts, expected) -> None:
    """Fail is worse than warn, warn than pass; nothing found is a pass."""
    assert worst(tuple(finding(verdict) for verdict in verdicts)) == expected


def test_steps_and_checks_are_found_by_word() -> None:
    """Each is found under its own word, in alphabetical order, without anyone listing them."""
    for found, kind in ((all_steps(), Step), (all_checks(), Check)):
        assert list(found) == sorted(found)
        assert all(issubclass(thing, kind) and thing.word() == word for word, thing in found.items())
    assert "seat_magnets" in all_steps()
    assert {"solid", "sealed_void", "insertion", "bed", "ferrous"} <= set(all_checks())


def test_a_step_is_called_by_its_name_or_its_word() -> None:
    """Reports use the name given, else the word with spaces."""
    words = {"step": "seat_magnets", "between": ["a", "b"], "magnet": "disc 6x2 N42"}
    kind = all_steps()["seat_magnets"]
    assert kind.model_validate(words).title == "seat magnets"
    assert kind.model_validate(words | {"name": "back magnets"}).title == "back magnets"
