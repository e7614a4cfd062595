"""`Table`: rows found by name, and how a CSV file with the shop's overrides becomes one."""

from __future__ import annotations

import csv
import difflib
import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import MISSING, dataclass, fields
from functools import cached_property
from pathlib import Path
from typing import Any, Generic, Literal, TypeVar, get_args, get_origin, get_type_hints

from prep.errors import BadTable, Faults, PrepError, UnknownRow
from prep.tables.rows import TableRow

Row = TypeVar("Row", bound=TableRow)
Cells = dict[str, str]
Fill = Callable[[Cells], Cells]


@dataclass(frozen=True)
class Override:
    """One figure that the shop's table changed."""

    row: str
    column: str
    was: str
    now: str


@dataclass(frozen=True)
class Table(Generic[Row]):
    """Rows in the order of the file, found by name whatever the case and the spaces.

    Attributes
    ----------
    overrides : figures of shipped rows that the shop changed
    added : names of rows that only the shop has
    """

    name: str
    rows: tuple[Row, ...]
    overrides: tuple[Override, ...] = ()
    added: tuple[str, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """Every name, in the order of the rows."""
        return tuple(row.name for row in self.rows)

    def get(self, name: str) -> Row:
        """The row of that name.

        Raises
        ------
        UnknownRow
            No row has that name; the fault carries the nearest known word.
        UnfinishedRow
            The row ships without a figure that the shop has not given.
        """
        row = self._by_key.get(key_of(name))
        if row is None:
            near = nearest_word(name, self.names)
            raise UnknownRow(
                f"the {self.name} table has no row `{name}`",
                found=f"`{name}`, not among {len(self.rows)} rows",
                fix=(f"did you mean `{near}`? " if near else "")
                + f"`prep table {self.name}` lists them; shop/{self.name}.csv adds your own",
            )
        row.refuse_if_unfinished()
        return row

    @cached_property
    def _by_key(self) -> Mapping[str, Row]:
        return {key_of(row.name): row for row in self.rows}


def key_of(name: str) -> str:
    """A name as it is compared: lower case, no spaces, × as x."""
    return "".join(name.split()).casefold().replace("×", "x")


def nearest_word(word: str, words: Iterable[str]) -> str | None:
    """The most alike of the words, or None where nothing is near."""
    by_key = {key_of(known): known for known in words}
    near = difflib.get_close_matches(key_of(word), by_key, n=1, cutoff=0.5)
    return by_key[near[0]] if near else None


def read_table(
    name: str, row_type: type[Row], shipped: Path, shop: Path | None, fill: Fill, whole: str = ""
) -> Table[Row]:
    """The table in `shipped` with the rows and figures of `shop` over it.

    Parameters
    ----------
    shop : path or None
        The shop's file. It may give only some columns of a row that ships.
    fill : callable
        Completes the cells of one row, such as a mass from a size, before they are read as numbers.
    whole : str
        Column whose shipped rows the shop's rows replace together: readings of one wedge are never mixed with others.

    Raises
    ------
    BadTable, Faults
        A column is missing or unknown, a name comes twice, a cell is no number or no known word.
    """
    columns = [field.name for field in fields(row_type)]
    cells = {key_of(row["name"]): (line, row) for line, row in _read_csv(shipped, columns)}
    overrides: list[Override] = []
    added: list[str] = []
    where = {key: f"{shipped.name}:{line}" for key, (line, _) in cells.items()}
    rows = {key: row for key, (_, row) in cells.items()}
    own = _read_csv(shop, columns) if shop is not None else []
    if whole:
        overrides += _replace_whole(rows, own, whole)
    for line, row in own:
        key = key_of(row["name"])
        where[key] = f"{shop}:{line}"
        given = {column: text for column, text in row.items() if text and column != "name"}
        if key in rows:
            old = rows[key]
            overrides += [
                Override(old["name"], column, old.get(column, ""), text)
                for column, text in given.items()
                if old.get(column, "") != text
            ]
            rows[key] = old | {"source": f"shop/{name}.csv over: {old['source']}", "status": "shop"} | given
        else:
            added.append(row["name"])
            rows[key] = {"source": f"shop/{name}.csv", "status": "shop"} | {"name": row["name"]} | given
    faults: list[PrepError] = []
    made: list[Row] = []
    for key, row in rows.items():
        try:
            made.append(_row_of(row_type, fill(row), where[key]))
        except Faults as several:
            faults += several.faults
        except PrepError as fault:
            faults.append(fault.at(where[key]) if not fault.where else fault)
    _raise_all(faults)
    return Table(name, tuple(made), tuple(overrides), tuple(added))


def _replace_whole(rows: dict[str, Cells], own: list[tuple[int, Cells]], column: str) -> list[Override]:
    """Take out of `rows` every group of which the shop has a row; what was taken out, as overrides."""
    named = [row.get(column) or rows.get(key_of(row["name"]), {}).get(column, "") for _, row in own]
    overrides: list[Override] = []
    for group in dict.fromkeys(key_of(name) for name in named):
        gone = [key for key, row in rows.items() if key_of(row[column]) == group]
        now = sum(key_of(name) == group for name in named)
        if gone:
            overrides.append(
                Override(rows[gone[0]][column], "every reading", f"{len(gone)} shipped", f"{now} of the shop's own")
            )
        for key in gone:
            del rows[key]
    return overrides


def _read_csv(path: Path, columns: list[str]) -> list[tuple[int, Cells]]:
    faults: list[PrepError] = []
    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise BadTable(
            "the table is not UTF-8 text",
            where=str(path),
            found=f"byte {error.object[error.start]:#04x} at {error.start}",
            fix="save it as CSV in UTF-8",
        ) from error
    reader = csv.reader(text.splitlines())
    header = [cell.strip() for cell in next(reader, [])]
    if "name" not in header:
        raise BadTable(
            "the table has no `name` column",
            where=f"{path}:1",
            found=f"columns {', '.join(header) or 'none'}",
            fix="begin the first line with: name",
        )
    for column in header:
        if column not in columns:
            near = nearest_word(column, columns)
            faults.append(
                BadTable(
                    f"the table has an unknown column `{column}`",
                    where=f"{path}:1",
                    found=f"`{column}`",
                    fix=f"did you mean `{near}`?" if near else f"columns are: {', '.join(columns)}",
                )
            )
    rows: list[tuple[int, Cells]] = []
    first_line: dict[str, int] = {}
    for texts in reader:
        line = reader.line_num
        if not any(text.strip() for text in texts) or texts[0].lstrip().startswith("#"):
            continue
        row = {column: text.strip() for column, text in zip(header, texts, strict=False)}
        if len(texts) != len(header):
            faults.append(
                BadTable(
                    "the line has another number of cells than the first line has columns",
                    where=f"{path}:{line}",
                    found=f"{len(texts)} cells, {len(header)} columns",
                    fix="quote cells that hold a comma",
                )
            )
            continue
        key = key_of(row["name"])
        if not key or key in first_line:
            before = f", first in line {first_line[key]}" if key else ""
            faults.append(
                BadTable(
                    "a name comes twice" if key else "a row has no name",
                    where=f"{path}:{line}",
                    found=f"`{row['name']}`{before}",
                    fix="give every row its own name",
                )
            )
            continue
        first_line[key] = line
        rows.append((line, row))
    _raise_all(faults)
    return rows


def _row_of(row_type: type[Row], cells: Cells, where: str) -> Row:
    hints = get_type_hints(row_type)
    values: dict[str, Any] = {}
    faults: list[PrepError] = []
    for field in fields(row_type):
        text = cells.get(field.name, "")
        if text == "" and field.default is not MISSING:
            continue
        try:
            values[field.name] = _value_of(text, hints[field.name], field.name)
        except BadTable as fault:
            faults.append(fault.at(f"{where}, row `{cells['name']}`"))
    _raise_all(faults)
    return row_type(**values)


def _value_of(text: str, kind: Any, column: str) -> str | float | int | bool:  # noqa: ANN401  a type hint is any object
    if text == "":
        raise BadTable(f"column `{column}` is missing", found="no value", fix=f"add `{column}` to the row")
    if kind is str:
        return text
    if get_origin(kind) is Literal or kind is bool:
        words = {word: word for word in get_args(kind)} if kind is not bool else {"yes": True, "no": False}
        if text not in words:
            raise BadTable(f"column `{column}` has an unknown word", found=f"`{text}`", fix=f"use {' | '.join(words)}")
        return words[text]
    try:
        number: float = int(text) if kind is int else float(text)
    except ValueError:
        raise BadTable(
            f"column `{column}` is no {'whole ' if kind is int else ''}number",
            found=f"`{text}`",
            fix="write a bare number with a point, in the unit the column's name carries",
        ) from None
    if not math.isfinite(number) or number < 0:
        raise BadTable(f"column `{column}` must be 0 or more", found=f"`{text}`", fix="write a number of 0 or more")
    return number


def _raise_all(faults: list[PrepError]) -> None:
    if len(faults) == 1:
        raise faults[0]
    if faults:
        raise Faults(faults)
