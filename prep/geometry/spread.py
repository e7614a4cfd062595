"""`spread_apart`: a few points of many, as far apart as they can be: in a rectangle, its corners."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from prep.geometry.solid import Array

STARTS = 12
ROUNDS = 20
SAME = 1e-8
"""Squared distance, over the largest, under which two candidates are one place; bounds what addition can lose."""


def spread_apart(points: Array, count: int) -> NDArray[np.intp]:
    """Rows of `count` points that repel one another least: the sum of 1 / distance^2 over pairs is as small as found.

    Parameters
    ----------
    points : (n, 3) mm
        Candidates; at least `count`.

    Notes
    -----
    The largest least distance alone would stagger four points in an oblong; a person puts them in its corners, and so
    does the energy of points that repel (Hardin and Saff, "Discretizing manifolds via minimum energy points", 2004).
    Farthest-point choice from several starts, then one point at a time moved to its best candidate until nothing
    improves. Cost: starts x rounds x count x n, count x n numbers held.
    """
    if count == 1:
        return np.array([int(np.argmin(np.linalg.norm(points - points.mean(axis=0), axis=1)))], dtype=np.intp)
    first = np.linspace(0, len(points) - 1, min(STARTS, len(points))).astype(int)
    extremes = np.concatenate([points.argmin(axis=0), points.argmax(axis=0)])
    best: NDArray[np.intp] = np.arange(count, dtype=np.intp)
    best_score = -np.inf
    for start in dict.fromkeys([*extremes.tolist(), *first.tolist()]):
        chosen = _improve(points, _farthest(points, int(start), count))
        score = _score(points[chosen])
        if score > best_score:
            best, best_score = chosen, score
    return np.sort(best)


def least_distance(points: Array) -> float:
    """Least distance between any two of the points, (n, 3); infinite for one."""
    if len(points) < 2:
        return float("inf")
    apart = np.linalg.norm(points[:, None] - points[None], axis=2)
    return float(apart[np.triu_indices(len(points), 1)].min())


def most_apart(points: Array, apart_mm: float, most: int) -> int:
    """How many points, up to `most`, a farthest-first choice takes that all stand `apart_mm` from one another.

    Notes
    -----
    A choice that cannot be added to; another choice may hold a few more.
    """
    nearest = np.linalg.norm(points - points[0], axis=1)
    count = 1
    while count < most and float(nearest.max()) >= apart_mm:
        nearest = np.minimum(nearest, np.linalg.norm(points - points[int(np.argmax(nearest))], axis=1))
        count += 1
    return count


def _farthest(points: Array, start: int, count: int) -> NDArray[np.intp]:
    chosen = [start]
    nearest = np.linalg.norm(points - points[start], axis=1)
    while len(chosen) < count:
        chosen.append(int(np.argmax(nearest)))
        nearest = np.minimum(nearest, np.linalg.norm(points - points[chosen[-1]], axis=1))
    return np.array(chosen, dtype=np.intp)


def _improve(points: Array, chosen: NDArray[np.intp]) -> NDArray[np.intp]:
    """The choice after each point has been moved, in turn, to where the others push it least."""
    chosen = chosen.copy()
    push = np.stack([_push(points, points[row]) for row in chosen])
    total = push.sum(axis=0)
    for _ in range(ROUNDS):
        moved = False
        for k in range(len(chosen)):
            others = total - push[k]
            best = int(np.argmin(others))
            if others[best] < others[chosen[k]] * (1.0 - 1e-9):
                chosen[k] = best
                push[k] = _push(points, points[best])
                total = others + push[k]
                moved = True
        if not moved:
            break
    return chosen


def _push(points: Array, source: Array) -> Array:
    """How hard one point pushes on each of the others, (n,): 1 / distance^2."""
    away = points - source
    squared = np.einsum("ij,ij->i", away, away)
    return np.asarray(1.0 / np.maximum(squared, SAME * max(float(squared.max()), 1e-300)))


def _score(points: Array) -> float:
    apart = np.linalg.norm(points[:, None] - points[None], axis=2)[np.triu_indices(len(points), 1)]
    return -float((1.0 / np.maximum(apart, 1e-6) ** 2).sum())
