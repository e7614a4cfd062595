"""`seats_at`: places on a seam where a round seat fits in both parts, as far apart as walls allow."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import scipy.spatial

from prep.geometry.bore_gap import bore_gaps
from prep.geometry.contact import Contact
from prep.geometry.seat_room import square_axes
from prep.geometry.solid import Array
from prep.geometry.spread import least_distance, most_apart, spread_apart
from prep.places.seat_need import Candidates, SeatsFound, Shortfall, Side
from prep.places.seat_trial import Chosen, Rows, SeatTrial

MOST_CANDIDATES = 5000
EASE_WALLS = 3.0
POLISH_STEPS_MM = (0.4, 0.1)
POLISH_ROUNDS = 6
EASE_MM = 2.5
"""How far a seat may be moved from the most spread place to stand more freely."""

ROUNDING_MM = 1e-9
SAME_WAY = 0.5
"""Cosine within which seam faces the same way: 60 degrees."""


def candidates_on(contact: Contact, radius_mm: float) -> tuple[Candidates, ...]:
    """Candidates over a seam: its samples, each with the mean normal of the seam about it.

    Returns
    -------
    tuple of Candidates
        To be tried in turn. First those that face the way most of the seam faces, for their magnets pull together: of a
        tray in a cap, the floor or one wall, not walls that face one another. Then all, where that is more.
    """
    main = np.flatnonzero(contact.normals @ _main_way(contact.normals) > SAME_WAY)
    sets = [main] if len(main) == len(contact.normals) else [main, np.arange(len(contact.normals))]
    return tuple(_candidates(contact, rows[_thinned(len(rows))], radius_mm) for rows in sets)


def _candidates(contact: Contact, rows: Rows, radius_mm: float) -> Candidates:
    points = contact.points[rows]
    return Candidates(points, _local_axes(contact, points, radius_mm))


def _main_way(normals: Array) -> Array:
    """The direction near which most normals lie, (3,) unit."""
    ways = np.concatenate([np.eye(3), -np.eye(3), normals[:: max(1, len(normals) // 24)]])
    crowd = normals @ ways[int(np.argmax((normals @ ways.T > SAME_WAY).sum(axis=0)))] > SAME_WAY
    mean = normals[crowd].mean(axis=0)
    return np.asarray(mean / np.linalg.norm(mean))


def seats_at(
    sides: Sequence[Side], candidates: Candidates, count: int | None, apart_mm: float
) -> SeatsFound | Shortfall:
    """Places for `count` seats among the candidates, as far apart as walls allow, or why there are none.

    Parameters
    ----------
    sides : one or two parts
    count : how many; None for exactly the candidates, every one of which must fit
    apart_mm : float
        Least distance between the mouths of two seats. Between their bores, whichever way they run, at least the wall
        of the need is kept as well.
    """
    trial = SeatTrial.of(sides, candidates, count)
    alive: Chosen | Shortfall = trial.on_skin(np.ones(len(candidates.points), dtype=bool))
    if not isinstance(alive, Shortfall):
        alive = trial.in_reach(alive)
    if isinstance(alive, Shortfall):
        return alive
    alive, walls = trial.walled(alive)
    if not isinstance(alive, Shortfall):
        alive = trial.way_in(alive)
    if isinstance(alive, Shortfall):
        return alive
    good = np.flatnonzero(alive)
    if count is None:
        close = _too_close(trial, good, apart_mm)
        return close or _found(sides, candidates.points, candidates.axes, walls)
    at = _as_many(trial, good, count, apart_mm)
    if len(at) < count:
        most = good[spread_apart(candidates.points[good], count)] if len(good) >= count else at
        return _too_close(trial, most, apart_mm, len(at)) or _too_few(trial, good, count, apart_mm)
    at = _eased(trial, good, at, walls, apart_mm)
    at = at[np.lexsort(np.round(candidates.points[at], 1).T[::-1])]
    points, axes = candidates.points[at], candidates.axes[at]
    moved, freer = _polished(sides, points, axes, walls[at], apart_mm)
    if _stand_clear(SeatTrial.of(sides, Candidates(moved, axes), None), np.arange(count), apart_mm):
        return _found(sides, moved, axes, freer)
    return _found(sides, points, axes, walls[at])


def _found(sides: Sequence[Side], points: Array, axes: Array, walls: Array) -> SeatsFound:
    mouths, highs = [], []
    for side in sides:
        foot = side.room.footprint(points, side.sign * axes, side.need.mouth_mm)
        mouths.append(points + side.sign * foot.lowest_mm[:, None] * axes)
        highs.append(foot.highest_mm - foot.lowest_mm)
    return SeatsFound(axes, tuple(mouths), tuple(highs), walls)


def _thinned(count: int, most: int = MOST_CANDIDATES) -> Rows:
    if count <= most:
        return np.arange(count)
    return np.unique(np.linspace(0, count - 1, most).astype(np.intp))


def _local_axes(contact: Contact, points: Array, radius_mm: float) -> Array:
    """Mean normal of the seam about each point: the direction of the seat."""
    tree = scipy.spatial.cKDTree(contact.points)
    near = [np.asarray(rows, dtype=np.intp) for rows in tree.query_ball_point(points, radius_mm)]
    owners = np.repeat(np.arange(len(points)), [rows.size for rows in near])
    rows = np.concatenate(near)
    point_normals = contact.normals[np.asarray(tree.query(points)[1])]
    alike = np.einsum("ij,ij->i", contact.normals[rows], point_normals[owners]) > 0.8
    total = np.zeros_like(points)
    np.add.at(total, owners[alike], contact.normals[rows[alike]])
    axes = total / np.linalg.norm(total, axis=1)[:, None]
    whole = np.abs(axes) > 1.0 - 1e-6
    return np.asarray(np.where(whole.any(axis=1)[:, None], np.round(axes), axes))


def _as_many(trial: SeatTrial, good: Rows, count: int, apart_mm: float) -> Rows:
    """As many of the good rows as stand clear of one another, `count` at most, spread by mouths or by floors."""
    mouths = trial.candidates.points[good]
    floors = [b.tops[good] - b.depths_mm[good, None] * b.outs[good] for b in trial.bores]
    fits = most_apart(mouths, apart_mm, count)
    for number in range(min(count, fits + 2, len(good)), 1, -1):
        for spots in (mouths, *floors):
            chosen = good[spread_apart(spots, number)]
            if _stand_clear(trial, chosen, apart_mm):
                return chosen
            if least_distance(trial.candidates.points[chosen]) < apart_mm and spots is mouths:
                break
    return good[spread_apart(mouths, 1)]


def _stand_clear(trial: SeatTrial, rows: Rows, apart_mm: float) -> bool:
    """Whether mouths are far enough apart, and the bores under them."""
    if least_distance(trial.candidates.points[rows]) < apart_mm - ROUNDING_MM:
        return False
    return bool(_webs(trial, rows).min() >= _web_wanted(trial) - ROUNDING_MM)


def _webs(trial: SeatTrial, rows: Rows) -> Array:
    """Least material between the bore of each row and the others', on any side, (n,) mm."""
    return np.asarray(np.min([bore_gaps(bores[rows]) for bores in trial.bores], axis=0))


