"""Bought items as shapes: what a magnet, weight, LED or cell looks like where it sits, and which way it faces."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from prep.contract import Item
from prep.geometry.lathe import lathe
from prep.geometry.solid import Solid
from prep.places.place import Place, unit_of
from prep.report.palette import GLOW, METAL, MOSS, NORTH, ROSE, SOUTH

KIND_TINTS = {"ballast": METAL, "led": GLOW, "cell": MOSS, "other": ROSE}
SIDES = 64


def item_solid(item: Item) -> Solid | None:
    """The item as a disc or rod about its axis, or None where the ledger holds no size for it."""
    if item.radius_mm <= 0.0 or item.length_mm <= 0.0:
        return None
    half = item.length_mm / 2.0
    frame = Place.of(np.array(item.at_mm), -unit_of(item.axis)).frame
    return lathe(np.array([[item.radius_mm, -half], [item.radius_mm, half]]), frame, SIDES)


def has_own_shape(item: Item) -> bool:
    """Whether the item is a body of its own, and not a filling that takes the shape of its pocket."""
    return item.kind in {"magnet", "led", "cell"}


def leading(items: Sequence[Item]) -> list[Item]:
    """The items without what belongs to another: of "P2" and "P2 cap" the first."""
    names = {item.id for item in items}
    return [item for item in items if item.id.rpartition(" ")[0] not in names]


def item_tint(item: Item) -> str:
    """The tint an item is drawn in: a magnet by the pole that faces out."""
    if item.kind == "magnet":
        return {"N": NORTH, "S": SOUTH, None: METAL}[item.pole_out]
    return KIND_TINTS[item.kind]


def other_pole(pole: str | None) -> str:
    """The letter at the far end of a magnet."""
    return {"N": "S", "S": "N"}.get(pole or "", "")
