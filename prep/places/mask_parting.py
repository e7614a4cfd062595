"""`ways_apart`: into how few pieces planes part a mask so that every piece comes straight off."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from prep.geometry.patch import Patch
from prep.geometry.pull_path import PullSamples
from prep.geometry.solid import Array
from prep.geometry.split_shell import Parting, edge_crossings

Bools = NDArray[np.bool_]

DEEPEST = 2
"""Partings one behind the other: up to four pieces."""
LEAST_SHARE = 0.02
"""Of the mask's samples, on either side of a parting."""


@dataclass(frozen=True)
class Whole:
    """What stays in one piece.

    Attributes
    ----------
    chosen : (n,) bool, its samples
    """

    chosen: Bools

    @property
    def count(self) -> int:
        """One."""
        return 1

    @property
    def crosses(self) -> tuple[int, float]:
        """No edge is crossed."""
        return (0, 0.0)


@dataclass(frozen=True)
class Apart:
    """A parting, and what becomes of either side.

    Attributes
    ----------
    crossed : times this parting itself crosses the window's edge, and how far from square at worst
    """

    parting: Parting
    above: Whole | Apart
    below: Whole | Apart
    crossed: tuple[int, float]

    @property
    def count(self) -> int:
        """Pieces in all."""
        return self.above.count + self.below.count

    @property
    def crosses(self) -> tuple[int, float]:
        """Crossings of the window's edge in all, and the worst skew."""
        three = (self.crossed, self.above.crosses, self.below.crosses)
        return sum(one[0] for one in three), max(one[1] for one in three)


Plan = Whole | Apart


def ways_apart(
    samples: PullSamples, partings: Sequence[Parting], patch: Patch, near: Bools, most: int
) -> tuple[Plan, ...]:
    """Plans whose pieces all come off as far as samples tell: fewest pieces first, then fewest crossings of the edge.

    Parameters
    ----------
    near : (e,) bool, the sides of the window's edge that the mask lies at
    most : how many plans

    Notes
    -----
    Every parting, and behind every parting every other on either side, is looked at: the count of the first is the
    least over all partings nested `DEEPEST` deep. Cost: partings^2 times samples times ways, as one matrix product.
    """
    search = _Search(samples, partings, patch, near)
    found = search.plans(np.ones(len(samples.points), dtype=bool), near, DEEPEST)
    return tuple(sorted(found, key=lambda plan: (plan.count, plan.crosses[0], round(plan.crosses[1], 3)))[:most])


@dataclass(frozen=True, eq=False)
class _Search:
    samples: PullSamples
    partings: Sequence[Parting]
    patch: Patch
    near: Bools
    _sides: list[Bools] = field(default_factory=list)

    def plans(self, chosen: Bools, edges: Bools, depth: int) -> list[Plan]:
        if self.samples.free(chosen).any():
            return [Whole(chosen)]
        if depth == 0 or not self.partings:
            return []
        found: list[Plan] = []
        above = self._above & chosen
        below = ~self._above & chosen
        free_above, free_below = self._free(above), self._free(below)
        enough = LEAST_SHARE * len(chosen)
        split = (above.sum(axis=1) >= enough) & (below.sum(axis=1) >= enough)
        both = np.flatnonzero(split & free_above & free_below)
        rows = both if len(both) else np.flatnonzero(split if depth > 1 else np.zeros_like(split))
        for row in rows.tolist():
            sides = self._edge_above[row]
            first = self._fewest(above[row], edges & sides, depth - 1)
            second = self._fewest(below[row], edges & ~sides, depth - 1) if first else None
            if first and second:
                crossed = edge_crossings(self.patch, self.partings[row], edges)
                found.append(Apart(self.partings[row], first, second, crossed))
        return found

    def _fewest(self, chosen: Bools, edges: Bools, depth: int) -> Plan | None:
        found = self.plans(chosen, edges, depth)
        return min(found, key=lambda plan: (plan.count, plan.crosses), default=None)

    def _free(self, groups: NDArray[np.bool_]) -> Bools:
        """Whether each group of samples, (p, n), has a free way."""
        meets = groups.astype(np.float32) @ self.samples.meets.astype(np.float32)
        return np.asarray((meets == 0.0).any(axis=1))

    @property
    def _above(self) -> NDArray[np.bool_]:
        if not self._sides:
            self._sides.append(np.array([one.heights(self.samples.points) > 0.0 for one in self.partings]))
            middle: Array = self.patch.vertices[self.patch.edge_sides].mean(axis=1)
            self._sides.append(np.array([one.heights(middle) > 0.0 for one in self.partings]))
        return self._sides[0]

    @property
    def _edge_above(self) -> NDArray[np.bool_]:
        return self._sides[1]
