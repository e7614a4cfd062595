"""`Tables`: every table the house ships, with the shop's own figures over them."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields
from functools import partial
from pathlib import Path
from typing import TypeVar

from prep.errors import BadTable
from prep.tables.rows import (
    AdhesiveRow,
    BallastRow,
    CellRow,
    GradeRow,
    LedRow,
    MagnetRow,
    MaterialRow,
    PaintRow,
    ProcessRow,
    TableRow,
    TransmissionRow,
)
from prep.tables.table import Cells, Fill, Table, nearest_word, read_table

Row = TypeVar("Row", bound=TableRow)
HERE = Path(__file__).parent


@dataclass(frozen=True)
class Tables:
    """The tables of one build."""

    grades: Table[GradeRow]
    magnets: Table[MagnetRow]
    materials: Table[MaterialRow]
    processes: Table[ProcessRow]
    ballast: Table[BallastRow]
    leds: Table[LedRow]
    cells: Table[CellRow]
    paints: Table[PaintRow]
    adhesives: Table[AdhesiveRow]
    transmission: Table[TransmissionRow]

    @staticmethod
    def load(shop: Path | None = None) -> Tables:
        """The shipped tables, with `shop`/<table>.csv over them where the folder has such files.

        Raises
        ------
        BadTable, Faults
            A file in the folder is no table, or has a bad cell; named with its line.
        """
        found = _shop_files(shop)

        def read(name: str, row_type: type[Row], fill: Fill = dict, whole: str = "") -> Table[Row]:
            return read_table(name, row_type, HERE / f"{name}.csv", found.get(name), fill, whole)

        grades = read("grades", GradeRow)
        return Tables(
            grades=grades,
            magnets=read("magnets", MagnetRow, partial(_fill_magnet, grades)),
            materials=read("materials", MaterialRow),
            processes=read("processes", ProcessRow),
            ballast=read("ballast", BallastRow, _fill_ballast),
            leds=read("leds", LedRow),
            cells=read("cells", CellRow),
            paints=read("paints", PaintRow),
            adhesives=read("adhesives", AdhesiveRow),
            transmission=read("transmission", TransmissionRow, whole="material"),
        )

    def named(self, name: str) -> Table[TableRow]:
        """The table of that name, for those who only list and look up.

        Raises
        ------
        BadTable
            There is no such table.
        """
        words = [field.name for field in fields(self)]
        if name not in words:
            near = nearest_word(name, words)
            raise BadTable(
                f"there is no table `{name}`",
                found=f"`{name}`",
                fix=f"did you mean `{near}`?" if near else f"tables are: {', '.join(words)}",
            )
        table: Table[TableRow] = getattr(self, name)
        return table


def _shop_files(shop: Path | None) -> dict[str, Path]:
    if shop is None or not shop.is_dir():
        return {}
    words = [field.name for field in fields(Tables)]
    found = {path.stem: path for path in sorted(shop.glob("*.csv"))}
    for stem, path in found.items():
        if stem not in words:
            near = nearest_word(stem, words)
            raise BadTable(
                "the shop's folder has a CSV file that is no table",
                where=str(path),
                found=f"`{path.name}`",
                fix=f"did you mean `{near}.csv`?" if near else f"tables are: {', '.join(words)}",
            )
    return found


def _fill_magnet(grades: Table[GradeRow], cells: Cells) -> Cells:
    """Remanence and heat limit from the grade, mass from the size, where the row leaves them out."""
    if not cells.get("grade"):
        return cells
    grade = grades.get(cells["grade"])
    low, high = grade.remanence_low_t, grade.remanence_high_t
    out = {
        "remanence_t": f"{(low + high) / 2:.6g}",
        "remanence_low_t": str(low),
        "remanence_high_t": str(high),
        "highest_c": str(grade.highest_c),
    } | {column: text for column, text in cells.items() if text}
    volume = _volume_mm3(out)
    if volume > 0.0 and not out.get("mass_g"):
        out["mass_g"] = repr(volume * grade.density_g_cm3 / 1000.0)
    return out


def _fill_ballast(cells: Cells) -> Cells:
    """Mass of a piece from size and density, or density from size and mass; putty may have none."""
    out = dict(cells)
    volume = _volume_mm3(out)
    if out.get("kind") in {"slug", "washer", "coin"} and volume > 0.0:
        density, mass = _number(out, "density_g_cm3"), _number(out, "mass_g")
        if not mass and density:
            out["mass_g"] = repr(density * volume / 1000.0)
        if not density and mass:
            out["density_g_cm3"] = repr(mass * 1000.0 / volume)
    if out.get("kind") == "putty" and not out.get("density_g_cm3"):
        out["density_g_cm3"] = "0"
    return out


def _volume_mm3(cells: Cells) -> float:
    across = math.pi / 4.0 * (_number(cells, "diameter_mm") ** 2 - _number(cells, "hole_mm") ** 2)
    if cells.get("shape") == "block":
        across = _number(cells, "width_mm") * _number(cells, "length_mm")
    return across * _number(cells, "thickness_mm")


def _number(cells: Cells, column: str) -> float:
    """The cell as a number; 0 where it is blank or bad, which the reading of the row reports."""
    try:
        return float(cells.get(column, "") or 0.0)
    except ValueError:
        return 0.0
