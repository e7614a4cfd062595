"""A process or a material as a recipe gives it: a row's name, or a mapping that changes some of the row's figures."""

from __future__ import annotations

import re
from dataclasses import fields, replace
from functools import cache
from typing import Any, Literal, get_origin, get_type_hints

from pydantic import Field, create_model

from prep.contract import Frozen
from prep.tables import MaterialRow, ProcessRow, TableRow, Tables
from prep.tables.table import key_of
from prep.units import Density, Fraction, Length, Temperature

_SUFFIXES: dict[str, Any] = {"_mm": Length, "_g_cm3": Density, "_c": Temperature}


class ProcessWanted(Frozen):
    """A row of the `processes` table, and the figures a recipe changes in it."""

    based_on: str = Field(description="the row of the `processes` table to begin with", examples=["extrusion-0.4"])

    def over(self, tables: Tables) -> ProcessRow:
        """The table's row with this recipe's figures over it.

        Raises
        ------
        UnknownRow
            The table has no row of that name.
        """
        row = tables.processes.get(self.based_on)
        changes = self.changed_columns()
        if not changes:
            return row
        return replace(row, **changes, status="shop", source=f"the recipe, over: {row.source}")

    def changed_columns(self) -> dict[str, Any]:
        """Figures the recipe gives, by the table's column."""
        given = {column: getattr(self, word_of(column)[0], None) for column in _process_columns()}
        return {column: value for column, value in given.items() if value is not None}


class MaterialWanted(Frozen):
    """A row of the `materials` table, or a material of the recipe's own that gives at least its density."""

    name: str = Field(min_length=1, description="a row of the `materials` table, or a new name", examples=["pla"])
    density: Density | None = Field(None, gt=0, description="of the solid material")
    softens: Temperature | None = Field(
        None, description="where a part begins to lose its shape; default for a new name: the lowest in the table"
    )

    def over(self, tables: Tables) -> MaterialRow:
        """The table's row with this recipe's figures over it, or a row of its own.

        Raises
        ------
        UnknownRow
            The table has no row of that name and the recipe gives no density.
        """
        known = {key_of(name): name for name in tables.materials.names}
        if key_of(self.name) not in known and self.density is not None:
            lowest = min(row.softens_c for row in tables.materials.rows)
            return MaterialRow(
                name=self.name,
                source="the recipe",
                status="shop",
                density_g_cm3=self.density,
                density_low=self.density,
                density_high=self.density,
                softens_c=lowest if self.softens is None else self.softens,
            )
        row = tables.materials.get(self.name)
        if self.density is None and self.softens is None:
            return row
        density = row.density_g_cm3 if self.density is None else self.density
        return replace(
            row,
            density_g_cm3=density,
            density_low=row.density_low if self.density is None else density,
            density_high=row.density_high if self.density is None else density,
            softens_c=row.softens_c if self.softens is None else self.softens,
            status="shop",
            source=f"the recipe, over: {row.source}",
        )


def column_notes(row_type: type[TableRow]) -> dict[str, str]:
    """What each column of a table says, read from the `Attributes` of the row's docstring and of its parents'."""
    notes: dict[str, str] = {}
    for each in reversed(row_type.__mro__):
        _, _, section = (each.__doc__ or "").partition("Attributes\n")
        for names, text in re.findall(r"^ {4}([a-z][\w, ]*?) : (.+)$", section, flags=re.MULTILINE):
            notes |= {name.strip(): text.strip() for name in names.split(",")}
    return {column.name: notes.get(column.name, "") for column in fields(row_type)}


def word_of(column: str) -> tuple[str, Any]:
    """The recipe's word for a column, which carries no unit, and the type of its value; None for a plain one."""
    for suffix, kind in _SUFFIXES.items():
        if column.endswith(suffix):
            return column.removesuffix(suffix), kind
    return column, None


@cache
def process_words() -> type[ProcessWanted]:
    """`ProcessWanted` with one optional setting for every column of the `processes` table."""
    notes, hints = column_notes(ProcessRow), get_type_hints(ProcessRow)
    settings: dict[str, Any] = {}
    for column in _process_columns():
        word, kind = word_of(column)
        kind = Fraction if column == "infill" else kind or hints[column]
        limits: dict[str, Any] = {} if kind is bool or get_origin(kind) is Literal else {"ge": 0}
        says = notes[column] or column.replace("_", " ")
        settings[word] = (kind | None, Field(None, description=says, **limits))
    return create_model("ProcessWords", __base__=ProcessWanted, __doc__=ProcessWanted.__doc__, **settings)


def _process_columns() -> list[str]:
    own = {column.name for column in fields(TableRow)}
    return [column.name for column in fields(ProcessRow) if column.name not in own]
