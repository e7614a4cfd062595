"""`find_line`: the middle line of a wire's way between two ends, or what stands in its way."""

from __future__ import annotations

import numpy as np
from scipy import ndimage
from skimage.graph import MCP_Geometric

from prep.geometry.solid import Array
from prep.geometry.wire_path import Waypoints, cheapest_turns, rounded, spaced
from prep.geometry.wire_room import Along, WireEnd, WireRoom
from prep.geometry.wire_trouble import no_bend, no_lead, no_way

CHECK_MM = 0.2
"""Between the points at which a line is measured."""

_LONGEST_LEAD = 5.0
"""How far straight on from an end a first turn is sought, in what the middle line keeps clear."""

_LEADS = 4
_WAYPOINTS = 36
"""Along each way."""

_BESIDE = 1500
_SWINGS = 60
_SPACING = 1.6
_KEEP_OFF = (0.0, 2.0, 8.0)
"""How much more a tight place costs: ways that hug the walls less have room for wide bends."""

_TRIES = 12
_FACING = 0.97
"""Cosine between the straight line and the ways in at which it is tried first."""


def find_line(room: WireRoom, start: WireEnd, end: WireEnd, bend_mm: float) -> Array:
    """Straight runs and arcs from start to end with room enough, (k, 3) mm.

    Raises
    ------
    NoWireRoute
        Nothing leads out of an end, no way is wide enough, or none bends so gently.
    """
    straight = np.stack([start.at_mm, end.at_mm])
    if _faces(start, end) and _tight(room, straight, start, end) is None:
        return straight
    leads = [_leads(room, stop) for stop in (start, end)]
    for name, stop, found in zip(("start", "end"), (start, end), leads, strict=True):
        if len(found) == 0:
            raise no_lead(room, stop, name)
    paths = _paths(room, leads[0][0], leads[1][0])
    if not paths:
        raise no_way(room, leads[0][0], leads[1][0])
    groups = [(path, max(_SPACING, len(path) * room.grid.side / _WAYPOINTS)) for path in paths]
    for more in ([], [_beside(room, paths, bend_mm)]):
        ways = _waypoints(start, end, leads, [*groups, *more])
        line = _bent(room, ways, start, end, bend_mm)
        if line is not None:
            return line
    gentlest = next((b for b in bend_mm * np.array([0.8, 0.6, 0.45, 0.3]) if _turns(room, ways, float(b))), 0.0)
    raise no_bend(bend_mm, float(gentlest), leads[0][0], leads[1][0])


def _faces(start: WireEnd, end: WireEnd) -> bool:
    way = end.at_mm - start.at_mm
    length = float(np.linalg.norm(way))
    return length > 0.0 and bool(min(way @ start.into, -way @ end.into) > _FACING * length)


def prove_leads(room: WireRoom, start: WireEnd, end: WireEnd) -> None:
    """Refuse an end from which nothing leads straight on to where there is room, whatever the cells.

    Raises
    ------
    NoWireRoute
        With the end and what it lacks.
    """
    for name, stop in (("start", start), ("end", end)):
        points = _clear(room, stop)
        far = np.full(len(points), np.inf)
        if not (room.spare(Along(points, far, far), stop, stop) >= 0.0).any():
            raise no_lead(room, stop, name)


def _clear(room: WireRoom, stop: WireEnd) -> Array:
    """Points straight on from an end as far as it may go, (k, 3) mm."""
    at = np.arange(0.5 * room.reach_mm, _LONGEST_LEAD * room.need_mm, CHECK_MM)
    points = stop.at_mm + at[:, None] * stop.into
    tight = np.flatnonzero(room.spare(Along(points, at, np.full(len(at), np.inf)), stop, stop) < 0.0)
    return np.asarray(points[: tight[0]] if len(tight) else points)


def _leads(room: WireRoom, stop: WireEnd) -> Array:
    """Places straight on from an end where a turn may come, (k, 3) mm, the nearest first."""
    clear = _clear(room, stop)
    free = clear[room.at(clear, room.finite_margin) >= 0.0]
    free = free[room.margin[tuple(room.grid.cells(free).T)] >= 0.0]
    kept = np.unique(np.linspace(0, max(len(free) - 1, 0), min(_LEADS, len(free))).round().astype(int))
    return np.asarray(free[kept])


