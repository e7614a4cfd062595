"""`spread_apart`: a few points of many, as far apart as they can be: in a rectangle, its corners."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from prep.geometry.solid import Array

STARTS = 12
ROUNDS = 20


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
    improves. Cost: starts x rounds x count x n.
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


def _farthest(points: Array, start: int, count: int) -> NDArray[np.intp]:
    chosen = [start]
    nearest = np.linalg.norm(points - points[start], axis=1)
    while len(chosen) < count:
        chosen.append(int(np.argmax(nearest)))
        nearest = np.minimum(nearest, np.linalg.norm(points - points[chosen[-1]], axis=1))
    return np.array(chosen, dtype=np.intp)


def _improve(points: Array, chosen: NDArray[np.intp]) -> NDArray[np.intp]:
    chosen = chosen.copy()
    for _ in range(ROUNDS):
        moved = False
        for k in range(len(chosen)):
            others = np.delete(chosen, k)
            apart = np.linalg.norm(points[:, None] - points[others][None], axis=2)
            worth = -(1.0 / np.maximum(apart, 1e-6) ** 2).sum(axis=1)
            best = int(np.argmax(worth))
            if worth[best] > worth[chosen[k]] * (1.0 - 1e-9):
                chosen[k] = best
                moved = True
        if not moved:
            break
    return chosen


def _score(points: Array) -> float:
    apart = np.linalg.norm(points[:, None] - points[None], axis=2)[np.triu_indices(len(points), 1)]
    return -float((1.0 / np.maximum(apart, 1e-6) ** 2).sum())
