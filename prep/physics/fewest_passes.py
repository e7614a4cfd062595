"""`fewest_passes`: the least number of passes that together reach all that can be reached."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from prep.geometry.solid import Array

MOST_LOOKED_AT = 2_000_000
"""Rows looked at, over all branches of the search, after which the best cover found so far is taken."""


@dataclass(frozen=True)
class Passes:
    """Passes that cover all that any pass covers.

    Attributes
    ----------
    chosen : columns, the one that adds most first
    adds : share of the coverable area that each adds to those before it; together 1
    greedy : how many passes taking the one that adds most, again and again, would have needed
    proven : whether fewer passes are proven not to do
    """

    chosen: tuple[int, ...]
    adds: tuple[float, ...]
    greedy: int
    proven: bool


def fewest_passes(seen: NDArray[np.bool_], areas: Array, worth: Array | None = None) -> Passes:
    """The fewest columns of a table that have a mark in every row that has any.

    Parameters
    ----------
    seen : (n, d), whether pass j reaches point i
    areas : (n,), the area each point stands for
    worth : (d,), of two passes that would do, the one worth more is taken; default: the first

    Notes
    -----
    Minimum set cover. Points that are seen from the same directions are one; points that are reached whenever another
    is are left out; a direction that sees no more of the rest than another does is left out. The greedy cover is then
    bettered by branch and bound: on the point with the fewest directions, with the number of points of which no two
    share a direction as the lower bound. Exact where `proven`; the greedy cover is at most 1 + ln n times the least.

    References
    ----------
    V. Chvatal, A greedy heuristic for the set-covering problem, Mathematics of Operations Research 4, 1979.
    """
    reached = seen.any(axis=1)
    rows, weight = _distinct(seen[reached], areas[reached])
    if len(rows) == 0:
        return Passes((), (), 0, proven=True)
    greedy = _greedy(rows, weight)
    needed = _needed(rows)
    search = _Search([_as_int(row) for row in needed], greedy)
    search.go((), (1 << len(needed)) - 1, 0)
    best = search.best if worth is None else _swapped(rows, search.best, worth)
    order = _ordered(rows, weight, best)
    chosen, adds = tuple(number for number, _ in order), tuple(add for _, add in order)
    return Passes(chosen, adds, len(greedy), proven=search.looked_at <= MOST_LOOKED_AT)


def _distinct(seen: NDArray[np.bool_], areas: Array) -> tuple[NDArray[np.bool_], Array]:
    """Rows without repeats, and the area of each."""
    packed = np.packbits(seen, axis=1)
    _, first, label = np.unique(packed, axis=0, return_index=True, return_inverse=True)
    weight = np.zeros(len(first))
    np.add.at(weight, label.ravel(), areas)
    return seen[first], weight


def _needed(rows: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Rows of which none holds all the marks of another; whoever covers these covers all."""
    order = np.argsort(rows.sum(axis=1), kind="stable")
    packed = np.packbits(rows, axis=1)
    kept: list[int] = []
    for row in order.tolist():
        if not kept or not ((packed[kept] & ~packed[row]) == 0).all(axis=1).any():
            kept.append(row)
    return rows[kept]


def _greedy(rows: NDArray[np.bool_], weight: Array) -> tuple[int, ...]:
    """Columns taken one by one, each the one that adds the most area, the first of equals."""
    left = np.ones(len(rows), dtype=bool)
    chosen = []
    while left.any():
        gain = (weight * left) @ rows
        best = int(np.argmax(np.where(rows[left].any(axis=0), gain, -1.0)))
        chosen.append(best)
        left &= ~rows[:, best]
    return tuple(chosen)


def _ordered(rows: NDArray[np.bool_], weight: Array, chosen: tuple[int, ...]) -> list[tuple[int, float]]:
    """The chosen columns, the one that adds most first, with the share of the area each adds."""
    left, waiting, order = np.ones(len(rows), dtype=bool), list(chosen), []
    while waiting:
        gain = [float((weight * left) @ rows[:, column]) for column in waiting]
        best = int(np.argmax(gain))
        order.append((waiting.pop(best), gain[best] / float(weight.sum())))
        left &= ~rows[:, order[-1][0]]
    return order


def _swapped(rows: NDArray[np.bool_], chosen: tuple[int, ...], worth: Array) -> tuple[int, ...]:
    """The chosen columns, each changed for the one worth most that reaches all that it alone reaches."""
    best = list(chosen)
    for place in range(len(best)):
        others = [column for number, column in enumerate(best) if number != place]
        alone = ~rows[:, others].any(axis=1)
        best[place] = int(np.argmax(np.where(rows[alone].all(axis=0), worth, -np.inf)))
    return tuple(best)


def _as_int(row: NDArray[np.bool_]) -> int:
    return sum(1 << int(column) for column in np.flatnonzero(row))


class _Search:
    """Branch and bound over covers; rows and columns are bits of whole numbers."""

    def __init__(self, rows: list[int], best: tuple[int, ...]) -> None:
        self.rows = rows
        self.best = best
        self.looked_at = 0
        columns = sorted({bit for row in rows for bit in _bits(row)})
        self.covers = {column: sum(1 << k for k, row in enumerate(rows) if row >> column & 1) for column in columns}

    def go(self, chosen: tuple[int, ...], left: int, barred: int) -> None:
        """Try every cover of the rows left that holds the chosen columns, none barred, and is smaller than the best."""
        self.looked_at += 1 + left.bit_count()
        if self.looked_at > MOST_LOOKED_AT:
            return
        if left == 0:
            self.best = chosen
            return
        waiting = sorted((self.rows[k] & ~barred for k in _bits(left)), key=lambda row: (row.bit_count(), row))
        if waiting[0] == 0 or len(chosen) + _apart(waiting) >= len(self.best):
            return
        free = self._useful(waiting[0], left)
        for column in sorted(free, key=lambda each: (-(self.covers[each] & left).bit_count(), each)):
            self.go((*chosen, column), left & ~self.covers[column], barred)
            barred |= 1 << column

    def _useful(self, row: int, left: int) -> list[int]:
        """Columns of a row, less those that cover no more of what is left than another of them."""
        free: list[int] = []
        for column in sorted(_bits(row), key=lambda each: (-(self.covers[each] & left).bit_count(), each)):
            new = self.covers[column] & left
            if all(new & ~self.covers[other] for other in free):
                free.append(column)
        return free


def _apart(rows: list[int]) -> int:
    """How many of these rows, the shortest first, share no column with one counted before."""
    count, taken = 0, 0
    for row in rows:
        if not row & taken:
            count, taken = count + 1, taken | row
    return count


def _bits(number: int) -> list[int]:
    """Places of the ones of a whole number, ascending."""
    found = []
    while number:
        low = number & -number
        found.append(low.bit_length() - 1)
        number ^= low
    return found