def _paths(room: WireRoom, first: Array, last: Array) -> list[Array]:
    """The cheapest ways from cell to cell, each keeping off tight places more than the one before."""
    found = []
    cost, margin = room.cost, np.maximum(room.margin, 0.0)
    source, target = (tuple(int(k) for k in cell) for cell in room.grid.cells(np.stack([first, last])))
    for weight in _KEEP_OFF:
        price = cost * (1.0 + weight * np.clip(1.0 - margin / (2.0 * room.reach_mm), 0.0, 1.0))
        graph = MCP_Geometric(np.where(room.margin >= 0.0, price, -1.0))
        far, _ = graph.find_costs([source], [target])
        if not np.isfinite(far[target]):
            return []
        cells = np.array(graph.traceback(target))
        found.append(room.grid.low + (cells + 0.5) * room.grid.side)
    return found


def _beside(room: WireRoom, paths: list[Array], bend_mm: float) -> tuple[Array, float]:
    """Places beside the ways, the roomiest first, where a bend may swing out to, and how far apart to take them."""
    side = room.grid.side
    off = np.ones(room.margin.shape, dtype=bool)
    off[tuple(room.grid.cells(np.concatenate(paths)).T)] = False
    near = ndimage.distance_transform_edt(off, sampling=side) <= 2.2 * bend_mm
    cells = np.argwhere(near & (room.margin >= 0.2))
    order = np.argsort(-np.round(room.margin[tuple(cells.T)], 1), kind="stable")
    kept = cells[order][:: max(1, len(cells) // _BESIDE)]
    return np.asarray(room.grid.low + (kept + 0.5) * side), max(_SPACING, float(np.cbrt(len(cells) / _SWINGS)) * side)


def _waypoints(start: WireEnd, end: WireEnd, leads: list[Array], groups: list[tuple[Array, float]]) -> Waypoints:
    """The leads, and points of each group that far apart."""
    kept: list[Array] = [*leads[0], *leads[1]]
    for points, apart in groups:
        for point in points:
            if np.linalg.norm(np.array(kept) - point, axis=1).min() >= apart:
                kept.append(point)
    a, b = len(leads[0]), len(leads[1])
    return Waypoints(np.array([start.at_mm, *kept, end.at_mm]), np.arange(1, a + 1), np.arange(a + 1, a + b + 1))


def _turns(
    room: WireRoom, ways: Waypoints, bend_mm: float, out: set[tuple[int, ...]] | None = None
) -> list[int] | None:
    return cheapest_turns(
        ways, bend_mm, lambda p: room.at(p, room.finite_margin), lambda p: room.at(p, room.cost), out or set()
    )


def _bent(room: WireRoom, ways: Waypoints, start: WireEnd, end: WireEnd, bend_mm: float) -> Array | None:
    """The cheapest line through the waypoints that the triangles themselves leave room for."""
    out: set[tuple[int, ...]] = set()
    for _ in range(_TRIES):
        turns = _turns(room, ways, bend_mm, out)
        if turns is None:
            return None
        corners = ways.points[turns]
        line = rounded(corners, bend_mm)
        tight = _tight(room, line, start, end)
        if tight is None:
            return line
        out |= {_blamed(turns, corners, spot) for spot in tight}
    return None


def _tight(room: WireRoom, line: Array, start: WireEnd, end: WireEnd) -> Array | None:
    """Points of a line that lack room, (k, 3) mm; None where it has room throughout."""
    points, at = spaced(line, CHECK_MM)
    spare = room.spare(Along(points, at, at[-1] - at), start, end)
    return points[spare < 0.0] if (spare < 0.0).any() else None


def _blamed(turns: list[int], corners: Array, spot: Array) -> tuple[int, ...]:
    """The run a point of the line lies on, or else the bend."""
    a, b = corners[:-1], corners[1:]
    way = b - a
    share = np.clip(np.einsum("ij,ij->i", spot - a, way) / np.einsum("ij,ij->i", way, way), 0.0, 1.0)
    off = np.linalg.norm(a + share[:, None] * way - spot, axis=1)
    run = int(np.argmin(off))
    if off[run] < 1e-6 or len(corners) < 3:
        return (turns[run], turns[run + 1])
    bend = 1 + int(np.argmin(np.linalg.norm(corners[1:-1] - spot, axis=1)))
    return (turns[bend - 1], turns[bend], turns[bend + 1])
