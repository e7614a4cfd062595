"""`magnet_spacing`: magnets of a part stand far enough apart to be glued."""

from __future__ import annotations

from itertools import combinations

import numpy as np
from pydantic import Field

from prep.contract import Bench, Check, Finding, Item
from prep.units import show_mm


class MagnetSpacing(Check):
    """Measure how near the magnets of one part stand to one another, whichever steps set them.

    Magnets nearer than two diameters pull one another out of wet glue (common practice, no source).
    """

    diameters: float = Field(2.0, gt=0.0, description="distance wanted between middles, in diameters of the larger")

    @classmethod
    def word(cls) -> str:
        """`magnet_spacing`."""
        return "magnet_spacing"

    def examine(self, bench: Bench) -> tuple[Finding, ...]:
        """One finding for every part that holds two magnets or more: the two that stand nearest for their size."""
        found = []
        for name in bench.parts:
            magnets = [item for item in bench.ledger.items if item.kind == "magnet" and item.part == name]
            pairs = list(combinations(magnets, 2))
            if pairs:
                found.append(self._nearest(name, min(pairs, key=lambda pair: _apart(*pair) - self._wanted(*pair))))
        return tuple(found)

    def _nearest(self, part: str, pair: tuple[Item, Item]) -> Finding:
        first, second = pair
        apart, wanted = _apart(first, second), self._wanted(first, second)
        far = apart >= wanted * (1.0 - 1e-9)
        says = f"{first.id} and {second.id} stand {show_mm(apart)} apart, middle to middle"
        return Finding(
            check="magnet_spacing",
            part=part,
            verdict="pass" if far else "warn",
            value=apart,
            limit=wanted,
            unit="mm",
            at_mm=first.at_mm,
            says=f"{says}, the nearest two" if far else f"{says}: they pull one another out of wet glue",
            fix="" if far else "glue one at a time and let each cure",
            made_by="" if far else second.step,
        )

    def _wanted(self, first: Item, second: Item) -> float:
        return self.diameters * 2.0 * max(first.radius_mm, second.radius_mm)


def _apart(first: Item, second: Item) -> float:
    return float(np.linalg.norm(np.array(first.at_mm) - np.array(second.at_mm)))
