"""A bench with one part on it, for tests of checks."""

from __future__ import annotations

from prep.contract import Bench, Item, Ledger, Part
from prep.geometry.solid import Solid
from prep.tables import Tables


def bench(solid: Solid, original: Solid | None = None, items: tuple[Item, ...] = (), limit: float = 0.8) -> Bench:
    """A bench for extrusion with a part called body."""
    tables = Tables.load()
    part = Part("body", solid, original or solid, tables.materials.get("pla"))
    process = tables.processes.get("extrusion-0.4")
    return Bench({"body": part}, Ledger(items=items), process, tables, wall_limit_mm=limit)


def magnet(step: str, at: tuple[float, float, float]) -> Item:
    """A magnet set by a step."""
    return Item(
        id="M1", item="disc 6x2", kind="magnet", step=step, part="body", at_mm=at, axis=(0, 0, 1),
        mass_g=0.4, radius_mm=3.0, length_mm=2.0,
    )  # fmt: skip
