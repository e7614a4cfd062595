"""gate.yaml: what it asks, what is asked without it, and every mistake in it named with its line."""

from __future__ import annotations

from pathlib import Path

import pytest

from fixtures.benches import shipped_tables
from prep.errors import BadQuantity, BadRecipe, BadTable, BadValue, Faults, PrepError, UnknownKey, UnknownRow
from prep.watch.rules import Rules, over, read_rules, stated

FULL = """process: extrusion-0.4
bed: 100, 110, 120 mm
wall: 1.2 mm
longest:
  - {match: "body*", longest: 92 mm ± 1 mm}
  - {match: "*.obj", unit: inch}
told: [Ada, Ben]
quiet: 3 s
interval: 1 min
stuck: 5 min
largest: 50
time: 90 s
memory: 2048
"""


def rules_of(folder: Path, text: str) -> Rules:
    """The rules of a folder whose gate.yaml holds a text."""
    (folder / "gate.yaml").write_text(text, encoding="utf-8")
    return read_rules(folder)


def test_everything_said(tmp_path: Path) -> None:
    """Every key is read in its unit, and the first pattern that fits a name, case aside, counts."""
    rules = rules_of(tmp_path, FULL)
    assert (rules.bed, rules.wall, rules.quiet, rules.interval) == ((100.0, 110.0, 120.0), 1.2, 3.0, 60.0)
    assert (rules.stuck, rules.largest, rules.time, rules.memory) == (300.0, 50, 90.0, 2048)
    body, other = rules.asking("Body_revC.obj", tmp_path), rules.asking("cap.OBJ", tmp_path)
    assert (body.longest, body.unit) == ("92 mm ± 1 mm", None)
    assert (other.longest, other.unit) == (None, "inch")
    assert body.short_hash != other.short_hash
    assert rules.asking("body2.stl", tmp_path).short_hash == body.short_hash
    said = stated(rules, shipped_tables().processes.get("extrusion-0.4"))
    assert said["bed"] == "bed 100 x 110 x 120 mm, not that of extrusion-0.4"
    assert said["wall"] == "walls from 1.20 mm, not that of extrusion-0.4"
    assert "body*: longest side 92 mm ± 1 mm" in said["rules"]


def test_nothing_said(tmp_path: Path) -> None:
    """Without gate.yaml the process's own figures hold, and the board is told that these are defaults."""
    rules = read_rules(tmp_path)
    row = shipped_tables().processes.get("extrusion-0.4")
    assert rules == Rules()
    assert over(rules.bed, row) == row
    said = stated(rules, row)
    assert "no gate.yaml" in said["rules"]
    assert said["bed"] == f"bed {row.bed_x_mm:g} x {row.bed_y_mm:g} x {row.bed_z_mm:g} mm"


def test_bed_replaces_that_of_the_process() -> None:
    """The bed given is the one that the check reads."""
    row = over((10.0, 20.0, 30.0), shipped_tables().processes.rows[0])
    assert (row.bed_x_mm, row.bed_y_mm, row.bed_z_mm) == (10.0, 20.0, 30.0)


@pytest.mark.parametrize(
    ("text", "kind", "says"),
    [
        ("proces: x\n", UnknownKey, "did you mean `process`"),
        ("longest: [{match: a, longst: 1 mm}]\n", UnknownKey, "did you mean `longest`"),
        ("wall: 3\n", BadQuantity, "write `3 mm`"),
        ("quiet: 3 mm\n", BadQuantity, "is a unit of length"),
        ("interval: 0 s\n", BadValue, "outside its limits"),
        ("told: Ada\n", BadValue, "must be a list"),
        ("longest: [{longest: 1 mm}]\n", PrepError, "`match` is missing"),
        ("process: nope\n", UnknownRow, "no row `nope`"),
        ("- 1\n", BadRecipe, "mapping"),
        ("a: [\n", BadRecipe, "gate.yaml"),
    ],
)
def test_mistakes(tmp_path: Path, text: str, kind: type[PrepError], says: str) -> None:
    """Each mistake is a fault with what was found and one thing to do."""
    with pytest.raises(kind) as caught:
        rules_of(tmp_path, text)
    assert says in str(caught.value)


def test_all_mistakes_at_once(tmp_path: Path) -> None:
    """Two mistakes are told together, each with its line."""
    with pytest.raises(Faults) as caught:
        rules_of(tmp_path, "wall: 3\nproces: x\n")
    assert "gate.yaml:1" in str(caught.value)
    assert "gate.yaml:2" in str(caught.value)


def test_shop_tables_count(tmp_path: Path) -> None:
    """A process of the shop's own table may be asked for; a table that cannot be read is a fault."""
    (tmp_path / "shop").mkdir()
    table = tmp_path / "shop" / "processes.csv"
    table.write_text("name,bed_x_mm\nextrusion-0.4,77\n", encoding="utf-8")
    assert rules_of(tmp_path, "process: extrusion-0.4\n").process == "extrusion-0.4"
    table.write_text("name,nonsense\nx,1\n", encoding="utf-8")
    with pytest.raises((BadTable, Faults)):
        read_rules(tmp_path)
