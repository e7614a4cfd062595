"""`write_step_wedge`: a printable gauge of light, the table its readings go into, and how to read it."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from prep.errors import BadValue, CannotWriteFile, FolderTaken
from prep.geometry.step_wedge import Well, code_of, step_wedge
from prep.geometry.write_mesh import write_mesh
from prep.tables import ProcessRow

STEPS_MM = (0.4, 0.6, 0.8, 1.2, 1.6, 2.4, 3.2)
"""Where light walls of printed models lie."""

MOST_STEPS = 12
STEEPEST = 8.0
"""Thickest step a wedge is made for, mm: beyond it a light wall is no longer one."""

HOW_TO = """\
Step wedge of {material}, {process}: {steps} mm

1. Print step-wedge.3mf {laid}, in the colour of the part, with
   its layers, walls and settings. Do not scale it: floors are whole {unit}s of {size:g} mm.
2. Lay it on a wide even light (a phone's white screen under a sheet of paper will do) in a dark room, engraving up.
   Cover every well but one with black card.
3. Read the light through each well with a meter, or with a camera whose exposure, white balance and distance are
   locked. Of a photograph take the linear value, not the displayed one: ((v / 255 + 0.055) / 1.055) ^ 2.4.
4. Read the open window, coded 0, and the same with black card over it: that is the dark reading.
5. share = (step - dark) / (open - dark). Write it beside each step in transmission.csv, strike the rows you did not
   read, and put the file into the `shop` folder beside your recipe. It replaces all readings of {material} that ship.
6. `prep table transmission` then shows the curve and its errors.
"""


@dataclass(frozen=True)
class StepWedge:
    """What was written.

    Attributes
    ----------
    files : the solid, the empty table, the codes, the instructions
    wells : the open window first, then the steps
    how_to : how to read it
    """

    files: tuple[Path, ...]
    wells: tuple[Well, ...]
    how_to: str


def steps_for(process: ProcessRow, steps_mm: Sequence[float], *, standing: bool = False) -> tuple[float, ...]:
    """The steps in whole layers, or in whole beads when standing, thinnest first, none twice.

    Raises
    ------
    BadValue
        Fewer than two or more than twelve are left, or one is no wall.
    """
    unit = process.bead_mm if standing else process.layer_mm
    wrong = [step for step in steps_mm if not 0.0 < step <= STEEPEST]
    if wrong:
        raise BadValue(
            "a step of the wedge is no light wall",
            found=f"{wrong[0]:g} mm, must be above 0 and at most {STEEPEST:g} mm",
            fix="write `--steps 0.4,0.8,1.6`",
        )
    counts = sorted({max(1, round(step / unit)) if unit else 0 for step in steps_mm})
    steps = tuple(round(count * unit, 6) for count in counts) if unit else tuple(sorted(set(steps_mm)))
    if not 2 <= len(steps) <= MOST_STEPS or len({code_of(step) for step in steps}) < len(steps):
        raise BadValue(
            f"a wedge has 2 to {MOST_STEPS} steps that differ",
            found=f"{len(steps)} after rounding to {unit:g} mm: {', '.join(f'{step:g}' for step in steps)}",
            fix="write steps that lie further apart, such as `--steps 0.4,0.8,1.6`",
        )
    return steps


def write_step_wedge(
    out: Path, process: ProcessRow, material: str, steps_mm: Sequence[float] = STEPS_MM, *, standing: bool = False
) -> StepWedge:
    """Write a step wedge for one material and process into a folder.

    Raises
    ------
    FolderTaken
        The folder holds a `transmission.csv`, which may have readings in it.
    BadValue
        The steps make no wedge.
    CannotWriteFile
        The system refuses.
    """
    table = out / "transmission.csv"
    if table.exists():
        raise FolderTaken(
            "the folder holds readings already",
            where=str(out),
            found=f"`{table.name}`",
            fix="choose another folder with -o, or move the file away",
        )
    steps = steps_for(process, steps_mm, standing=standing)
    stroke = max(0.8, process.feature_limit_mm)
    solid, wells = step_wedge(steps, stroke, max(0.6, 3.0 * process.layer_mm), standing=standing)
    mesh = out / "step-wedge.3mf"
    write_mesh(mesh, {"step-wedge": solid})
    unit, size = ("bead", process.bead_mm) if standing and process.bead_mm else ("layer", process.layer_mm)
    how_to = HOW_TO.format(
        material=material,
        process=process.name,
        steps=", ".join(f"{step:g}" for step in steps),
        laid="standing on its long side, as it is in the file" if standing else "flat, as it is in the file",
        unit=unit,
        size=size,
    )
    codes = {
        "material": material,
        "process": process.name,
        "standing": standing,
        "wells": [{"code": w.code, "thickness_mm": w.thickness_mm, "at_mm": list(w.middle_mm)} for w in wells],
    }
    texts = {
        out / "step-wedge.json": json.dumps(codes, indent=2, ensure_ascii=False) + "\n",
        out / "how-to.txt": how_to,
        table: _template(material, process, wells),
    }
    try:
        for path, text in texts.items():
            path.write_text(text, encoding="utf-8", newline="\n")
    except OSError as error:
        raise CannotWriteFile(
            "the wedge's table cannot be written",
            where=str(out),
            found=error.strerror or str(error),
            fix="choose a folder with -o that may be written to",
        ) from None
    return StepWedge((mesh, *texts), wells, how_to)


def _template(material: str, process: ProcessRow, wells: Sequence[Well]) -> str:
    """The table of readings with every share left empty."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(["name", "material", "thickness_mm", "share", "source"])
    for well in wells:
        if well.thickness_mm:
            name = f"{material} {process.name} {well.code} mm"
            writer.writerow([name, material, f"{well.thickness_mm:g}", "", f"step wedge, {process.name}"])
    return text.getvalue()
