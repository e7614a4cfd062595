"""What the gate makes of its rules: the process with the bed that was given, and what the board says is asked."""

from __future__ import annotations

from fixtures.benches import shipped_tables
from prep.recipe.gate_rules import Rules
from prep.watch.rules import over, stated

ROW = "extrusion-0.4"


def test_stated() -> None:
    """The board is told what differs from the process, and what is expected of which files."""
    asked = {
        "bed": "100, 110, 120 mm",
        "wall": "1.2 mm",
        "quiet": "3 s",
        "longest": [
            {"match": "body*", "longest": "92 mm ± 1 mm", "told": ["Ada", "Ben"]},
            {"match": "*.obj", "unit": "inch"},
            {"match": "cap*"},
        ],
    }
    said = stated(Rules.model_validate(asked), shipped_tables().processes.get(ROW))
    assert said["bed"] == "bed 100 x 110 x 120 mm, not that of extrusion-0.4"
    assert said["wall"] == "walls from 1.20 mm, not that of extrusion-0.4"
    assert said["rules"].splitlines() == [
        "body*: longest side 92 mm ± 1 mm, told: Ada, Ben",
        "*.obj: in inch where the file names no unit",
        "cap*: nothing asked",
        "a file is judged when it has stood still for 3 s and can be read to its end",
    ]


def test_stated_without_rules() -> None:
    """Without gate.yaml the process's own figures hold, and the board is told that these are defaults."""
    rules, row = Rules(), shipped_tables().processes.get(ROW)
    assert over(rules.bed, row) == row
    said = stated(rules, row)
    assert "no gate.yaml" in said["rules"]
    assert said["bed"] == f"bed {row.bed_x_mm:g} x {row.bed_y_mm:g} x {row.bed_z_mm:g} mm"


def test_bed_replaces_that_of_the_process() -> None:
    """The bed given is the one that the check reads."""
    row = over((10.0, 20.0, 30.0), shipped_tables().processes.rows[0])
    assert (row.bed_x_mm, row.bed_y_mm, row.bed_z_mm) == (10.0, 20.0, 30.0)
