"""`ways_apart`: into how few pieces planes part a mask so that every piece comes straight off."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from prep.geometry.patch import Patch
from prep.geometry.pull_path import PullSamples
from prep.geometry.sample_links import linked
from prep.geometry.solid import Solid
from prep.geometry.split_shell import Parting, edge_crossings

Bools = NDArray[np.bool_]
Links = NDArray[np.intp]
Limits = tuple[tuple[int, bool], ...]
"""Partings past which a piece comes off while the other side is still seated, and whether it lies above each."""

DEEPEST = 2
"""Partings one behind the other, all of them tried."""
DEEPER, PROMISING = 3, 10
"""Where none of those holds: partings one behind the other, and how many are tried at each turn, the ones that free
the most of the mask."""
LEAST_SHARE = 0.02
"""Of the mask's samples, on either side of a parting."""
CRUMB_SHARE = 0.003
"""Of the mask's samples: less than that apart from the rest is a gap between samples, not a piece."""
LEVEL = 1e-6
"""Cosine from which a way leads across a parting."""
LEAST_NESTED = 3
"""Pieces that a parting behind a parting makes at least."""


@dataclass(frozen=True)
class Whole:
    """What stays in one piece.

    Attributes
    ----------
    chosen : (n,) bool, its samples
    ways : (k,) bool, along which it passes what is still seated beyond the partings
    """

    chosen: Bools
    ways: Bools

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
    above, below : connected pieces on either side
    crossed : times this parting itself crosses the window's edge, and how far from square at worst
    """

    parting: Parting
    above: tuple[Whole | Apart, ...]
    below: tuple[Whole | Apart, ...]
    crossed: tuple[int, float]

    @property
    def chosen(self) -> Bools:
        """All its samples, (n,) bool."""
        return np.asarray(np.logical_or.reduce([one.chosen for one in (*self.above, *self.below)]))

    @property
    def count(self) -> int:
        """Pieces in all."""
        return sum(one.count for one in (*self.above, *self.below))

    @property
    def crosses(self) -> tuple[int, float]:
        """Crossings of the window's edge in all, and the worst skew."""
        every = (self.crossed, *(one.crosses for one in (*self.above, *self.below)))
        return sum(one[0] for one in every), max(one[1] for one in every)


Plan = Whole | Apart


def ways_apart(
    mask: Solid, samples: PullSamples, partings: Sequence[Parting], patch: Patch, near: Bools, most: int
) -> tuple[Plan, ...]:
    """Plans whose pieces all come off as far as samples tell: fewest pieces first, then fewest crossings of the edge.

    Parameters
    ----------
    mask : connected
    near : (e,) bool, the sides of the window's edge that the mask lies at
    most : how many plans

    Notes
    -----
    Every parting, and behind every parting every other on every connected piece, is looked at: the count of the first
    is the least over all partings nested `DEEPEST` deep. Where none of them holds, the promising ones are nested
    `DEEPER`, and the count is no longer the least for certain. Cost: partings^2 times the cells that the partings cut
    the mask into, and as often times ways the pieces that differ.

    Of the two sides of a parting one comes off first: its pieces along the parting go no way that leads across it.
    """
    whole = np.ones(len(samples.points), dtype=bool)
    if samples.free(whole).any():
        return (Whole(whole, np.ones(len(samples.ways), dtype=bool)),)
    search = _Search.of(mask, samples, partings, patch)
    every = np.ones(len(search.size), dtype=bool)
    found = search.plans(every, near, DEEPEST)
    if not found:
        found = replace(search, widest=PROMISING, known={}).plans(every, near, DEEPER)
    return tuple(sorted(found, key=lambda plan: (plan.count, plan.crosses[0], round(plan.crosses[1], 3)))[:most])


