"""`leak`: no light shows outside the windows, through walls, seams or openings, covers on and off."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from pydantic import Field

from prep.contract import Bench, Check, Finding, handful
from prep.contract.lit import LEAK_LIMIT, REFLECTANCE, Lit, glowing, lit
from prep.geometry.distance import Nearest
from prep.geometry.open_sky import open_sky
from prep.geometry.rays import RayScene
from prep.geometry.solid import Array
from prep.places.light_leaks import GlowMap, LeakSpot, light_leaks, show_ratio
from prep.units import Fraction, show_mm, show_percent

_MOST = 6

_SAME_MM = 3.0
"""A place this near one that leaks with all covers on is not named again for covers off."""

_TONGUE = 3.0
"""Height of a tongue across a seam, in widths of the seam, that no straight line passes (habit)."""

_TONGUE_LEAST_MM = 1.0

_LEAST_SKY = 0.05
"""Share of open sky that a place finds through a seam alone."""


class Leak(Check):
    r"""Follows the light of every lamp through the finished parts and lists each place outside the windows that glows.

    A place is a leak where its luminance is above a share of that of the lamp's window, the median over the window.
    Light goes straight from the lamp and back and forth between pale walls; a wall shows the light on its inner side
    times the share that its thickness passes, by the shop's step wedge or else by an unverified default. Walls, the
    walls of holes and bosses, seams, and openings are told apart. With covers off, that is with the lamp's own part
    alone, light out of the opening is expected; the walls still count.

    What glows through plastic that nobody has measured is a warning; by the shop's own readings it is a failure.

    Drawing
    -------
    A lamp in a cavity, cut across::

        +--[ window ]--+          The window sets the measure. The ray to a is straight light through 1 mm of
        |   ' . '      |          plastic; b gets only light sent back by the walls, and lets it out between two
        |    \|/       +--          parts; c is the wall of a screw hole, thin toward the cavity: light comes into the
        a     L      c | |        hole and out of its mouth. Each gets a line: place, plastic in the way, share of the
        +------------+ +-+        window's luminance, and the thickness that would hold it.
        ======= b ========
    """

    limit: Fraction = Field(
        LEAK_LIMIT, gt=0, lt=1, description="most that a place may show, as a share of the window's luminance"
    )
    reflectance: Fraction = Field(
        REFLECTANCE, ge=0, lt=1, description="share of light that bare light-coloured plastic sends back; unverified"
    )

    @classmethod
    def word(cls) -> str:
        """`leak`."""
        return "leak"

    def examine(self, bench: Bench) -> tuple[Finding, ...]:
        """Leaks of every part, brightest first, or a pass for each; one pass where there are no lamps."""
        if not bench.ledger.lamps:
            return (Finding(check="leak", part=None, verdict="pass", says="no lamps, so nothing to glow"),)
        bench.tell("following the light", 0.0)
        found = glowing(bench, self.limit, self.reflectance)
        whole, on = found.light, found.shown
        glow = np.where(whole.window_glow > 0.0, whole.window_glow, np.inf)
        findings = [_dark(whole, number) for number in range(len(glow)) if np.isinf(glow[number])]
        for number, name in enumerate(whole.names):
            bench.tell("following the light, covers off", (number + 1.0) / (len(whole.names) + 1.0))
            leaks = [self._named(whole, spot, "") for spot in on.leaks if spot.part == number]
            leaks += self._covers_off(bench, name, glow, on)
            findings += handful(leaks, _MOST) if leaks else [self._passed(whole, name)]
        return tuple(findings)

    def _covers_off(self, bench: Bench, name: str, glow: Array, on: GlowMap) -> list[Finding]:
        """Leaks of a part's own walls when it stands alone with its own lamps, less those named already."""
        lamps = [(number, lamp) for number, lamp in enumerate(bench.ledger.lamps) if lamp.part == name]
        if not lamps or len(bench.parts) == 1:
            return []
        alone = lit(bench, parts=(name,), lamps=[lamp for _, lamp in lamps], reflectance=self.reflectance)
        own = glow[[number for number, _ in lamps]]
        spots = _seen_closed(bench, name, light_leaks(alone.field, own, limit=self.limit, openings=False).leaks)
        return [
            self._named(alone, spot, "with the covers off, ")
            for spot in spots
            if all(math.dist(spot.at_mm, other.at_mm) > max(_SAME_MM, spot.long_mm) for other in on.leaks)
        ]

    def _named(self, light: Lit, spot: LeakSpot, when: str) -> Finding:
        lamp, part = light.lamps[spot.lamp], light.names[spot.part]
        shown = f"{show_ratio(spot.ratio)} its window's luminance, over {show_mm(spot.long_mm)}"
        match spot.kind:
            case "wall" | "hollow":
                where = "a wall" if spot.kind == "wall" else "the wall of a hole or recess,"
                says = f"{when}light of {lamp.id} shows through {where} {show_mm(spot.wall_mm)} thick: {shown}"
                curve = light.field.plastics[spot.part].transmission
                thick = curve.thickness_for(curve.share(spot.wall_mm) * 0.99 * self.limit / spot.ratio)
                fix = f"make it {show_mm(thick)} thick"
                if light.field.plastics[spot.part].coat_reflectance is None:
                    fix += f", or coat the inside of {part} black"
            case "seam":
                high = max(_TONGUE * spot.wide_mm, _TONGUE_LEAST_MM)
                says = f"{when}light of {lamp.id} comes out of a seam open by {show_mm(spot.wide_mm)}: {shown}"
                fix = f"close the seam, or put a tongue or baffle {show_mm(high)} high across it"
            case _:
                says = f"{when}light of {lamp.id} comes out of an opening {show_mm(spot.wide_mm)} wide: {shown}"
                fix = "plug or cover it, or put a baffle before it so that no straight line from lit walls leads out"
        return Finding(
            check="leak",
            part=part,
            verdict="fail" if light.verified else "warn",
            value=100.0 * spot.ratio,
            limit=100.0 * self.limit,
            unit="%",
            at_mm=spot.at_mm,
            says=says + ("" if light.verified else "; transmission is an unverified default"),
            fix=fix,
            made_by=lamp.step,
        )

    def _passed(self, light: Lit, part: str) -> Finding:
        wide = show_mm(2.0 * light.field.spacing_mm)
        says = f"nothing outside the windows shows more than {show_percent(self.limit)} of a window's luminance"
        says += f"; any such place wider than {wide} would have been seen"
        return Finding(
            check="leak",
            part=part,
            verdict="pass",
            limit=100.0 * self.limit,
            unit="%",
            says=says + ("" if light.verified else "; transmission is an unverified default"),
        )