def _web_wanted(trial: SeatTrial) -> float:
    return max(side.need.wall_mm for side in trial.sides)


def _too_close(trial: SeatTrial, rows: Rows, apart_mm: float, fits: int | None = None) -> Shortfall | None:
    """What is short between seats at these rows, with how many of them stand clear; None where nothing is."""
    if _stand_clear(trial, rows, apart_mm):
        return None
    points = trial.candidates.points[rows]
    apart, webs = least_distance(points), _webs(trial, rows)
    if fits is None:
        kept: list[int] = []
        for row in rows.tolist():
            if _stand_clear(trial, np.array([*kept, row]), apart_mm):
                kept.append(row)
        fits = len(kept)
    if apart < apart_mm - ROUNDING_MM:
        return Shortfall(fits, "distance between seats", apart, apart_mm, points[0])
    at = int(np.argmin(webs))
    return Shortfall(fits, "material between seats", float(webs[at]), _web_wanted(trial), points[at])


def _too_few(trial: SeatTrial, good: Rows, count: int, apart_mm: float) -> Shortfall:
    """The seam offers fewer places than seats are wanted."""
    points = trial.candidates.points[good]
    length = float(np.linalg.norm(np.ptp(points, axis=0)))
    return Shortfall(len(good), "length of seam with room for seats", length, (count - 1) * apart_mm, points[0])


