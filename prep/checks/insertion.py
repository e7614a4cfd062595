"""`insertion`: everything that goes into a part can get there."""

from __future__ import annotations

import numpy as np
from pydantic import Field

from prep.contract import Bench, Check, Finding, Item
from prep.geometry.seat_room import SeatRoom
from prep.geometry.solid import Array
from prep.units import Length, show_mm

SLACK_MM = 0.03
"""How much less than an item's radius is swept, beside the interference of pressed seats and crush ribs."""


class Insertion(Check):
    """Sweep every magnet and round weight out of the finished part along its axis.

    It must come clear of its seat by its own length and room for a tool, one way or the other, through the part as all
    steps left it. What is buried at a pause of the print needs no way in and passes; what the recipe carries lies as
    its own holder has it, and is left out.
    """

    tool: Length = Field(3.0, ge=0.0, description="room wanted beyond the item's own length")

    @classmethod
    def word(cls) -> str:
        """`insertion`."""
        return "insertion"

    def examine(self, bench: Bench) -> tuple[Finding, ...]:
        """One finding for every item that cannot be inserted, or one pass a part that holds items."""
        findings: list[Finding] = []
        for name, part in bench.parts.items():
            held = [i for i in bench.ledger.items if i.part == name and i.radius_mm > 0.0 and i.length_mm > 0.0]
            held = [i for i in held if i.step != "carried"]
            if not held:
                continue
            room = SeatRoom(part.solid)
            buried = [np.array(v.at_mm) for v in bench.ledger.voids if v.part == name and v.state == "sealed"]
            squeezed = 0.5 * max(bench.process.press_mm, bench.process.rib_mm)
            ways = [(item, self._way(room, item, squeezed)) for item in held if not _is_buried(item, buried)]
            blocked = [(item, way) for item, way in ways if way < item.length_mm + self.tool]
            findings += [self._blocked(name, item, way) for item, way in blocked]
            if not blocked:
                least = min((way for _, way in ways), default=float("inf"))
                says = f"all {len(held)} items go in" + (
                    f"; the tightest way is {show_mm(least)}" if least < 1e6 else ""
                )
                findings.append(Finding(check="insertion", part=name, verdict="pass", unit="mm", says=says))
        return tuple(findings)

    def _way(self, room: SeatRoom, item: Item, squeezed_mm: float) -> float:
        """The longer free way out of the two along the item's axis, mm; 0 where its middle is in solid material."""
        axis = np.array(item.axis)
        if room.in_material(np.array(item.at_mm), axis):
            return 0.0
        radius = item.radius_mm - squeezed_mm - SLACK_MM
        ends = np.array(item.at_mm) + np.array([[0.5], [-0.5]]) * item.length_mm * axis
        return float(room.travel(ends, np.stack([axis, -axis]), max(radius, 0.5 * item.radius_mm)).max())

    def _blocked(self, part: str, item: Item, way: float) -> Finding:
        return Finding(
            check="insertion",
            part=part,
            verdict="fail",
            value=way,
            limit=item.length_mm + self.tool,
            unit="mm",
            at_mm=item.at_mm,
            says=f"{item.id} ({item.item}) cannot be put in: the way is blocked after {show_mm(way)}",
            fix="open the way in the model, move the seat, or bury it at a pause",
            made_by=item.step,
        )


def _is_buried(item: Item, voids: list[Array]) -> bool:
    """Whether a sealed void begins under the item, on its axis."""
    axis = np.array(item.axis)
    arms = [at - np.array(item.at_mm) for at in voids]
    return any(
        abs(arm @ axis) <= item.length_mm and np.linalg.norm(np.cross(axis, arm)) <= 0.5 * item.radius_mm
        for arm in arms
    )
