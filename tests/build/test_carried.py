"""Carried things: what their table row knows goes with them, and what a person must know is said."""

from __future__ import annotations

from pathlib import Path

import pytest
import trimesh

from fixtures.drawn import box
from prep.build.parts import Laid, read_bench
from prep.recipe import read_recipe

HEAD = "recipe: 1\nproject: lamp\nprocess: jetting-0.027\nparts:\n  body: {mesh: body.stl, material: jetted-rigid}\n"


@pytest.fixture
def laid(tmp_path: Path):
    """What is on the bench before the first step, with these things carried."""
    trimesh.Trimesh(*box((40.0, 40.0, 20.0)), process=False).export(tmp_path / "body.stl")

    def lay(*things: str) -> Laid:
        lines = "".join(f'  - {{{thing}, part: body, at: "0, 0, 0 mm"}}\n' for thing in things)
        (tmp_path / "lamp.yaml").write_text(HEAD + "carries:\n" + lines, "utf-8")
        return read_bench(read_recipe(tmp_path / "lamp.yaml"))

    return lay


@pytest.mark.parametrize(
    ("thing", "kind", "ferrous", "radius", "length", "highest"),
    [
        ("item: CR2032", "cell", True, 10.0, 3.2, None),  # IEC 60086: 20 x 3.2 mm
        ("item: cr 2032", "cell", True, 10.0, 3.2, None),
        ("item: AA", "cell", True, 7.25, 50.5, None),
        ("item: round 5 mm red", "led", False, 2.5, 8.71, None),
        ("item: chip 5050 white", "led", False, 3.5355, 1.6, None),
        ("item: disc 6x2 N42", "magnet", True, 3.0, 2.0, 80.0),
        ("item: M10 washer", "ballast", True, 10.0, 2.0, None),
        ("item: us cent", "ballast", False, 9.525, 1.52, None),
        ("item: 'steel shot 2 mm', mass: 5 g", "ballast", True, 0.0, 0.0, None),
        ("item: brass bell, mass: 12 g", "other", False, 0.0, 0.0, None),
    ],
)
def test_what_the_row_knows(laid, thing, kind, ferrous, radius, length, highest) -> None:
    """Kind, iron, size and heat limit are those of the row; a stranger has none."""
    (item,) = laid(thing).bench.ledger.items
    assert (item.id, item.step, item.kind, item.ferrous, item.highest_c) == ("C1", "carried", kind, ferrous, highest)
    assert (item.radius_mm, item.length_mm) == pytest.approx((radius, length), abs=1e-4)


def test_a_button_cell_brings_its_caution(laid) -> None:
    """Children, the door, the rules by name, and loose steel; a round cell speaks of steel alone; once each."""
    (said,) = laid("item: CR2032", "item: CR2032").cautions
    for word in ("CR2032", "children", "screw", "16 CFR 1263", "UL 4200A", "loose steel"):
        assert word in said
    (said,) = laid("item: AA").cautions
    assert "loose steel" in said
    assert "children" not in said


def test_a_magnet_brings_its_cautions(laid) -> None:
    """The flux index against 50 kG2 mm2, and the distance from heart devices; a small thin one is no hazard."""
    said = laid("item: disc 10x3 N42").cautions
    assert "swallowing hazard" in said[0]
    assert "pacemakers" in said[1]


def test_ballast_brings_its_caution(laid) -> None:
    """Lead says gloves and that it is toxic; lamps and strangers say nothing."""
    said = laid("item: 'lead shot 2 mm', mass: 5 g").cautions
    assert any("gloves" in words for words in said)
    assert any("oxic" in words for words in said)
    assert laid("item: round 5 mm red", "item: brass bell, mass: 12 g").cautions == ()
