"""What the gate makes of the rules in `gate.yaml`: the process with its bed, and what is said of them on the board."""

from __future__ import annotations

from dataclasses import replace

from prep.recipe.gate_rules import GATE_FILE, Rules
from prep.tables import ProcessRow
from prep.units import LENGTH, show_mm, write_band
from prep.units.band import UNSTATED


def over(bed: tuple[float, float, float] | None, row: ProcessRow) -> ProcessRow:
    """The process with the bed that the gate's file gives."""
    if bed is None:
        return row
    x, y, z = bed
    return replace(row, bed_x_mm=x, bed_y_mm=y, bed_z_mm=z)


def stated(rules: Rules, row: ProcessRow) -> dict[str, str]:
    """The rules in words for the board: "process", "bed", "wall", and "rules", one sentence a line."""
    lines = []
    given = rules.model_fields_set
    if not given:
        lines.append(f"no {GATE_FILE} in the folder: every limit is the default of its process")
    row = over(rules.bed, row)
    x, y, z = (f"{side:g}" for side in (row.bed_x_mm, row.bed_y_mm, row.bed_z_mm))
    for one in rules.longest:
        said = [f"longest side {write_band(one.longest.or_within(UNSTATED), LENGTH)}"] if one.longest else []
        said += [f"in {one.unit} where the file names no unit"] if one.unit else []
        said += [f"told: {', '.join(one.told)}"] if one.told else []
        lines.append(f"{one.match}: {', '.join(said) or 'nothing asked'}")
    if not rules.longest:
        lines.append("no size is expected of any file; one that is hardly that of a part in mm is warned of")
    lines.append(f"a file is judged when it has stood still for {rules.quiet:g} s and can be read to its end")
    return {
        "process": row.name,
        "bed": f"bed {x} x {y} x {z} mm" + ("" if rules.bed is None else f", not that of {row.name}"),
        "wall": f"walls from {show_mm(rules.wall or row.wall_limit_mm)}"
        + ("" if rules.wall is None else f", not that of {row.name}"),
        "rules": "\n".join(lines),
    }
