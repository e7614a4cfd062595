"""Look into the tables, or ask for a magnet that holds."""

from __future__ import annotations

import dataclasses
import json as json_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from prep.tables import MagnetRow, TableRow, Tables

LEFT_OUT = ("source", "status")


@click.command()
@click.argument("name", required=False)
@click.argument("row", required=False)
@click.option("--holds", metavar="FORCE", help="magnets: discs whose pair holds this much, as `8 N`.")
@click.option(
    "--gap", metavar="LENGTH", default="0 mm", show_default=True, help="magnets: plastic, glue and air between."
)
@click.option("--steel", is_flag=True, help="magnets: against a steel plate instead of a twin.")
@click.option(
    "--service", metavar="SHARE", default="70 %", show_default=True, help="magnets: share of the ideal pull counted on."
)
@click.option("--like", metavar="TEXT", help="only rows whose name holds this text.")
@click.option(
    "--shop",
    type=click.Path(path_type=Path),
    default=Path("shop"),
    show_default=True,
    help="folder of the shop's tables.",
)
@click.option("--json", "as_json", is_flag=True, help="rows as JSON on stdout, and nothing else.")
def table(
    name: str | None,
    row: str | None,
    holds: str | None,
    gap: str,
    steel: bool,
    service: str,
    like: str | None,
    shop: Path,
    as_json: bool,
) -> None:
    """List the tables, the rows of table NAME, or all that is known of one ROW.

    `prep table magnets --holds 8N --gap 0.8mm` lists the stocked discs that hold, the lightest first.
    """
    from prep.tables import Tables

    tables = Tables.load(shop)
    if name is None:
        _list_tables(tables)
        return
    held = tables.named(name)
    if row is not None:
        _show(dataclasses.asdict(held.get(row)), as_json=as_json)
        return
    if holds is not None:
        _list(_holding(tables, name, holds, gap, service, steel=steel), as_json=as_json)
        return
    rows = [_plain(each) for each in held.rows if like is None or like.casefold() in each.name.casefold()]
    _list(rows, as_json=as_json)
    if not as_json:
        for override in held.overrides:
            click.echo(f"shop: {override.row}, {override.column}: {override.was or 'nothing'} -> {override.now}")
        if name == "transmission":
            _list_curves(tables)


def _list_tables(tables: Tables) -> None:
    names = [field.name for field in dataclasses.fields(tables)]
    width = max(len(name) for name in names)
    for name in names:
        held = tables.named(name)
        own = f", {len(held.added)} of the shop's own" if held.added else ""
        click.echo(f"{name:{width}}  {len(held.rows):3d} rows{own}")


def _list_curves(tables: Tables) -> None:
    """The curve through the readings of each material, with its errors; a fault is told beside the others."""
    from prep.errors import BadReadings
    from prep.physics.transmission import transmission_of

    click.echo("\nshare = faces x exp(-loss x mm):")
    for material in dict.fromkeys(row.material for row in tables.transmission.rows):
        try:
            click.echo(transmission_of(tables, material).says)
        except BadReadings as fault:
            click.echo(str(fault))


def _holding(tables: Tables, name: str, holds: str, gap: str, service: str, *, steel: bool) -> list[dict[str, Any]]:
    """Stocked discs that hold, lightest first, with the pull at the gap."""
    from prep.errors import BadValue, TooWeak
    from prep.physics.magnetism import pull_force, steel_pull
    from prep.units import FORCE, FRACTION, LENGTH, show_mm, show_n

    if name != "magnets":
        raise BadValue(
            "only magnets hold", found=f"`--holds` on table `{name}`", fix="write `prep table magnets --holds ...`"
        )
    wanted, apart, share = FORCE.read(holds), LENGTH.read(gap), FRACTION.read(service)
    if apart < 0.0:
        raise BadValue(
            "two magnets cannot stand in one another",
            where="`--gap`",
            found=f"`{gap}`",
            fix="write a gap of 0 or more, such as `--gap 0.4mm`",
        )

    def pull(disc: MagnetRow) -> float:
        d, t, br = disc.diameter_mm, disc.thickness_mm, disc.remanence_t
        return share * (steel_pull(d, t, br, apart) if steel else pull_force(d, t, br, d, t, br, apart))

    discs = [(disc, pull(disc)) for disc in tables.magnets.rows if disc.shape == "disc" and disc.stocked]
    found = sorted((each for each in discs if each[1] >= wanted), key=lambda each: (each[0].mass_g, each[0].name))
    if not found:
        best, most = max(discs, key=lambda each: each[1])
        raise TooWeak(
            f"no stocked disc holds {show_n(wanted)} at a gap of {show_mm(apart)}",
            found=f"the strongest is {best.name} with {show_n(most)}, {share:.0%} of the ideal pull",
            fix=f"use {-int(-wanted // most)} of them, or bring the faces nearer",
        )
    return [
        {
            "name": disc.name,
            "holds_n": round(newtons, 2),
            "mass_g": round(disc.mass_g, 3),
            "diameter_mm": disc.diameter_mm,
            "thickness_mm": disc.thickness_mm,
            "highest_c": disc.highest_c,
        }
        for disc, newtons in found
    ]


def _plain(row: TableRow) -> dict[str, Any]:
    return dataclasses.asdict(row)


def _show(row: dict[str, Any], *, as_json: bool) -> None:
    if as_json:
        click.echo(json_module.dumps(row, indent=2, ensure_ascii=False))
        return
    width = max(len(column) for column in row)
    for column, value in row.items():
        click.echo(f"{column:{width}}  {_cell(value)}")


def _list(rows: list[dict[str, Any]], *, as_json: bool) -> None:
    """Rows below one another; columns that say nothing in any row, and the sources, are left out."""
    if as_json:
        click.echo(json_module.dumps(rows, indent=2, ensure_ascii=False))
        return
    if not rows:
        click.echo("no row")
        return
    columns = [
        column
        for column in rows[0]
        if column not in LEFT_OUT and (column == "name" or any(row[column] not in {0, "", None} for row in rows))
    ]
    cells = [columns, *([_cell(row[column]) for column in columns] for row in rows)]
    widths = [max(len(line[index]) for line in cells) for index in range(len(columns))]
    shown = len(columns)
    while shown > 2 and sum(widths[:shown]) + 2 * shown > _room():
        shown -= 1
    for line in cells:
        told = zip(line[:shown], widths[:shown], strict=True)
        click.echo("  ".join(f"{cell:{width}}" for cell, width in told).rstrip())
    if shown < len(columns):
        click.echo(f"{len(columns) - shown} more columns: name one row to see all that is known of it")


def _room() -> int:
    import shutil

    return shutil.get_terminal_size((120, 40)).columns


def _cell(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:.4g}" if isinstance(value, float) else str(value)
