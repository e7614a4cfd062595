"""`rounded_path`: the cheapest way over straight runs and arcs of one radius between two straight leads."""

from __future__ import annotations

import math
from collections.abc import Callable
from collections.abc import Set as AbstractSet
from dataclasses import dataclass

import numpy as np
import scipy.sparse
from numpy.typing import NDArray
from scipy.sparse import csgraph

from prep.geometry.solid import Array

ARC_STEP_DEG = 7.5
_STRAIGHT_MM = 0.2
"""Of the first and last run, what stays straight at its end, at least."""

_SHARPEST_DEG = 150.0
_STEP_MM = 0.5
_TURN_PER_RAD = 0.3
"""What a bend costs beside its length, mm a radian: of two ways as long the straighter one is taken."""

Sampled = Callable[[Array], Array]
"""Values at points (n, 3) mm, (n,)."""


@dataclass(frozen=True)
class Waypoints:
    """Points a way may turn at.

    Attributes
    ----------
    points : (n, 3) mm
        The first is the start and the last the end.
    after_start, before_end : (k,)
        Points on the straight lead out of the start, and on the one into the end.
    """

    points: Array
    after_start: NDArray[np.intp]
    before_end: NDArray[np.intp]


def cheapest_turns(
    ways: Waypoints, bend_mm: float, room: Sampled, cost: Sampled, struck: AbstractSet[tuple[int, ...]]
) -> list[int] | None:
    """The points the cheapest way turns at, the start and the end included; None where there is no way.

    Parameters
    ----------
    bend_mm : radius of every arc
    room : spare room, negative where the way may not run
    cost : of a millimetre
    struck : runs, as pairs of points, and bends, as three, that may not be used

    Notes
    -----
    Every pair of points that see one another with room to spare is a run; two runs join where both are long enough for
    the arc and the arc has room. Over these joints the cheapest way is found by Dijkstra. Runs give up to half their
    length to the arc at each end, so that arcs never overlap. Cost: n^2 runs, at most n^3 bends.
    """
    n = len(ways.points)
    price = _runs(ways, room, cost)
    for run in (pair for pair in struck if len(pair) == 2):
        price[run] = np.inf
    rows, columns, prices = [], [], []
    for j in range(1, n - 1):
        into, out = np.flatnonzero(np.isfinite(price[:, j])), np.flatnonzero(np.isfinite(price[j]))
        if len(into) == 0 or len(out) == 0:
            continue
        turn = _bends(ways, into, j, out, bend_mm, room)
        for i, _, k in (bend for bend in struck if len(bend) == 3 and bend[1] == j):
            turn[into == i, out == k] = np.inf
        a, b = np.nonzero(np.isfinite(turn))
        rows.append(into[a] * n + j)
        columns.append(j * n + out[b])
        prices.append(price[j, out[b]] + turn[a, b])
    if not rows:
        return None
    row, column = np.concatenate(rows), np.concatenate(columns)
    graph = scipy.sparse.csr_matrix((np.concatenate(prices), (row, column)), shape=(n * n, n * n))
    starts = [s for s in ways.after_start if np.isfinite(price[0, s])]
    if not starts:
        return None
    far, before = csgraph.dijkstra(graph, indices=starts, return_predecessors=True)
    first = price[0, starts]
    ends = ways.before_end * n + n - 1
    total = first[:, None] + far[:, ends]
    at = int(np.argmin(total))
    if not np.isfinite(total.flat[at]):
        return None
    source, end = np.unravel_index(at, total.shape)
    state, turns = int(ends[end]), [n - 1]
    while state >= n:
        turns.append(state // n)
        state = int(before[source, state])
    return [0, *reversed(turns)]


def rounded(points: Array, bend_mm: float) -> Array:
    """A line of straight runs, (k, 3) mm, its corners replaced by arcs in steps of at most `ARC_STEP_DEG`."""
    line = [points[0]]
    for a, b, c in zip(points[:-2], points[1:-1], points[2:], strict=True):
        into, out = _unit(b - a), _unit(c - b)
        angle = math.acos(float(np.clip(into @ out, -1.0, 1.0)))
        if angle < 1e-6:
            continue
        across = _unit(out - into * (into @ out))
        first = b - into * bend_mm * math.tan(angle / 2.0)
        turns = np.linspace(0.0, angle, max(2, math.ceil(math.degrees(angle) / ARC_STEP_DEG) + 1))[:, None]
        line.extend(first + bend_mm * (np.sin(turns) * into + (1.0 - np.cos(turns)) * across))
    line.append(points[-1])
    kept = [line[0]]
    for point in line[1:]:
        if float(np.linalg.norm(point - kept[-1])) > 1e-9:
            kept.append(point)
    return np.array(kept)


def spaced(line: Array, step_mm: float) -> tuple[Array, Array]:
    """Points along a line at most a step apart, its own points included, (n, 3), and their length of way, (n,)."""
    pieces = np.linalg.norm(np.diff(line, axis=0), axis=1)
    ends = np.concatenate([[0.0], np.cumsum(pieces)])
    counts = np.maximum(np.ceil(pieces / step_mm).astype(int), 1)
    runs = (np.linspace(a, b, k, endpoint=False) for a, b, k in zip(ends, ends[1:], counts, strict=False))
    at = np.concatenate([*runs, ends[-1:]])
    return np.stack([np.interp(at, ends, line[:, k]) for k in range(3)], axis=1), at


def _runs(ways: Waypoints, room: Sampled, cost: Sampled) -> Array:
    """What each run costs, (n, n), infinite where there is none; the leads are runs whatever room they have."""
    points, n = ways.points, len(ways.points)
    price = np.full((n, n), np.inf)
    i, j = np.triu_indices(n, 1)
    inner = (i > 0) & (j < n - 1)
    i, j = i[inner], j[inner]
    length = np.linalg.norm(points[j] - points[i], axis=1)
    apart = length > 1e-6
    i, j, length = i[apart], j[apart], length[apart]
    steps = max(3, math.ceil(float(length.max(initial=1.0)) / _STEP_MM))
    shares = np.linspace(0.0, 1.0, min(steps, 160) + 1)
    least, mean = np.full(len(i), np.inf), np.zeros(len(i))
    for share in shares:
        spot = points[i] + share * (points[j] - points[i])
        alive = np.flatnonzero(least >= 0.0)
        least[alive] = np.minimum(least[alive], room(spot[alive]))
        mean[alive] += cost(spot[alive]) / len(shares)
    free = least >= 0.0
    price[i[free], j[free]] = price[j[free], i[free]] = (mean * length)[free]
    price[0, ways.after_start] = np.linalg.norm(points[ways.after_start] - points[0], axis=1)
    price[ways.before_end, n - 1] = np.linalg.norm(points[ways.before_end] - points[-1], axis=1)
    return price


def _bends(
    ways: Waypoints, into: NDArray[np.intp], j: int, out: NDArray[np.intp], bend_mm: float, room: Sampled
) -> Array:
    """What each bend at point `j` costs, (len(into), len(out)), infinite where it does not fit."""
    points, last = ways.points, len(ways.points) - 1
    at = points[j]
    a, b = at - points[into], points[out] - at
    long_a, long_b = np.linalg.norm(a, axis=1), np.linalg.norm(b, axis=1)
    a, b = a / long_a[:, None], b / long_b[:, None]
    angle = np.arccos(np.clip(a @ b.T, -1.0, 1.0))
    tangent = bend_mm * np.tan(np.minimum(angle, 3.1) / 2.0)
    give_a = np.where(into == 0, long_a - _STRAIGHT_MM, long_a / 2.0)
    give_b = np.where(out == last, long_b - _STRAIGHT_MM, long_b / 2.0)
    fits = (tangent <= np.minimum(give_a[:, None], give_b[None, :])) & (angle < math.radians(_SHARPEST_DEG))
    turn = np.where(fits, angle * _TURN_PER_RAD, np.inf)
    x, y = np.nonzero(fits & (angle > 1e-3))
    if len(x):
        half = angle[x, y] / 2.0
        aside = b[y] - a[x]
        aside /= np.linalg.norm(aside, axis=1)[:, None]
        for share in (0.5, 0.25, 0.75):
            ahead = bend_mm * np.sin((2.0 * share - 1.0) * half)[:, None]
            level = bend_mm * (1.0 / np.cos(half) - np.cos((2.0 * share - 1.0) * half))[:, None]
            along = (a[x] + b[y]) / (2.0 * np.cos(half))[:, None]
            lacks = room(at + level * aside + ahead * along) < 0.0
            touches = (into[x] == 0) | (out[y] == last)
            turn[x[lacks & ~touches], y[lacks & ~touches]] = np.inf
    return turn


def _unit(vector: Array) -> Array:
    return np.asarray(vector / np.linalg.norm(vector))
