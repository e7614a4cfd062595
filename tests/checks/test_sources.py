"""`sources`: what a build rests on that nobody has published."""

from __future__ import annotations

from dataclasses import replace

from fixtures.benches import bench_of, shipped_tables
from fixtures.drawn import box
from prep.checks.sources import Sources
from prep.contract import Bench, Item, Ledger
from prep.geometry.solid import Solid


def thing(name: str, kind: str = "ballast") -> Item:
    """An item of that name."""
    return Item(
        id="P1", item=name, kind=kind, step="weight", part="body", at_mm=(0, 0, 0), axis=(0, 0, 1.0), mass_g=1.0
    )


def bench(*items: Item) -> Bench:
    """A block with these things in it."""
    return bench_of(ledger=Ledger(items=items), body=Solid.of(*box()), lid=Solid.of(*box()))


def test_unverified_rows_are_named() -> None:
    """Process, material, magnet and counted ballast, each once, with status and what to do; one pass for the model."""
    (finding,) = Sources().examine(bench(thing("disc 6x2 N42", "magnet"), thing("3 x M10 washer"), thing("M10 washer")))
    assert (finding.verdict, finding.part) == ("pass", None)
    assert "process extrusion-0.4: unverified default; print the fit gauge" in finding.says
    assert "magnet disc 6x2 N42: from memory" in finding.says
    for name in ("pla", "M10 washer"):
        assert finding.says.count(f"{name}: ") == 1
    assert "\n" not in finding.says


def test_published_rows_are_left_out() -> None:
    """Published shot and coins say nothing, nor does a thing no table knows; nothing left says so."""
    (finding,) = Sources().examine(bench(thing("steel shot 2 mm"), thing("us cent"), thing("brass bell")))
    assert "shot" not in finding.says
    assert "cent" not in finding.says
    assert "bell" not in finding.says
    one = bench(thing("us cent"))
    pla = replace(shipped_tables().materials.get("pla"), status="published")
    parts = {name: replace(part, material=pla) for name, part in one.parts.items()}
    all_known = replace(one, process=replace(one.process, status="published"), parts=parts)
    assert Sources().examine(all_known)[0].says == "all 3 table rows used are published"


def test_the_shops_own_figures_need_no_advice() -> None:
    """A row the shop or recipe changed is named as theirs."""
    one = bench()
    own = replace(one, process=replace(one.process, status="shop"))
    assert "process extrusion-0.4: the shop's or the recipe's own figures" in Sources().examine(own)[0].says
