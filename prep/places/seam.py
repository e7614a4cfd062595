"""`seats_at`: places on a seam where a round seat fits in both parts, as far apart as walls allow."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import scipy.spatial
from numpy.typing import NDArray

from prep.geometry.contact import Contact
from prep.geometry.seat_room import SeatRoom
from prep.geometry.solid import Array
from prep.geometry.spread import least_distance, spread_apart

Rows = NDArray[np.intp]
Chosen = NDArray[np.bool_]

MOST_CANDIDATES = 5000
LONGEST_WAY_MM = 12.0
"""Longest bore behind a seat that is loaded from the far side."""

MOST_MEASURED = 400
WIDTH_WITHIN_MM = 0.05
EASE_MM = 2.5
"""How far a seat may be moved from the most spread place to stand more freely."""


@dataclass(frozen=True)
class SeatNeed:
    """What one seat needs of the part it is cut into.

    Attributes
    ----------
    radius_mm, rim_mm : of the seat and of the lead-in around its mouth
    depth_mm : of the seat itself, without the roof
    roof_mm : plastic left toward the seam; 0 for a seat that opens on it
    from_behind : opens on the far side and goes through to `roof_mm` under the seam
    buried : closed on all sides
    wall_mm : material wanted to every other face
    travel_mm : free way out along the axis
    sag_mm : how much the skin may rise and fall over the mouth
    """

    radius_mm: float
    rim_mm: float
    depth_mm: float
    roof_mm: float
    from_behind: bool
    buried: bool
    wall_mm: float
    travel_mm: float
    sag_mm: float

    @property
    def mouth_mm(self) -> float:
        """Radius of skin that the seat's opening takes up."""
        return self.radius_mm + (0.0 if self.from_behind or self.buried else self.rim_mm)


@dataclass(frozen=True)
class Side:
    """One part of a pair: its room, what a seat needs of it, and whether the seam's axes lead out of it (+1) or in."""

    room: SeatRoom
    need: SeatNeed
    sign: int


@dataclass(frozen=True)
class Candidates:
    """Where seats may go: points on the first part's skin, (n, 3) mm, and directions out of it, (n, 3)."""

    points: Array
    axes: Array


@dataclass(frozen=True)
class SeatsFound:
    """Seats that share their axes.

    Attributes
    ----------
    axes : (n, 3) out of the first part
    mouths : for each side (n, 3) mm, the middle of the seat plane, under the lowest skin over the mouth
    highs_mm : for each side (n,), how far the skin rises above the seat plane over the mouth
    walls_mm : (n,) least material beside the seats
    """

    axes: Array
    mouths: tuple[Array, ...]
    highs_mm: tuple[Array, ...]
    walls_mm: Array


@dataclass(frozen=True)
class Shortfall:
    """Why seats do not fit, at the place where most nearly they do.

    Attributes
    ----------
    fits : how many seats fit
    what : which need is not met there
    found_mm, wanted_mm : its figure and what is wanted
    at_mm : where
    """

    fits: int
    what: str
    found_mm: float
    wanted_mm: float
    at_mm: Array
    sense: Literal["short", "too much"] = "short"

    @property
    def missing_mm(self) -> float:
        """How far the need is missed."""
        return abs(self.wanted_mm - self.found_mm)


def candidates_on(contact: Contact, radius_mm: float) -> Candidates:
    """Candidates over a seam: its samples, each with the mean normal of the seam about it."""
    rows = _thinned(len(contact.points))
    points = contact.points[rows]
    return Candidates(points, _local_axes(contact, points, radius_mm))


def seats_at(
    sides: Sequence[Side], candidates: Candidates, count: int | None, apart_mm: float
) -> SeatsFound | Shortfall:
    """Places for `count` seats among the candidates, as far apart as walls allow, or why there are none.

    Parameters
    ----------
    sides : one or two parts
    count : how many; None for exactly the candidates, every one of which must fit
    apart_mm : float
        Least distance between the axes of two seats.
    """
    points, axes = candidates.points, candidates.axes
    walls = np.full(len(points), np.inf)
    alive = np.ones(len(points), dtype=bool)
    low, high = [], []
    uneven = np.zeros(len(points))
    for side in sides:
        foot = side.room.footprint(points, side.sign * axes, side.need.mouth_mm)
        sag = np.where(foot.covered, foot.highest_mm - foot.lowest_mm, np.inf)
        uneven = np.maximum(uneven, sag)
        alive &= sag <= side.need.sag_mm
        low.append(np.where(foot.covered, foot.lowest_mm, 0.0))
        high.append(np.where(foot.covered, sag, 0.0))
    need = sides[0].need
    if not alive.any() or (count is None and not alive.all()):
        return _too_narrow(sides, candidates, uneven, alive)
    for side, lowest in zip(sides, low, strict=True):
        outward = side.sign * axes
        walls = np.minimum(walls, _walls(side, points + lowest[:, None] * outward, outward, alive))
    wanted = max(side.need.wall_mm for side in sides)
    good = np.flatnonzero(alive & (walls >= wanted))
    if len(good) == 0 or (count is None and len(good) < len(points)):
        rank = np.where(alive, walls, -np.inf)
        worst = int(np.argmin(rank)) if count is None else int(np.argmax(rank))
        return Shortfall(len(good), "material beside the seat", float(walls[worst]), wanted, points[worst])
    ways = np.min(
        [_free_way(side, points[good], axes[good], lowest[good]) for side, lowest in zip(sides, low, strict=True)],
        axis=0,
    )
    open_ways = ways >= need.travel_mm
    if not open_ways.any() or (count is None and not open_ways.all()):
        worst = int(np.argmin(ways)) if count is None else int(np.argmax(ways))
        return Shortfall(int(open_ways.sum()), "a free way in", float(ways[worst]), need.travel_mm, points[good[worst]])
    good = good[open_ways]
    places = points[good]
    chosen = np.arange(len(good)) if count is None else _as_many(places, count, apart_mm)
    reach = least_distance(places[chosen])
    if (count is not None and len(chosen) < count) or reach < apart_mm:
        reach = least_distance(places[spread_apart(places, count)]) if count and len(places) >= count else reach
        return Shortfall(len(chosen), "distance between seats", reach, apart_mm, places[chosen[0]])
    if count is not None:
        chosen = _eased(places, chosen, walls[good], wanted, apart_mm)
    at = good[chosen]
    if count is not None:
        at = at[np.lexsort(np.round(points[at], 1).T[::-1])]
    mouths = tuple(
        points[at] + side.sign * lowest[at, None] * axes[at] for side, lowest in zip(sides, low, strict=True)
    )
    return SeatsFound(axes[at], mouths, tuple(sag[at] for sag in high), walls[at])


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


