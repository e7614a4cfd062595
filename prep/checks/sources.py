"""`sources`: which of the figures a build rests on nobody has published."""

from __future__ import annotations

from prep.contract import Bench, Check, Finding
from prep.tables import TableRow
from prep.tables.table import key_of


class Sources(Check):
    """Name the table rows this model rests on whose figures are not published, and what to do about each.

    Looked at are the process, the materials, and the bought things the model holds. It tells, and always passes.
    """

    @classmethod
    def word(cls) -> str:
        """`sources`."""
        return "sources"

    def examine(self, bench: Bench) -> tuple[Finding, ...]:
        """One finding for the whole model, a pass."""
        used = _used(bench)
        open_ = [f"{kind} {row.name}: {_standing(kind, row)}" for kind, row in used if row.status != "published"]
        says = ". ".join(open_) if open_ else f"all {len(used)} table rows used are published"
        return (Finding(check="sources", part=None, verdict="pass", says=says),)


def _used(bench: Bench) -> list[tuple[str, TableRow]]:
    """Kind and row of everything used, each once, in the order of use."""
    tables = bench.tables
    used: list[tuple[str, TableRow]] = [("process", bench.process)]
    used += [("material", part.material) for part in bench.parts.values()]
    bought: dict[str, tuple[str, TableRow]] = {}
    for kind, rows in (
        ("ballast", tables.ballast.rows),
        ("magnet", tables.magnets.rows),
        ("lamp", tables.leds.rows),
        ("cell", tables.cells.rows),
        ("glue", tables.adhesives.rows),
    ):
        bought |= {key_of(row.name): (kind, row) for row in rows}
    for item in bench.ledger.items:
        many, _, name = item.item.partition(" x ")
        found = bought.get(key_of(name if many.isdecimal() and name else item.item))
        used += [found] if found else []
    return list({(kind, row.name): (kind, row) for kind, row in used}.values())


def _standing(kind: str, row: TableRow) -> str:
    if row.status == "shop":
        return "the shop's or the recipe's own figures"
    if kind == "process":
        return f"{row.status}; print the fit gauge"
    if kind == "material":
        return f"{row.status}; weigh the bare print and give `weighed:`"
    if kind == "glue":
        return f"{row.status}; go by its maker's sheet"
    return f"{row.status}; measure one and weigh it"
