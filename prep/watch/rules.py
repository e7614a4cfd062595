"""`Rules`: what `gate.yaml` asks of the files of a folder, with a default for everything it leaves out."""

from __future__ import annotations

import fnmatch
import hashlib
import json
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, ValidationError

from prep.contract import Frozen
from prep.errors import Faults
from prep.recipe.faults import faults_of
from prep.recipe.source import Source, read_source
from prep.tables import ProcessRow, Tables
from prep.units import LENGTH, Kind, Length, LengthBand, Point, TextForm, show_mm, write_band
from prep.watch.names import GATE_FILE

TIME = Kind("a time", "s", {"s": ("1", "0"), "min": ("60", "0"), "h": ("3600", "0")}, "5 s")
Seconds = Annotated[float, TextForm(TIME.read, TIME.write, "a time with its unit (s, min, h)", ("5 s",), "s")]
UNITS = Literal["mm", "um", "micron", "cm", "m", "in", "inch", "ft", "foot"]


class Expected(Frozen):
    """What is expected of files of one name pattern."""

    match: str = Field(min_length=1, description="a name pattern, `*` and `?` as in a shell", examples=["body*"])
    longest: LengthBand | None = Field(
        None, description="the longest side; catches a wrong unit", examples=["92 mm ± 1 mm"]
    )
    unit: UNITS | None = Field(None, description="of files that name none", examples=["inch"])


class Asking(Frozen):
    """What is asked of one file, in words that another process can read.

    Attributes
    ----------
    process : row of the processes table
    bed : x, y, z in mm, instead of the process's
    wall_mm : limit instead of the process's
    longest : as it would be written
    shop : folder of the shop's tables
    """

    process: str
    shop: str
    bed: tuple[float, float, float] | None = None
    wall_mm: float | None = None
    longest: str | None = None
    unit: str | None = None

    @property
    def short_hash(self) -> str:
        """Twelve digits that differ where anything asked differs."""
        asked = self.model_dump(mode="json", exclude={"shop"})
        return hashlib.sha256(json.dumps(asked, sort_keys=True).encode()).hexdigest()[:12]


class Rules(Frozen):
    """The keys of `gate.yaml`."""

    process: str = Field("extrusion-0.4", description="row of the `processes` table", examples=["extrusion-0.4"])
    bed: Point | None = Field(None, description="room to print in, instead of the process's")
    wall: Length | None = Field(None, gt=0, description="thinnest wall and web wanted, instead of the process's")
    longest: tuple[Expected, ...] = Field(
        (), description="what is expected of files by name; the first pattern that fits counts"
    )
    told: tuple[str, ...] = Field((), description="who is told: names for the board", examples=[["Ada"]])
    quiet: Seconds = Field(2.0, gt=0, le=3600, description="how long a file's size and time must stand still")
    interval: Seconds = Field(5.0, ge=0.05, le=3600, description="between two looks at the folder")
    stuck: Seconds = Field(600.0, gt=0, description="how long a copy may stand still unfinished until it is called so")
    largest: int = Field(600, gt=0, description="longest file that is read, in MB")
    time: Seconds = Field(300.0, gt=0, description="longest that one file may take")
    memory: int = Field(4096, ge=256, description="most memory that one file may take, in MB")

    def expected(self, file: str) -> Expected | None:
        """What is expected of a file: the first pattern that fits its name, case aside."""
        return next((one for one in self.longest if fnmatch.fnmatchcase(file.casefold(), one.match.casefold())), None)

    def asking(self, file: str, shop: Path) -> Asking:
        """What is asked of a file of this name."""
        expected = self.expected(file)
        return Asking(
            process=self.process,
            shop=str(shop),
            bed=self.bed,
            wall_mm=self.wall,
            longest=write_band(expected.longest, LENGTH) if expected and expected.longest else None,
            unit=expected.unit if expected else None,
        )


def over(bed: tuple[float, float, float] | None, row: ProcessRow) -> ProcessRow:
    """The process with the bed that the gate's file gives."""
    if bed is None:
        return row
    x, y, z = bed
    return replace(row, bed_x_mm=x, bed_y_mm=y, bed_z_mm=z)


def read_rules(folder: Path) -> Rules:
    """The rules of a folder; the defaults where it has no `gate.yaml`.

    Raises
    ------
    PrepError, Faults
        Everything that is wrong with `gate.yaml` or the shop's tables, with line, what was found and one thing to do.
    """
    tables = Tables.load(folder / "shop")
    path = folder / GATE_FILE
    rules = _rules(read_source(path)) if path.exists() or path.is_symlink() else Rules()
    tables.processes.get(rules.process)
    return rules


def _rules(source: Source) -> Rules:
    try:
        return Rules.model_validate(source.data)
    except ValidationError as error:
        faults = faults_of(error, Rules, source, ())
        raise faults[0] if len(faults) == 1 else Faults(faults) from None


def stated(rules: Rules, row: ProcessRow) -> dict[str, str]:
    """The rules in words for the board: "process", "bed", "wall", and "rules", one sentence a line."""
    lines = []
    given = rules.model_fields_set
    if not given:
        lines.append(f"no {GATE_FILE} in the folder: every limit is the default of its process")
    row = over(rules.bed, row)
    x, y, z = (f"{side:g}" for side in (row.bed_x_mm, row.bed_y_mm, row.bed_z_mm))
    for one in rules.longest:
        said = [f"longest side {write_band(one.longest, LENGTH)}"] if one.longest else []
        said += [f"in {one.unit} where the file names no unit"] if one.unit else []
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
