"""`overhang`: ceilings inside pockets that will print on support."""

from __future__ import annotations

from pydantic import Field

from prep.contract import Bench, Check, Finding, Part
from prep.geometry.overhang import closed_in_overhangs
from prep.places.place import triple, unit_of
from prep.units import Angle, Length, show_mm

_MOST = 3


class Overhang(Check):
    """Names the ceilings inside a part's pockets that need support in its build direction; for information only.

    Support inside a pocket is work to take out, and leaves a rough face where a magnet or an LED may have to sit. Short
    bridges and faces that rise steeply enough hold themselves and are left out; so are undersides that are free to all
    sides. A powder bed holds everything, so it is not asked there.
    """

    steep: Angle = Field(45.0, gt=0.0, lt=90.0, description="from level; faces that rise more steeply hold themselves")
    bridge: Length = Field(10.0, ge=0.0, description="ceilings this short across are bridged without support")

    @classmethod
    def word(cls) -> str:
        """`overhang`."""
        return "overhang"

    def examine(self, bench: Bench) -> tuple[Finding, ...]:
        """One finding for each of the largest ceilings, or one that there is none; never more than information."""
        return tuple(finding for part in bench.parts.values() for finding in self._of_part(bench, part))

    def _of_part(self, bench: Bench, part: Part) -> list[Finding]:
        if bench.process.category == "powder bed fusion":
            return [_plain(part.name, "the powder bed holds every overhang")]
        found = closed_in_overhangs(part.solid, unit_of(part.up), self.steep, self.bridge**2 / 4.0)
        found = [ceiling for ceiling in found if ceiling.span_mm > self.bridge]
        if not found:
            return [_plain(part.name, "no ceiling inside a pocket needs support")]
        more = f"; {len(found) - _MOST} smaller ones more" if len(found) > _MOST else ""
        return [
            Finding(
                check="overhang",
                part=part.name,
                verdict="pass",
                value=ceiling.span_mm,
                limit=self.bridge,
                unit="mm",
                at_mm=triple(ceiling.at_mm),
                says=f"for information: a ceiling of {ceiling.area_mm2:.0f} mm² inside the part, "
                f"{show_mm(ceiling.span_mm)} across and {show_mm(ceiling.headroom_mm)} above what is below it, "
                "prints on support" + (more if turn == min(len(found), _MOST) - 1 else ""),
                fix="choose a build direction (`up`) that opens the pocket upward, if its face matters",
            )
            for turn, ceiling in enumerate(found[:_MOST])
        ]


def _plain(part: str, says: str) -> Finding:
    return Finding(check="overhang", part=part, verdict="pass", says=says)