def _seen_closed(bench: Bench, name: str, spots: Sequence[LeakSpot]) -> list[LeakSpot]:
    """The spots, less those in a hollow that the covers close.

    What glows inside an open part, such as the wall of a lamp's own holder, is hidden again by the cover, like the
    light that comes out of the opening. Outer walls that a cover darkens are kept.
    """
    if all(spot.kind != "hollow" for spot in spots):
        return list(spots)
    points = np.array([spot.at_mm for spot in spots])
    found = Nearest.of(bench.parts[name].solid).query(points)
    normals = bench.parts[name].solid.triangle_normals[found.triangle]
    sky = open_sky(RayScene([part.solid for part in bench.parts.values()]), found.point, normals)
    return [spot for spot, seen in zip(spots, sky, strict=True) if spot.kind != "hollow" or seen > _LEAST_SKY]


def _dark(light: Lit, number: int) -> Finding:
    """A lamp with no window that its light reaches: there is nothing to compare a glow with."""
    lamp = light.lamps[number]
    return Finding(
        check="leak",
        part=lamp.part,
        verdict="warn",
        at_mm=lamp.at_mm,
        says=f"light of {lamp.id} reaches no window, so nothing says how bright a leak would look beside it",
        fix="give the lamp a window that it can see",
        made_by=lamp.step,
    )
