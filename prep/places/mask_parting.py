"""`ways_apart`: into how few pieces planes part a mask so that every piece comes straight off."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from prep.geometry.patch import Patch
from prep.geometry.pull_path import PullSamples
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
    least over all partings nested `DEEPEST` deep. Cost: partings^2 times ways times the cells that the
    partings cut the mask into.
    """
    search = _Search.of(samples, partings, patch)
    found = search.plans(np.ones(len(search.size), dtype=bool), near, DEEPEST)
    return tuple(sorted(found, key=lambda plan: (plan.count, plan.crosses[0], round(plan.crosses[1], 3)))[:most])


@dataclass(frozen=True, eq=False)
class _Search:
    """Samples grouped by the sides of all partings they lie on: no parting tells those of a group from one another.

    Attributes
    ----------
    group : (n,) of every sample
    size : (g,) samples in it
    meets : (g, k) float, whether one of its samples meets something along each way
    above : (p, g) bool
    edge_above : (p, e) bool, likewise of the window's edge
    """

    partings: Sequence[Parting]
    patch: Patch
    group: NDArray[np.intp]
    size: NDArray[np.intp]
    meets: NDArray[np.float32]
    above: Bools
    edge_above: Bools

    @staticmethod
    def of(samples: PullSamples, partings: Sequence[Parting], patch: Patch) -> _Search:
        everywhere = np.zeros((1, len(samples.points)), dtype=bool)
        sides = np.array([one.heights(samples.points) > 0.0 for one in partings]) if len(partings) else everywhere
        packed = np.packbits(sides, axis=0)
        _, first, group, size = np.unique(packed, axis=1, return_index=True, return_inverse=True, return_counts=True)
        group = group.ravel()
        order = np.argsort(group, kind="stable")
        starts = np.concatenate([[0], np.cumsum(size)[:-1]])
        meets = np.logical_or.reduceat(samples.meets[order], starts, axis=0).astype(np.float32)
        middle = patch.vertices[patch.edge_sides].mean(axis=1)
        edge_above = np.array([one.heights(middle) > 0.0 for one in partings])
        return _Search(partings, patch, group, size, meets, sides[:, first], edge_above)

    def plans(self, chosen: Bools, edges: Bools, depth: int) -> list[Plan]:
        if self._free(chosen[None])[0]:
            return [Whole(chosen[self.group])]
        if depth == 0 or not self.partings:
            return []
        found: list[Plan] = []
        above, below = self.above & chosen, ~self.above & chosen
        enough = LEAST_SHARE * len(self.group)
        split = (above @ self.size >= enough) & (below @ self.size >= enough)
        both = np.flatnonzero(split & self._free(above) & self._free(below))
        rows = both if len(both) else np.flatnonzero(split if depth > 1 else np.zeros_like(split))
        for row in rows.tolist():
            sides = self.edge_above[row]
            first = self._fewest(above[row], edges & sides, depth - 1)
            second = self._fewest(below[row], edges & ~sides, depth - 1) if first else None
            if first and second:
                crossed = edge_crossings(self.patch, self.partings[row], edges)
                found.append(Apart(self.partings[row], first, second, crossed))
        return found

    def _fewest(self, chosen: Bools, edges: Bools, depth: int) -> Plan | None:
        found = self.plans(chosen, edges, depth)
        return min(found, key=lambda plan: (plan.count, plan.crosses), default=None)

    def _free(self, chosen: Bools) -> Bools:
        """Whether each choice of groups, (p, g), has a free way."""
        return np.asarray((chosen.astype(np.float32) @ self.meets == 0.0).any(axis=1))
