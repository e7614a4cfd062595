"""The words of a recipe that belong to no step: parts, what they carry, checks, outputs, and the whole."""

from __future__ import annotations

import math
import re
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, PrivateAttr, SerializeAsAny, StringConstraints

from prep.contract import Check, Frozen, Step
from prep.recipe.overrides import MaterialWanted, ProcessWanted
from prep.recipe.source import Keys, Source
from prep.tables import MaterialRow, ProcessRow, Tables
from prep.units import Angles, Direction, LengthBand, Mass, Point

Name = Annotated[str, StringConstraints(min_length=1, max_length=80, strip_whitespace=True)]
PART_NAME = r"^[A-Za-z0-9][A-Za-z0-9 _-]{0,39}$"
"""Part names become file names."""


def _whole_number_as_text(value: object) -> object:
    return str(value) if isinstance(value, int) and not isinstance(value, bool) else value


def _material_name(value: object) -> object:
    return {"name": value} if isinstance(value, str) else value


class Placement(Frozen):
    """From the frame of a part's file into the frame of the assembly: first turned, then moved.

    The turns are about the fixed x, then y, then z axis, by the right hand.
    """

    turn: Angles = Field((0.0, 0.0, 0.0), description="turns about the fixed x, then y, then z axis")
    move: Point = Field((0.0, 0.0, 0.0), description="the move that follows the turns")

    def matrix(self) -> tuple[tuple[float, float, float, float], ...]:
        """(3, 4) rows that act on columns: point in the assembly = rows @ (x, y, z, 1) of the file, mm.

        Quarter turns are exact.
        """
        (sx, cx), (sy, cy), (sz, cz) = (_sine_and_cosine(degrees) for degrees in self.turn)
        rows = (
            (cz * cy, cz * sy * sx - sz * cx, cz * sy * cx + sz * sx),
            (sz * cy, sz * sy * sx + cz * cx, sz * sy * cx - cz * sx),
            (-sy, cy * sx, cy * cx),
        )
        return tuple((a + 0.0, b + 0.0, c + 0.0, shift) for (a, b, c), shift in zip(rows, self.move, strict=True))


class PartWanted(Frozen):
    """One part: its mesh, what it is printed in, and how it stands in the assembly."""

    mesh: str = Field(min_length=1, description="STL, 3MF, OBJ or PLY, relative to the recipe", examples=["body.stl"])
    unit: Literal["mm", "um", "micron", "cm", "m", "in", "inch", "ft", "foot"] = Field(
        "mm", description="for formats that carry no unit"
    )
    longest: LengthBand | None = Field(
        None,
        description="the longest side of the part's bounds; catches a wrong unit",
        examples=["92 mm ± 1 mm"],
    )
    material: Annotated[
        MaterialWanted, BeforeValidator(_material_name, json_schema_input_type=str | MaterialWanted)
    ] = Field(description="a row of the `materials` table, or a mapping with a name and a density", examples=["pla"])
    up: Direction = Field((0.0, 0.0, 1.0), description="build direction, in the assembly's frame")
    object: Name | None = Field(None, description="one object of a 3MF file with several; default: all of them, united")
    place: Placement | None = Field(None, description="from the file's frame into the assembly's; default: as exported")
    weighed: Mass | None = Field(None, gt=0, description="the bare print on the scale, before any step")


class Carried(Frozen):
    """A bought item the model holds but the recipe does not cut for."""

    item: Name = Field(description="a row of any table of bought things, or a name with `mass`", examples=["CR2032"])
    part: Name = Field(description="the part that holds it")
    at: Point = Field(description="its centre of mass, in the assembly's frame")
    mass: Mass | None = Field(None, gt=0, description="default: the row's mass")


class CheckWanted(Frozen):
    """One check as a recipe sets it."""

    check: SerializeAsAny[Check]
    accept: str | None = Field(
        None, min_length=3, description="the reason why a finding is kept as a warning instead of a failure"
    )


class Outputs(Frozen):
    """What a build writes."""

    format: Literal["3mf", "stl", "both"] = Field("3mf", description="of the finished parts")


