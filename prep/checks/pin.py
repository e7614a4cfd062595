"""`pin`: no free-standing pin too thin to be printed upright and to stay on."""

from __future__ import annotations

from pydantic import Field

from prep.contract import Bench, Check, Finding, Part, handful
from prep.geometry.distance import Nearest
from prep.geometry.pins import Pin, find_pins
from prep.geometry.solid import Solid
from prep.geometry.wall_thickness import wall_thickness
from prep.places.place import triple
from prep.units import Length, show_mm

_SLACK = 0.04
"""Facets and slanted sections read a round pin by about this share wrong."""

_MOST = 4


class PinThin(Check):
    """Finds pins that stand free, thinner than the process's pin limit and at least twice as tall as thick.

    A pin is followed from foot to tip: narrow and compact in section all the way, free at one end and standing on
    something thicker at the other. It bends while it is printed and snaps when it is handled, at a thickness at which a
    wall would do. Pins in the mesh as it came are warnings; one that a step made is a failure.
    """

    limit: Length | None = Field(None, gt=0, description="thinnest pin allowed; default: the process's pin limit")
    slender: float = Field(2.0, gt=0.0, description="least height over thickness of what counts as a pin")

    @classmethod
    def word(cls) -> str:
        """`pin`."""
        return "pin"

    def examine(self, bench: Bench) -> tuple[Finding, ...]:
        """Thin pins of every part, or one pass."""
        limit = bench.process.pin_limit_mm if self.limit is None else self.limit
        return tuple(finding for part in bench.parts.values() for finding in self._of_part(bench, part, limit))

    def _of_part(self, bench: Bench, part: Part, limit: float) -> list[Finding]:
        known = max(bench.wall_limit_mm, limit / 2.0)
        measured = wall_thickness(part.solid, limit_mm=known, fine=bench.fine, tell=bench.tell)
        found = find_pins(part.solid, limit * (1.0 - _SLACK), slender=self.slender, measured=measured)
        if not found:
            says = f"no free-standing pin thinner than {show_mm(limit)}"
            return [Finding(check="pin", part=part.name, verdict="pass", limit=limit, unit="mm", says=says)]
        return handful([_thin(part, pin, limit) for pin in found], _MOST)


def _thin(part: Part, pin: Pin, limit: float) -> Finding:
    old = part.solid is part.original or _was_there(part.original, pin)
    return Finding(
        check="pin",
        part=part.name,
        verdict="warn" if old else "fail",
        value=pin.width_mm,
        limit=limit,
        unit="mm",
        at_mm=triple(pin.at_mm),
        says=f"free-standing pin {show_mm(pin.width_mm)} thick and {show_mm(pin.length_mm)} tall, "
        f"{pin.slenderness:.1f} times its thickness",
        fix=f"make it {show_mm(limit)} thick, shorter, or join it to a wall with a rib",
        made_by="input" if old else "a step",
    )


def _was_there(original: Solid, pin: Pin) -> bool:
    away = Nearest.of(original).query(pin.tip_mm[None]).distance_mm[0]
    return bool(away <= 0.01 + 1e-6 * original.diagonal_mm)
