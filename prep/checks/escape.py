"""`escape`: whatever the process leaves inside an open void can come out."""

from __future__ import annotations

from pydantic import Field

from prep.contract import Bench, Check, Finding, Part
from prep.geometry.open_voids import OpenVoid, open_voids
from prep.places.place import triple
from prep.units import Length, show_g, show_mm, show_mm3, show_point


class Escape(Check):
    """Finds chambers that open to the outside through less than what the process leaves in them needs to come out.

    The size of an opening is the largest ball that passes through it. Air needs none, so extrusion is not asked.
    Chambers that are no wider than their opening are holes and slots, and those without any are the business of
    `sealed_void`.
    """

    limit: Length | None = Field(None, gt=0, description="smallest opening; default: the process's escape")

    @classmethod
    def word(cls) -> str:
        """`escape`."""
        return "escape"

    def examine(self, bench: Bench) -> tuple[Finding, ...]:
        """Chambers of every part that cannot be emptied, largest first, or one pass."""
        return tuple(finding for part in bench.parts.values() for finding in self._of_part(bench, part))

    def _of_part(self, bench: Bench, part: Part) -> list[Finding]:
        process = bench.process
        if process.void_holds == "air":
            says = "the process leaves only air in a void; support in one is the slicing program's choice"
            return [Finding(check="escape", part=part.name, verdict="pass", says=says)]
        limit = process.escape_mm if self.limit is None else self.limit
        bench.tell("looking for chambers", 0.0)
        found = open_voids(part.solid, limit)
        if not found:
            says = f"every chamber opens wide enough for {process.void_holds} to come out"
            return [Finding(check="escape", part=part.name, verdict="pass", limit=limit, unit="mm", says=says)]
        before = () if part.solid is part.original else open_voids(part.original, limit)
        return [_shut(bench, part, void, limit, before) for void in found]


def _shut(bench: Bench, part: Part, void: OpenVoid, limit: float, before: tuple[OpenVoid, ...]) -> Finding:
    process = bench.process
    old = part.solid is part.original or any(abs(void.neck_mm - was.neck_mm) <= void.neck_error_mm for was in before)
    held = void.volume_mm3 * process.void_density_g_cm3 / 1000.0
    width = f"of {show_mm(void.neck_mm)}" if void.neck_mm > 0.0 else f"under {show_mm(void.neck_error_mm)}"
    return Finding(
        check="escape",
        part=part.name,
        verdict="fail",
        value=void.neck_mm,
        limit=limit,
        unit="mm",
        at_mm=triple(void.neck_at_mm),
        says=f"a chamber of {show_mm3(void.volume_mm3)} about {show_point(triple(void.at_mm))} opens only through "
        f"a neck {width}: {process.void_holds} stays in it, up to {show_g(held)}",
        fix=f"widen the neck to {show_mm(limit)}, or add a second opening of that size",
        made_by="input" if old else "a step",
    )
