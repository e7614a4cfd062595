"""`evenness`: a window is lit alike from edge to edge."""

from __future__ import annotations

import numpy as np
from pydantic import Field

from prep.contract import Bench, Check, Finding
from prep.contract.lit import REFLECTANCE, Lit, lit
from prep.physics.flat_field import Remedy, remedy
from prep.physics.lambert import evenness
from prep.places.pane import Pane
from prep.places.place import triple
from prep.places.window_light import WindowLight, window_light
from prep.units import Fraction, show_mm, show_percent

_ACROSS = 41

_BESIDE = 1.5
"""Plastic straight in from the skin, in walls of the window, beyond which a place is not over the chamber."""


class Evenness(Check):
    """Maps the light on the inner side of every window and finds its hot spot.

    Light comes straight from the lamps, as far as nothing stands in its way, and from the pale walls around. The least
    over the most of it is compared with a limit; a window under it shows the lamp as a dot. What would mend it is
    worked out for the straight light alone: a deeper pocket, a second lamp at the flat-field pitch, or a ring of three.
    """

    limit: Fraction = Field(0.5, gt=0, lt=1, description="least over most light on the window that counts as even")
    reflectance: Fraction = Field(
        REFLECTANCE, ge=0, lt=1, description="share of light that bare light-coloured plastic sends back; unverified"
    )

    @classmethod
    def word(cls) -> str:
        """`evenness`."""
        return "evenness"

    def examine(self, bench: Bench) -> tuple[Finding, ...]:
        """One finding for every window; one pass where there is none."""
        if not bench.ledger.lamps or not bench.ledger.windows:
            return (Finding(check="evenness", part=None, verdict="pass", says="no lit windows"),)
        bench.tell("lighting the windows", 0.0)
        light = lit(bench, reflectance=self.reflectance)
        return tuple(self._of_window(light, number) for number in range(len(light.windows)))

    def _of_window(self, light: Lit, number: int) -> Finding:
        window, pane = light.windows[number], light.field.panes[number]
        if window.wall_mm <= 0.0:
            says = f"{window.id} is filled with a clear insert; how even that looks depends on its polish, not on this"
            return Finding(check="evenness", part=window.part, verdict="pass", at_mm=window.at_mm, says=says)
        shown = window_light(light.field, pane, across=_ACROSS)
        lamps = list(pane.lamps) or list(range(len(light.lamps)))
        lux = shown.falls[:, lamps].sum(axis=1)
        over = shown.wall_mm <= _BESIDE * window.wall_mm
        if over.any():  # straight in from a slanted skin, the rim of the outline lies over the chamber's side
            lux = np.where(over, lux, np.nan)
        if len(lux) == 0 or np.nanmax(lux) <= 0.0:
            return Finding(
                check="evenness",
                part=window.part,
                verdict="warn",
                value=0.0,
                limit=self.limit,
                at_mm=window.at_mm,
                says=f"no light reaches {window.id}",
                fix="look for what stands between lamp and window",
                made_by=window.step,
            )
        found = evenness(lux[~np.isnan(lux)])
        hot = int(np.nanargmax(lux))
        even = found.min_over_max >= self.limit
        says = (
            f"{window.id}: least over most light {found.min_over_max:.2f}, brightest {found.max_over_mean:.2f} and "
            f"dimmest {found.min_over_mean:.2f} of the mean; {show_percent(_sent_back(shown, lamps))} of it "
            "comes back from the walls"
        )
        return Finding(
            check="evenness",
            part=window.part,
            verdict="pass" if even else "warn",
            value=found.min_over_max,
            limit=self.limit,
            at_mm=triple(shown.at_mm[hot]),
            says=says if even else f"{says}: the lamp will show as a dot",
            fix="" if even else self._fix(light, pane, shown, lamps),
            made_by="" if even else window.step,
        )

    def _fix(self, light: Lit, pane: Pane, shown: WindowLight, lamps: list[int]) -> str:
        sources = [light.field.sources[lamp] for lamp in lamps]
        places = pane.flat(np.array([source.at_mm for source in sources]))
        level = float(np.median(pane.flat(shown.inner_mm)[:, 2]))
        away = max(level - float(places[:, 2].mean()), 1e-3)
        wide, high = (2.0 * half for half in pane.half_mm)
        found = remedy((wide, high), away, sources[0].order, places[:, :2], self.limit)
        ways = [f"set the lamp {show_mm(found.depth_mm)} behind the window, now {show_mm(away)}", *_spread(found)]
        return ", or ".join(ways)


def _spread(found: Remedy) -> list[str]:
    """Lamps side by side that would do it, in words; none where none does."""
    ways = []
    if found.pair.min_over_max >= found.wanted:
        ways.append(f"use two lamps {show_mm(found.pair_mm)} apart")
    if found.ring.min_over_max >= found.wanted:
        ways.append(f"use three lamps on a ring of {show_mm(found.ring_mm)} radius")
    return ways


def _sent_back(shown: WindowLight, lamps: list[int]) -> float:
    """Share of a window's light that does not come straight."""
    return float(1.0 - shown.straight[:, lamps].sum() / shown.falls[:, lamps].sum())