class Recipe(Frozen):
    """One model: its parts, what is done to them, what must hold, and what is written."""

    recipe: Literal[1] = Field(description="version of this language")
    project: Name = Field(description="what the model is called", examples=["kitchen timer"])
    revision: Annotated[Name, BeforeValidator(_whole_number_as_text, json_schema_input_type=str | int)] = Field(
        "A", description="which revision of it"
    )
    process: SerializeAsAny[ProcessWanted] = Field(
        description="a row of the `processes` table, or a mapping that overrides one", examples=["extrusion-0.4"]
    )
    parts: dict[str, PartWanted] = Field(min_length=1, description="the parts by name")
    carries: tuple[Carried, ...] = Field((), description="bought items the model holds but no step cuts for")
    steps: tuple[SerializeAsAny[Step], ...] = Field((), description="what is done, in this order")
    checks: dict[str, CheckWanted] = Field({}, description="checks with tighter limits, or with an accepted reason")
    outputs: Outputs = Field(Outputs(), description="what a build writes")

    _source: Source = PrivateAttr()
    _tables: Tables = PrivateAttr()

    @property
    def path(self) -> Path:
        """The recipe's file, as the person named it."""
        return self._source.path

    @property
    def folder(self) -> Path:
        """Where the recipe's paths begin."""
        return self._source.path.parent

    @property
    def sha256(self) -> str:
        """Hash of the recipe's bytes."""
        return self._source.sha256

    @property
    def tables(self) -> Tables:
        """The shipped tables with the shop's, from `shop/` beside the recipe."""
        return self._tables

    @property
    def slug(self) -> str:
        """Project and revision as one word for a folder."""
        return re.sub(r"[^A-Za-z0-9._-]+", "-", f"{self.project}-{self.revision}").strip("-.") or "model"

    @property
    def process_row(self) -> ProcessRow:
        """The process with this recipe's figures over it."""
        return self.process.over(self._tables)

    def material_row(self, part: str) -> MaterialRow:
        """What a part is printed in, with this recipe's figures over the table's."""
        return self.parts[part].material.over(self._tables)

    def mesh_path(self, part: str) -> Path:
        """Where a part's mesh is."""
        return self.folder / self.parts[part].mesh

    def bodies(self) -> tuple[str, ...]:
        """Paths, as written, of the further meshes that steps name, each once."""
        return tuple(dict.fromkeys(body for step in self.steps for body in step.bodies()))

    def body_path(self, body: str) -> Path:
        """Where a mesh is that steps name by this path."""
        return self.folder / body

    def carried_mass_g(self, carried: Carried) -> float:
        """Mass of a carried item, its own or its row's."""
        return row_mass_g(carried, self._tables)

    def line_of(self, step: int) -> int:
        """The line on which a step begins, steps counted from 0."""
        return self._source.lines[("steps", step)]

    def where(self, *keys: str | int) -> str:
        """File and line of what stands under these keys: `where("parts", "body", "mesh")`."""
        return self._source.where(keys)

    def step_where(self, step: int) -> str:
        """File, line and name of a step, for a fault that it raised."""
        return f'{self.where("steps", step)}, step "{self.steps[step].title}"'

    def all_checks(self) -> dict[str, CheckWanted]:
        """Every check there is, as this recipe sets it or with its own defaults, in alphabetical order."""
        from prep.checks import all_checks

        return {word: self.checks.get(word) or CheckWanted(check=kind()) for word, kind in all_checks().items()}

    def with_source(self, source: Source, tables: Tables) -> Recipe:
        """The same recipe, knowing its file and its tables."""
        self._source, self._tables = source, tables
        return self


def row_mass_g(carried: Carried, tables: Tables) -> float:
    """Mass of a carried item, g: its own, or that of the one row that has its name and a mass.

    Raises
    ------
    UnknownRow
        No table of bought things has a row of that name with a mass.
    """
    if carried.mass is not None:
        return carried.mass
    from prep.errors import UnknownRow
    from prep.tables.table import key_of, nearest_word

    bought: list[Any] = [*tables.cells.rows, *tables.leds.rows, *tables.magnets.rows, *tables.ballast.rows]
    masses = {row.name: row.mass_g for row in bought if row.mass_g > 0.0}
    for name, mass in masses.items():
        if key_of(name) == key_of(carried.item):
            return float(mass)
    near = nearest_word(carried.item, masses)
    raise UnknownRow(
        f"no table knows the mass of `{carried.item}`",
        found=f"`{carried.item}`, not among {len(masses)} cells, lamps, magnets and pieces of ballast",
        fix=(f"did you mean `{near}`? Else " if near else "") + "give its mass here: `mass: 3 g`",
    )


def keys_of_step(step: int, *more: str | int) -> Keys:
    """The keys that lead to a step in the recipe's data."""
    return ("steps", step, *more)


def _sine_and_cosine(degrees: float) -> tuple[float, float]:
    quarter = degrees / 90.0
    if quarter == round(quarter):
        return ((0.0, 1.0), (1.0, 0.0), (0.0, -1.0), (-1.0, 0.0))[round(quarter) % 4]
    return math.sin(math.radians(degrees)), math.cos(math.radians(degrees))
