"""`carried`: the bought things a recipe says the model holds, as items with what their table row knows."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

from prep.contract import Item
from prep.physics.magnetism import INGESTION_LIMIT, block_flux_index, flux_index
from prep.recipe import Recipe
from prep.tables import BallastRow, CellRow, LedRow, MagnetRow, TableRow
from prep.tables.table import key_of

CARRIED = "carried"
DEVICE = "Keep magnets 15 cm from pacemakers and other implanted devices."
TOXIC = "Toxic ballast: wear gloves, wash hands, label the inside, keep it closed."


def carried_items(recipe: Recipe) -> tuple[Item, ...]:
    """C1, C2... in the order of the recipe, upright along z.

    Kind, size, heat limit and whether magnets pull it come from the row of that name; where no table knows the name,
    the thing has a mass and a place only.
    """
    return tuple(
        Item(
            id=f"C{number}",
            item=thing.item,
            step=CARRIED,
            part=thing.part,
            at_mm=thing.at,
            axis=(0.0, 0.0, 1.0),
            mass_g=recipe.carried_mass_g(thing),
            **_known(_row(recipe, thing.item)),
        )
        for number, thing in enumerate(recipe.carries, start=1)
    )


def carried_cautions(recipe: Recipe) -> tuple[str, ...]:
    """What a person must know of the things carried, each said once."""
    rows = [_row(recipe, thing.item) for thing in recipe.carries]
    return tuple(dict.fromkeys(said for row in rows if row is not None for said in _cautions(row)))


def _row(recipe: Recipe, name: str) -> TableRow | None:
    tables = recipe.tables
    bought: list[TableRow] = [*tables.cells.rows, *tables.leds.rows, *tables.magnets.rows, *tables.ballast.rows]
    return next((row for row in bought if key_of(row.name) == key_of(name)), None)


def _known(row: TableRow | None) -> dict[str, Any]:
    """Fields of the item that its row knows; the radius of what is not round goes around its corners."""
    if isinstance(row, CellRow):
        return _shape("cell", row.diameter_mm / 2.0, row.height_mm, row.ferrous)
    if isinstance(row, LedRow):
        return _shape("led", _radius(row), row.height_mm, ferrous=False)
    if isinstance(row, MagnetRow):
        return _shape("magnet", _radius(row), row.thickness_mm, ferrous=True) | {"highest_c": row.highest_c}
    if isinstance(row, BallastRow):
        piece = row.thickness_mm > 0.0
        return _shape("ballast", row.diameter_mm / 2.0 if piece else 0.0, row.thickness_mm, row.ferrous)
    return {"kind": "other"}


def _shape(kind: str, radius_mm: float, length_mm: float, ferrous: bool) -> dict[str, Any]:
    return {"kind": kind, "radius_mm": radius_mm, "length_mm": length_mm, "ferrous": ferrous}


def _radius(row: LedRow | MagnetRow) -> float:
    return max(row.diameter_mm, math.hypot(row.width_mm, row.length_mm)) / 2.0


def _cautions(row: TableRow) -> Iterable[str]:
    if isinstance(row, CellRow | BallastRow) and row.caution:
        yield f"{row.name}: {row.caution}"
    if isinstance(row, BallastRow) and row.toxic:
        yield TOXIC
    if isinstance(row, MagnetRow):
        yield _swallowing(row)
        yield DEVICE


def _swallowing(row: MagnetRow) -> str:
    """The magnet's flux index beside the limit of 16 CFR 1262.2, and what follows from it."""
    br, t = row.remanence_high_t, row.thickness_mm
    round_ = row.shape == "disc"
    index = flux_index(row.diameter_mm, t, br) if round_ else block_flux_index(row.length_mm, row.width_mm, t, br)
    says = f"{row.name}: flux index up to {index:.0f} kG²mm², limit {INGESTION_LIMIT:g} where magnets can come loose"
    if index < INGESTION_LIMIT:
        return f"{says}."
    return (
        f"{says}: a swallowing hazard, for two swallowed apart can pinch the bowel. See that none can come out, keep "
        "loose ones and the model from children, and follow local rules."
    )
