"""Outcomes kept between builds."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Literal

import numpy as np

from fixtures.drawn import box, ico_sphere
from prep.build.keys import step_key
from prep.build.store import MOST_KEPT, Store
from prep.contract import Bench, Finding, Item, Ledger, Outcome, Part, Prediction, Step
from prep.geometry.solid import Solid
from prep.tables import Tables

TABLES = Tables.load()


class Trims(Step):
    """A step with one setting."""

    step: Literal["trims"] = "trims"
    by: float = 1.0

    def changes(self) -> tuple[str, ...]:
        """One part."""
        return ("a",)

    def apply(self, bench: Bench) -> Outcome:
        """Nothing."""
        raise NotImplementedError


def bench(size: float = 10.0) -> Bench:
    """Two parts, the first of a size."""
    parts = {}
    for name, drawn in (("a", box((size, 9.0, 8.0))), ("b", ico_sphere(5.0, 2))):
        solid = Solid.of(*drawn)
        parts[name] = Part(name, solid, solid, TABLES.materials.get("pla"))
    return Bench(parts, Ledger(), TABLES.processes.get("extrusion-0.4"), TABLES, 0.8)


def outcome() -> Outcome:
    """One of everything a step may hand back."""
    item = Item(
        id="M1", item="disc", kind="magnet", step="s", part="a", at_mm=(0, 0, 0), axis=(0, 0, 1), mass_g=1, pole_out="N"
    )
    return Outcome(
        solids={"a": Solid.of(*ico_sphere(4.0, 2))},
        predictions=(Prediction(part="a", volume_mm3=-1.5, volume_tolerance_mm3=0.1),),
        extra={"plug": Solid.of(*box((1.0, 2.0, 3.0)))},
        ledger=Ledger(items=(item,)),
        facts={"pull_n": [1.5, 2.5], "says": "so"},
        findings=(Finding(check="hold", part="a", verdict="pass", says="holds"),),
        cautions=("mind",),
    )


def test_what_is_kept_comes_back_the_same(tmp_path: Path) -> None:
    """Solids to the last bit, and every word beside them."""
    store, key = Store(tmp_path), step_key(Trims(), bench())
    assert store.get(key) is None
    kept = outcome()
    store.put(key, kept)
    back = store.get(key)
    assert back is not None
    assert np.array_equal(back.solids["a"].vertices, kept.solids["a"].vertices)
    assert np.array_equal(back.solids["a"].triangles, kept.solids["a"].triangles)
    assert back.extra["plug"].volume_mm3 == kept.extra["plug"].volume_mm3
    for name in ("predictions", "ledger", "facts", "places", "findings", "cautions", "views"):
        assert getattr(back, name) == getattr(kept, name)


def test_a_damaged_entry_counts_as_not_there(tmp_path: Path) -> None:
    """Half a file, or something else under its name, is passed over."""
    store, key = Store(tmp_path), step_key(Trims(), bench())
    store.put(key, outcome())
    (entry,) = tmp_path.glob("*.npz")
    entry.write_bytes(entry.read_bytes()[:500])
    assert store.get(key) is None
    entry.write_text("not an archive")
    assert store.get(key) is None


def test_only_the_newest_are_kept(tmp_path: Path) -> None:
    """The folder does not grow without end, and no half-written file stays in it."""
    store = Store(tmp_path)
    for number in range(MOST_KEPT + 3):
        store.put(step_key(Trims(by=float(number)), bench()), outcome())
    assert len(list(tmp_path.iterdir())) == MOST_KEPT


def test_a_folder_that_cannot_be_written_is_no_fault(tmp_path: Path) -> None:
    """Keeping is a help, not a duty: where the folder's name is taken by a file, the build goes on."""
    taken = tmp_path / "store"
    taken.write_text("")
    Store(taken).put(step_key(Trims(), bench()), outcome())
    assert taken.read_text() == ""


def test_a_key_names_what_changed() -> None:
    """Each cause of a rebuild is told by name, and nothing else is."""
    key = step_key(Trims(), bench())
    assert step_key(Trims(), bench()).whole == key.whole
    assert step_key(Trims(by=2.0), bench()).changed_since(key.pieces) == ("settings",)
    assert step_key(Trims(), bench(11.0)).changed_since(key.pieces) == ("part a",)
    other = replace(bench(), wall_limit_mm=1.2)
    assert step_key(Trims(), other).changed_since(key.pieces) == ("limits",)
    powder = replace(bench(), process=TABLES.processes.get("powder-0.1"))
    assert step_key(Trims(), powder).changed_since(key.pieces) == ("process",)


def test_a_part_the_step_does_not_touch_does_not_matter() -> None:
    """A changed part elsewhere leaves the step kept."""
    changed = bench()
    parts = dict(changed.parts)
    parts["b"] = replace(parts["b"], solid=Solid.of(*ico_sphere(6.0, 2)))
    assert step_key(Trims(), replace(changed, parts=parts)).whole == step_key(Trims(), changed).whole


def test_last_keys_are_remembered_by_recipe(tmp_path: Path) -> None:
    """The keys of the last build come back by step title; none where there was no build."""
    store, key = Store(tmp_path), step_key(Trims(), bench())
    assert store.last_keys(Path("timer.yaml")) == {}
    store.keep_keys(Path("timer.yaml"), {"trims": key})
    assert store.last_keys(Path("timer.yaml")) == {"trims": key.pieces}
    (kept,) = tmp_path.iterdir()
    kept.write_text("{half")
    assert store.last_keys(Path("timer.yaml")) == {}


def test_recipes_of_one_name_do_not_share_keys(tmp_path: Path) -> None:
    """Recipes called the same keep their keys apart in one store; one recipe found by two ways does not."""
    store, key = Store(tmp_path / "store"), step_key(Trims(), bench())
    store.keep_keys(tmp_path / "a" / "model.yaml", {"one": key})
    store.keep_keys(tmp_path / "b" / "model.yaml", {"two": key})
    store.keep_keys(tmp_path / "b" / "model.yml", {"three": key})
    assert list(store.last_keys(tmp_path / "a" / "model.yaml")) == ["one"]
    assert list(store.last_keys(tmp_path / "a" / ".." / "b" / "model.yaml")) == ["two"]


def test_the_store_of_a_recipe_is_beside_it_and_made_when_needed(tmp_path: Path) -> None:
    """Looking makes no folder, nor does a build without steps; keeping does."""
    recipe = tmp_path / "model.yaml"
    store, key = Store.beside(recipe), step_key(Trims(), bench())
    assert store.get(key) is None
    assert store.last_keys(recipe) == {}
    store.keep_keys(recipe, {})
    assert list(tmp_path.iterdir()) == []
    store.put(key, outcome())
    assert len(list((tmp_path / "build" / ".prep-store").iterdir())) == 1


def test_a_fresh_store_gives_nothing_and_keeps_all(tmp_path: Path) -> None:
    """What is run afresh is there for the next build."""
    recipe, key = tmp_path / "model.yaml", step_key(Trims(), bench())
    fresh = Store.beside(recipe, fresh=True)
    fresh.put(key, outcome())
    assert fresh.get(key) is None
    assert Store.beside(recipe).get(key) is not None