@dataclass(frozen=True, eq=False)
class _Search:
    """Samples in cells: connected through the mask, and on one side of every parting.

    Attributes
    ----------
    cell : (n,) of every sample
    size : (c,) samples in it
    free : (c, k/8) uint8, a bit for each way along which none of its samples meets anything
    above : (p, c) bool
    touches : (p, c) bool, whether a cell lies along a parting
    leaves : (p, 2, k/8) uint8, a bit for each way that does not lead across a parting from below, and from above
    links : (l, 2) cells beside one another
    edge_cell : (e,) nearest to every side of the window's edge
    ways : how many
    widest : how many partings are followed up at each turn, the ones that free the most; None for all
    known : what was found for cells, depth and limits
    cut : where cells can be parted, and into what
    """

    partings: Sequence[Parting]
    patch: Patch
    cell: Links
    size: Links
    free: NDArray[np.uint8]
    above: Bools
    touches: Bools
    leaves: NDArray[np.uint8]
    links: Links
    edge_cell: Links
    ways: int
    widest: int | None = None
    known: dict[tuple[bytes, int, Limits], Plan | None] = field(default_factory=dict)
    cut: dict[bytes, list[tuple[int, list[Bools], list[Bools]]]] = field(default_factory=dict)

    @staticmethod
    def of(mask: Solid, samples: PullSamples, partings: Sequence[Parting], patch: Patch) -> _Search:
        count = len(samples.points)
        everywhere = np.zeros((1, count), dtype=bool)
        sides = np.array([one.heights(samples.points) > 0.0 for one in partings]) if len(partings) else everywhere
        group = np.unique(np.packbits(sides, axis=0), axis=1, return_inverse=True)[1].ravel()
        pairs = linked(mask, samples.points, samples.normals, samples.spread)
        alike = group[pairs[:, 0]] == group[pairs[:, 1]]
        cells, cell = connected_components(_graph(pairs[alike], count), directed=False)
        order = np.argsort(cell, kind="stable")
        size = np.bincount(cell, minlength=cells)
        starts = np.concatenate([[0], np.cumsum(size)[:-1]])
        free = np.packbits(~np.logical_or.reduceat(samples.meets[order], starts, axis=0), axis=1)
        links = np.unique(cell[pairs[~alike]], axis=0).astype(np.intp)
        middle = patch.vertices[patch.edge_sides].mean(axis=1)
        nearest = cKDTree(samples.points[: samples.spread]).query(middle)[1]
        above = sides[:, order[starts]]
        touches = np.zeros_like(above)
        row, link = np.nonzero(above[:, links[:, 0]] != above[:, links[:, 1]])
        touches[row, links[link, 0]] = touches[row, links[link, 1]] = True
        lean = np.array([samples.ways @ np.array(one.normal) for one in partings]).reshape(-1, len(samples.ways))
        leaves = np.packbits(np.stack([lean <= LEVEL, lean >= -LEVEL], axis=1), axis=2)
        edge_cell = cell[nearest].astype(np.intp)
        return _Search(
            partings,
            patch,
            cell.astype(np.intp),
            size,
            free,
            above,
            touches,
            leaves,
            links,
            edge_cell,
            len(samples.ways),
        )

    def plans(self, chosen: Bools, edges: Bools, depth: int, limits: Limits = ()) -> list[Plan]:
        """Plans for connected cells, (c,) bool, with the window's edge that is theirs, (e,) bool."""
        if self._ways(chosen, limits).any():
            ways = np.unpackbits(self._leaving(chosen, limits), count=self.ways).astype(bool)
            return [Whole(chosen[self.cell], ways)]
        if depth == 0 or not self.partings:
            return []
        sides = []
        for row, up, low in self._cuts(chosen):
            for over, under in (((*limits, (row, True)), limits), (limits, (*limits, (row, False)))):
                stuck = self._stuck(up, over) + self._stuck(low, under)
                sides.append((stuck, len(up) + len(low), row, up, low, over, under))
                if stuck == 0:
                    break
        least = min((count for stuck, count, *_ in sides if stuck == 0), default=LEAST_NESTED + 1)
        deeper = depth > 1 and least > LEAST_NESTED
        tried = sorted(sides, key=lambda one: one[0])[: self.widest] if deeper else [one for one in sides if not one[0]]
        found: list[Plan] = []
        for _, _, row, up, low, over, under in tried:
            first = self._all(up, edges, depth - 1, over)
            second = self._all(low, edges, depth - 1, under) if first else None
            if first and second:
                crossed = edge_crossings(self.patch, self.partings[row], edges & chosen[self.edge_cell])
                found.append(Apart(self.partings[row], first, second, crossed))
        return found

    def _cuts(self, chosen: Bools) -> list[tuple[int, list[Bools], list[Bools]]]:
        """Partings that leave enough of some cells, (c,) bool, on both sides, and the connected pieces there."""
        key = chosen.tobytes()
        if key not in self.cut:
            enough = LEAST_SHARE * len(self.cell)
            split = ((self.above & chosen) @ self.size >= enough) & ((~self.above & chosen) @ self.size >= enough)
            rows = np.flatnonzero(split)
            both = [self._pieces(chosen, rows, above) if len(rows) else [] for above in (True, False)]
            self.cut[key] = list(zip(rows.tolist(), *both, strict=True))
        return self.cut[key]

    def _stuck(self, pieces: Sequence[Bools], limits: Limits) -> int:
        """Samples in the pieces that have no free way."""
        return int(sum(self.size[chosen].sum() for chosen in pieces if not self._ways(chosen, limits).any()))

    def _all(self, pieces: Sequence[Bools], edges: Bools, depth: int, limits: Limits) -> tuple[Plan, ...] | None:
        """The fewest of every piece; None where one has no plan."""
        found = []
        for chosen in pieces:
            own = tuple((row, above) for row, above in limits if (self.touches[row] & chosen).any())
            key = (chosen.tobytes(), depth, own)
            if key not in self.known:
                plans = self.plans(chosen, edges & chosen[self.edge_cell], depth, own)
                self.known[key] = min(plans, key=lambda plan: (plan.count, plan.crosses), default=None)
            plan = self.known[key]
            if plan is None:
                return None
            found.append(plan)
        return tuple(found)

    def _ways(self, chosen: Bools, limits: Limits) -> NDArray[np.uint8]:
        """A bit for each way along which some cells, (c,) bool, come off."""
        return np.asarray(np.bitwise_and.reduce(self.free[chosen], axis=0) & self._leaving(chosen, limits))

    def _leaving(self, chosen: Bools, limits: Limits) -> NDArray[np.uint8]:
        """A bit for each way that leads across none of the limits that the cells lie along."""
        bits = np.full(self.free.shape[1], 255, dtype=np.uint8)
        for row, above in limits:
            if (self.touches[row] & chosen).any():
                bits &= self.leaves[row, int(above)]
        return bits

    def _pieces(self, chosen: Bools, rows: Links, above: bool) -> list[list[Bools]]:
        """Connected pieces, (c,) bool each, on one side of each parting; largest first, crumbs with the largest."""
        cells = len(chosen)
        sides = (self.above[rows] if above else ~self.above[rows]) & chosen
        kept = sides[:, self.links[:, 0]] & sides[:, self.links[:, 1]]
        layer, link = np.nonzero(kept)
        label = connected_components(_graph(layer[:, None] * cells + self.links[link], sides.size), directed=False)[1]
        found = []
        for side, labels in zip(sides, label.reshape(sides.shape), strict=True):
            names, inverse = np.unique(labels[side], return_inverse=True)
            sizes = np.bincount(inverse, weights=self.size[side], minlength=len(names))
            big = np.flatnonzero((sizes >= CRUMB_SHARE * len(self.cell)) | (sizes == sizes.max()))
            big = big[np.argsort(-sizes[big], kind="stable")]
            found.append([side & (labels == names[k]) for k in big])
        return found


def _graph(pairs: Links, count: int) -> coo_matrix:
    return coo_matrix((np.ones(len(pairs), dtype=bool), (pairs[:, 0], pairs[:, 1])), shape=(count, count))
