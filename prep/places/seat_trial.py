"""`SeatTrial`: every candidate of a seam asked in turn for ground, depth, walls and a way in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from prep.geometry.bore_gap import Bores
from prep.geometry.solid import Array
from prep.places.seat_need import Candidates, Shortfall, Side

Rows = NDArray[np.intp]
Chosen = NDArray[np.bool_]

LONGEST_WAY_MM = 12.0
"""Longest bore behind a seat that is loaded from the far side."""

MOST_MEASURED = 400
WIDTH_WITHIN_MM = 0.05
OFF_SKIN_MM = 0.05
"""How far above the skin a disc drawn out of its seat begins."""


@dataclass(frozen=True)
class SeatTrial:
    """Candidates with the skin over each, and the bore each would get, on every side.

    Attributes
    ----------
    lowest_mm, rises_mm : for each side (n,): the lowest skin over the mouth, along the axis out of the part from the
        candidate, and how far the skin rises over that; the rise is infinite where the mouth is not over skin
    bores : for each side, the seat at every candidate
    count : how many seats are wanted; None for every candidate
    """

    sides: Sequence[Side]
    candidates: Candidates
    count: int | None
    lowest_mm: tuple[Array, ...]
    rises_mm: tuple[Array, ...]
    bores: tuple[Bores, ...]

    @classmethod
    def of(cls, sides: Sequence[Side], candidates: Candidates, count: int | None) -> SeatTrial:
        """Look at the skin over every candidate, on every side."""
        lowest, rises, bores = [], [], []
        for side in sides:
            outward = side.sign * candidates.axes
            foot = side.room.footprint(candidates.points, outward, side.need.mouth_mm)
            low = np.where(foot.covered, foot.lowest_mm, 0.0)
            lowest.append(low)
            rises.append(np.where(foot.covered, foot.highest_mm - foot.lowest_mm, np.inf))
            bores.append(_bores(side, candidates.points + low[:, None] * outward, outward))
        return cls(sides, candidates, count, tuple(lowest), tuple(rises), tuple(bores))

    def on_skin(self, alive: Chosen) -> Chosen | Shortfall:
        """Those whose mouth lies over skin that is even enough."""
        uneven = np.max(self.rises_mm, axis=0)
        sag = self.sides[0].need.sag_mm
        passed: Chosen = alive & (uneven <= sag)
        if self._enough(passed):
            return passed
        short = np.flatnonzero(alive & ~passed)
        narrow = short[~np.isfinite(uneven[short])]
        rest = short[np.isfinite(uneven[short])]
        if len(rest) and (self.count is not None or not len(narrow)):
            at = rest[self._tellingly(-uneven[rest])]
            what = "unevenness of the skin under the seat's mouth"
            return Shortfall(int(passed.sum()), what, float(uneven[at]), sag, self.candidates.points[at], "too much")
        rows = narrow[np.unique(np.linspace(0, len(narrow) - 1, min(len(narrow), MOST_MEASURED)).astype(np.intp))]
        width = self._width(rows)
        at = self._tellingly(width)
        wanted = 2.0 * self.sides[0].need.mouth_mm
        what = "width of the skin under the seat's mouth"
        return Shortfall(int(passed.sum()), what, float(width[at]), wanted, self.candidates.points[rows[at]])

    def in_reach(self, alive: Chosen) -> Chosen | Shortfall:
        """Of seats loaded from behind, those with material enough for them, and no bore too long."""
        need = self.sides[0].need
        if not need.from_behind:
            return alive
        shallow = np.min([bores.depths_mm for bores in self.bores], axis=0) + need.roof_mm
        longest = np.max([bores.depths_mm for bores in self.bores], axis=0)
        least, most = need.roof_mm + need.depth_mm, need.depth_mm + LONGEST_WAY_MM
        thick = alive & (shallow >= least)
        passed: Chosen = thick & (longest <= most)
        if self._enough(passed):
            return passed
        fits, points = int(passed.sum()), self.candidates.points
        if self._enough(thick):
            rows = np.flatnonzero(thick & ~passed)
            at = rows[self._tellingly(-longest[rows])]
            return Shortfall(fits, "the bore from behind", float(longest[at]), most, points[at], "too much")
        rows = np.flatnonzero(alive & ~thick)
        at = rows[self._tellingly(shallow[rows])]
        return Shortfall(fits, "material behind the seam", float(shallow[at]), least, points[at])

    def walled(self, alive: Chosen) -> tuple[Chosen | Shortfall, Array]:
        """Those with material enough on every side but the opening, and how much, (n,) mm."""
        wanted = max(side.need.wall_mm for side in self.sides)
        reach = np.min([self._reach(k, alive) for k in range(len(self.sides))], axis=0)
        walls = np.full(len(alive), -np.inf)
        near = np.flatnonzero(alive & (reach >= 0.0))
        walls[near] = self._walls(near)
        passed: Chosen = alive & (walls >= wanted)
        if self._enough(passed):
            return passed, walls
        rows = np.flatnonzero(alive & ~passed)
        if self.count is not None:
            rows = rows[np.argsort(-reach[rows], kind="stable")[:MOST_MEASURED]]
        exact = self._walls(rows)
        at = self._tellingly(exact)
        what = "material beside the seat"
        return Shortfall(int(passed.sum()), what, float(exact[at]), wanted, self.candidates.points[rows[at]]), walls

    def way_in(self, alive: Chosen) -> Chosen | Shortfall:
        """Those out of which a disc can be drawn along the axis, clear of the part, for as far as it must."""
        need = self.sides[0].need
        if need.buried:
            return alive
        rows = np.flatnonzero(alive)
        ways = np.min([self._travel(k, rows) for k in range(len(self.sides))], axis=0)
        passed = np.zeros_like(alive)
        passed[rows[ways >= need.travel_mm]] = True
        if self._enough(passed):
            return passed
        short = ways < need.travel_mm
        at = self._tellingly(ways[short])
        where = self.candidates.points[rows[short][at]]
        way = float(ways[short][at])
        return Shortfall(int(passed.sum()), "a free way in", way, need.travel_mm, where, blocked=True)

    def _enough(self, passed: Chosen) -> bool:
        return bool(passed.any() if self.count is not None else passed.all())

    def _tellingly(self, figures: Array) -> int:
        """Row of the figure to tell: the best where any place will do, the worst where each must do."""
        return int(np.argmax(figures) if self.count is not None else np.argmin(figures))

    def _width(self, rows: Rows) -> Array:
        """Across the widest disc of skin about each candidate, up to the seat's mouth, (n,) mm."""
        points, axes = self.candidates.points[rows], self.candidates.axes[rows]
        radius, step = np.zeros(len(rows)), self.sides[0].need.mouth_mm / 2.0
        while step > WIDTH_WITHIN_MM / 2.0:
            wider = radius + step
            covered = np.ones(len(rows), dtype=bool)
            for side in self.sides:
                covered &= side.room.footprint(points, side.sign * axes, wider).covered
            radius = np.where(covered, wider, radius)
            step /= 2.0
        return np.asarray(2.0 * radius)

    def _reach(self, side: int, alive: Chosen) -> Array:
        """How much more than the least any seat needs stands about each seat's middle, (n,) mm: a quick first sieve."""
        need, bores = self.sides[side].need, self.bores[side]
        spare = np.full(len(alive), -np.inf)
        rows = np.flatnonzero(alive)
        if need.from_behind:
            spare[rows] = 0.0
            return spare
        middles = bores.tops[rows] - 0.5 * need.depth_mm * bores.outs[rows]
        least = min(need.radius_mm, 0.5 * need.depth_mm) + need.wall_mm
        spare[rows] = self.sides[side].room.middle_clearance(middles, bores.outs[rows]) - least
        return spare

    def _walls(self, rows: Rows) -> Array:
        """Least material beside the seats of some candidates, on any side, (n,) mm; negative where one breaks out."""
        walls = np.full(len(rows), np.inf)
        for side, bores in zip(self.sides, self.bores, strict=True):
            need, chosen = side.need, bores[rows]
            for depth in np.unique(chosen.depths_mm):
                same = np.flatnonzero(chosen.depths_mm == depth)
                found = side.room.clearance(
                    chosen.tops[same],
                    chosen.outs[same],
                    radius_mm=need.radius_mm,
                    depth_mm=float(depth),
                    rim_mm=need.rim_mm,
                    sides_only=need.from_behind,
                )
                walls[same] = np.minimum(walls[same], found)
        return walls

    def _travel(self, side: int, rows: Rows) -> Array:
        """How far over each seat's mouth a disc comes before it meets the part, (n,) mm."""
        need, bores = self.sides[side].need, self.bores[side]
        begin = need.sag_mm + OFF_SKIN_MM
        starts = bores.tops[rows] + begin * bores.outs[rows]
        return begin + self.sides[side].room.travel(starts, bores.outs[rows], need.radius_mm)


def _bores(side: Side, tops: Array, outward: Array) -> Bores:
    need = side.need
    if need.from_behind:
        deep = side.room.material_below(tops, outward)
        deep = np.where(np.isfinite(deep), deep, 0.0)
        return Bores(tops - deep[:, None] * outward, -outward, deep - need.roof_mm, need.radius_mm)
    depths = np.full(len(tops), need.depth_mm)
    return Bores(tops - need.roof_mm * outward, outward, depths, need.radius_mm)