def _walls(side: Side, tops: Array, outward: Array, alive: Chosen) -> Array:
    """Least material beside the seat at each candidate, (n,); no more than 0 where the first sieve refuses."""
    room, need = side.room, side.need
    walls = np.full(len(tops), -np.inf)
    rows = np.flatnonzero(alive)
    if need.from_behind:
        depth = room.material_below(tops[rows], outward[rows])
        for row, deep in zip(rows, depth, strict=True):
            if need.roof_mm + need.depth_mm <= deep <= need.roof_mm + need.depth_mm + LONGEST_WAY_MM:
                back = tops[row] - deep * outward[row]
                walls[row] = room.clearance(
                    back[None],
                    -outward[row][None],
                    radius_mm=need.radius_mm,
                    depth_mm=float(deep - need.roof_mm),
                    rim_mm=need.rim_mm,
                    sides_only=True,
                )[0]
        return walls
    middle = tops[rows] - (need.roof_mm + 0.5 * need.depth_mm) * outward[rows]
    reach = room.middle_clearance(middle, outward[rows])
    walls[rows] = np.minimum(reach - need.radius_mm, 0.0)
    rows = rows[reach >= min(need.radius_mm, 0.5 * need.depth_mm) + need.wall_mm]
    walls[rows] = room.clearance(
        tops[rows] - need.roof_mm * outward[rows],
        outward[rows],
        radius_mm=need.radius_mm,
        depth_mm=need.depth_mm,
        rim_mm=need.rim_mm,
    )
    return walls


def _free_way(side: Side, points: Array, axes: Array, lowest: Array) -> Array:
    """How far a disc comes out of each seat before it meets the part, (n,) mm; without end for a buried seat."""
    need = side.need
    outward = side.sign * axes
    if need.buried:
        return np.full(len(points), np.inf)
    if need.from_behind:
        tops = points + lowest[:, None] * outward
        depth = side.room.material_below(tops, outward)
        return side.room.travel(tops - (depth + need.sag_mm + 0.05)[:, None] * outward, -outward, need.radius_mm)
    return side.room.travel(points + (lowest + need.sag_mm + 0.05)[:, None] * outward, outward, need.radius_mm)


def _as_many(places: Array, count: int, apart_mm: float) -> Rows:
    for number in range(min(count, len(places)), 0, -1):
        chosen = spread_apart(places, number)
        if least_distance(places[chosen]) >= apart_mm:
            return chosen
    return np.arange(1)


def _eased(places: Array, chosen: Rows, walls: Array, wanted: float, apart_mm: float) -> Rows:
    """Each seat moved to stand more freely where that costs the spread less than a twentieth."""
    chosen = chosen.copy()
    keep = max(apart_mm, 0.95 * least_distance(places[chosen]))
    for k in range(len(chosen)):
        near = np.flatnonzero(np.linalg.norm(places - places[chosen[k]], axis=1) <= EASE_MM)
        others = places[np.delete(chosen, k)]
        if len(others):
            near = near[np.linalg.norm(places[near][:, None] - others[None], axis=2).min(axis=1) >= keep]
        if len(near):
            freer = np.minimum(walls[near], 3.0 * wanted)
            freer = freer - 1e-3 * np.linalg.norm(places[near] - places[chosen[k]], axis=1)
            chosen[k] = near[int(np.argmax(freer))]
    return chosen


def _too_narrow(sides: Sequence[Side], candidates: Candidates, uneven: Array, alive: Chosen) -> Shortfall:
    """The widest disc of skin there is, or its unevenness where it is wide enough."""
    points, need = candidates.points, sides[0].need
    if np.isfinite(uneven).any():
        best = int(np.argmin(uneven))
        what = "unevenness of the skin under the seat's mouth"
        return Shortfall(int(alive.sum()), what, float(uneven[best]), need.sag_mm, points[best], "too much")
    rows = _thinned(len(points), MOST_MEASURED)
    radius, step = np.zeros(len(rows)), need.mouth_mm / 2.0
    while step > WIDTH_WITHIN_MM / 2.0:
        wider = radius + step
        covered = np.ones(len(rows), dtype=bool)
        for side in sides:
            covered &= side.room.footprint(points[rows], side.sign * candidates.axes[rows], wider).covered
        radius = np.where(covered, wider, radius)
        step /= 2.0
    best = int(np.argmax(radius))
    width = 2.0 * float(radius[best])
    return Shortfall(0, "width of the skin under the seat's mouth", width, 2.0 * need.mouth_mm, points[rows[best]])
