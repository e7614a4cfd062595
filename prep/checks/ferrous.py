"""`ferrous`: iron keeps its distance from magnets that it does not belong to."""

from __future__ import annotations

import numpy as np
from pydantic import Field

from prep.contract import Bench, Check, Finding, Item
from prep.units import show_mm


class Ferrous(Check):
    """Measure how near steel ballast, washers and other iron stand to every magnet.

    Iron beside a magnet takes part of its pull and draws the cover askew. The limit of two magnet diameters is common
    practice, no source.
    """

    diameters: float = Field(2.0, gt=0.0, description="distance wanted, in diameters of the magnet")

    @classmethod
    def word(cls) -> str:
        """`ferrous`."""
        return "ferrous"

    def examine(self, bench: Bench) -> tuple[Finding, ...]:
        """One finding for every piece of iron too near, or one pass where there are magnets and iron."""
        magnets = [item for item in bench.ledger.items if item.kind == "magnet"]
        iron = [item for item in bench.ledger.items if item.ferrous and item.kind != "magnet"]
        iron = [piece for piece in iron if not any(_opposite(piece, magnet) for magnet in magnets)]
        pairs = [(_apart(piece, magnet), piece, magnet) for piece in iron for magnet in magnets]
        near = [pair for pair in pairs if pair[0] < self._wanted(pair[2])]
        if near:
            return tuple(self._near(*pair) for pair in sorted(near, key=lambda pair: pair[0]))
        if not pairs:
            return ()
        least, piece, magnet = min(pairs, key=lambda pair: pair[0])
        return (
            Finding(
                check="ferrous",
                part=piece.part,
                verdict="pass",
                value=least,
                limit=self._wanted(magnet),
                unit="mm",
                at_mm=piece.at_mm,
                says=f"iron keeps clear of the magnets: {piece.id} is {show_mm(least)} from {magnet.id}",
            ),
        )

    def _wanted(self, magnet: Item) -> float:
        return self.diameters * 2.0 * magnet.radius_mm

    def _near(self, apart: float, piece: Item, magnet: Item) -> Finding:
        return Finding(
            check="ferrous",
            part=piece.part,
            verdict="fail",
            value=apart,
            limit=self._wanted(magnet),
            unit="mm",
            at_mm=piece.at_mm,
            says=f"{piece.item} ({piece.id}) stands {show_mm(apart)} from magnet {magnet.id}: it takes pull from it",
            fix="move one of them, or choose ballast that is not ferrous (`prep table ballast`)",
            made_by=piece.step,
        )


def _apart(piece: Item, magnet: Item) -> float:
    """From the edge of the iron to the magnet's middle, mm."""
    return float(np.linalg.norm(np.array(piece.at_mm) - np.array(magnet.at_mm))) - piece.radius_mm


def _opposite(piece: Item, magnet: Item) -> bool:
    """Whether the piece is the steel that the magnet is meant to pull: the same seat's partner, on its axis."""
    between = np.array(piece.at_mm) - np.array(magnet.at_mm)
    off = np.linalg.norm(np.cross(np.array(magnet.axis), between))
    return piece.step == magnet.step and float(off) < 0.1 * magnet.radius_mm