def _eased(trial: SeatTrial, good: Rows, chosen: Rows, walls: Array, apart_mm: float) -> Rows:
    """Each seat moved to stand more freely where that costs the spread less than a twentieth."""
    points = trial.candidates.points
    eased = chosen.copy()
    keep = max(apart_mm, 0.95 * least_distance(points[chosen]))
    wanted = EASE_WALLS * _web_wanted(trial)
    for k in range(len(chosen)):
        near = good[np.linalg.norm(points[good] - points[eased[k]], axis=1) <= EASE_MM]
        others = points[np.delete(eased, k)]
        if len(others):
            near = near[np.linalg.norm(points[near][:, None] - others[None], axis=2).min(axis=1) >= keep]
        if len(near):
            freer = np.minimum(walls[near], wanted)
            freer = freer - 1e-3 * np.linalg.norm(points[near] - points[eased[k]], axis=1)
            eased[k] = near[int(np.argmax(freer))]
    return eased if _stand_clear(trial, eased, apart_mm) else chosen


def _polished(sides: Sequence[Side], points: Array, axes: Array, walls: Array, apart_mm: float) -> tuple[Array, Array]:
    """Seats shifted across their axes, in ever smaller steps, toward more material beside them, up to three walls."""
    across, up = square_axes(axes)
    enough = EASE_WALLS * max(side.need.wall_mm for side in sides)
    rows = np.arange(len(points))
    for step in POLISH_STEPS_MM:
        for _ in range(POLISH_ROUNDS):
            ways = np.stack([across, -across, up, -up], axis=1) * step
            tried = (points[:, None] + ways).reshape(-1, 3)
            room = _freedom(sides, tried, np.repeat(axes, 4, axis=0)).reshape(-1, 4)
            room[~_keeps_off(points, tried.reshape(-1, 4, 3), apart_mm + step)] = -np.inf
            worth = np.minimum(room, enough)
            best = worth.argmax(axis=1)
            better = worth[rows, best] > np.minimum(walls, enough) + 1e-6
            if not better.any():
                break
            points = np.where(better[:, None], tried.reshape(-1, 4, 3)[rows, best], points)
            walls = np.where(better, room[rows, best], walls)
    return points, walls


def _keeps_off(points: Array, tried: Array, apart_mm: float) -> Chosen:
    """Whether each of the places tried for a seat, (n, 4, 3), keeps its distance from the other seats, (n, 4)."""
    apart = np.linalg.norm(tried[:, :, None] - points[None, None], axis=3)
    apart[np.arange(len(points)), :, np.arange(len(points))] = np.inf
    return np.asarray(apart.min(axis=2) >= apart_mm)


def _freedom(sides: Sequence[Side], points: Array, axes: Array) -> Array:
    """Least material beside seats at these points, (n,) mm; minus infinity where one does not fit."""
    trial = SeatTrial.of(sides, Candidates(points, axes), 1)
    alive: Chosen | Shortfall = trial.on_skin(np.ones(len(points), dtype=bool))
    for stage in (trial.in_reach, trial.way_in):
        if not isinstance(alive, Shortfall):
            alive = stage(alive)
    if isinstance(alive, Shortfall):
        return np.full(len(points), -np.inf)
    _, walls = trial.walled(alive)
    return walls
