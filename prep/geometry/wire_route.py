"""`route_wire`: a way for the wire inside a part, out of sight, with a wall left beside it and no tight bend."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from prep.errors import NoWireRoute
from prep.geometry.solid import Array, Progress, Solid
from prep.geometry.wire_path import spaced
from prep.geometry.wire_room import Along, WireEnd, WireRoom
from prep.geometry.wire_search import CHECK_MM, find_line, prove_leads
from prep.geometry.wire_section import WireSection, ring_points
from prep.geometry.wire_trouble import no_mouth

__all__ = ["WireEnd", "WireRoute", "route_wire"]

LEAST_BEND = 1.05
"""Bends are at least this many times as wide as the section reaches, so that a channel never cuts itself."""

_CELL = 0.4
"""Side of a cell, in widths of the wire."""

_FINER = 0.6
_MOST_CELLS = (400_000, 900_000)
_PAST_MM = 0.3
_GRAZE_MM = 1e-4
_MOST_PAST = 0.75
"""How far before its end a channel may go on to come out whole, in widths: enough for a face at 45 degrees."""


@dataclass(frozen=True)
class WireRoute:
    """The way of a wire.

    Attributes
    ----------
    points : (k, 3) mm
        Middle line from start to end; arcs in short chords.
    length_mm : of that line
    least_wall_mm : plastic between the section and the skin one sees or what is blocked, at the thinnest; infinite
        where there is neither
    cut : first and last of `points` of each stretch on which the section touches material
    cut_mm : length of these stretches
    handles : stretches wholly within material; each makes one handle of the part
    before_mm, after_mm : how far past start and end the section is out in the open
    """

    points: Array
    length_mm: float
    least_wall_mm: float
    cut: tuple[tuple[int, int], ...]
    cut_mm: float
    handles: int
    width_mm: float
    bend_mm: float
    before_mm: float
    after_mm: float


def route_wire(
    host: Solid,
    others: Sequence[Solid],
    blocked: Sequence[Solid],
    start: WireEnd,
    end: WireEnd,
    *,
    width_mm: float,
    wall_mm: float,
    bend_mm: float,
    open_toward: Array | None = None,
    tell: Progress = lambda *_: None,
) -> WireRoute:
    """The cheapest way from a lamp's cavity to a named place that nobody sees.

    Parameters
    ----------
    others : the other parts, where they stand with all covers on
    blocked : what the wire keeps the wall from: cavities, seats, pockets, as they are. What start or end stands on is
        left straight and then kept clear of; it may be cut out of the host already or not.
    start, end : on the surface of the cavity, and of the place it leads to
    width_mm : of the section across flats
    wall_mm : plastic left to the skin one sees and to `blocked`
    bend_mm : least radius of the middle line
    open_toward : (3,), optional
        Hidden side of a part that stands alone (`air_grid`).

    Raises
    ------
    NoWireRoute
        No way is wide enough, or none bends so gently, or an end opens on no air.

    Notes
    -----
    Cells (`AirGrid`) tell air one sees from hidden air; over those with room the cheapest way is found, where hidden
    air costs less than material. Straight runs and arcs between its cells are then weighed against one another
    (`cheapest_turns`), and the way found is measured against the triangles themselves at every 0.2 mm; a run or arc
    that fails is struck out and the search repeated, at last on finer cells. The way is the cheapest among these runs,
    not among all curves. Cost: some nearest points for every cell near the least distance; seconds for a hand-sized
    part.

    References
    ----------
    E. W. Dijkstra, A note on two problems in connexion with graphs, Numer. Math. 1 (1959) 269.
    """
    section = WireSection(width_mm)
    bend = max(bend_mm, LEAST_BEND * section.reach_mm)
    first, last = (WireEnd(np.asarray(e.at_mm, float), e.into / np.linalg.norm(e.into)) for e in (start, end))
    volume = float(np.prod(host.extents_mm + 6.0))
    trouble: list[NoWireRoute] = []
    for number, most in enumerate(_MOST_CELLS):
        tell("finding a way for the wire", number / len(_MOST_CELLS))
        side = max(_CELL * width_mm * _FINER**number, float(np.cbrt(volume / most)))
        room = WireRoom(host, others, blocked, section, wall_mm, side, open_toward)
        prove_leads(room, first, last)
        try:
            line = find_line(room, first, last, bend)
        except NoWireRoute as fault:
            trouble.append(fault)
            continue
        return _measured(room, line, first, last, bend)
    raise trouble[-1]


def _measured(room: WireRoom, line: Array, start: WireEnd, end: WireEnd, bend_mm: float) -> WireRoute:
    """The route of a line: what of it is cut, and what is left beside it."""
    points, at = spaced(line, CHECK_MM / 2.0)
    wall = room.wall(Along(points, at, at[-1] - at), start, end)
    held = room.host.height(ring_points(points, room.section.spots).reshape(-1, 3)) < -_GRAZE_MM
    held = held.reshape(len(points), -1)
    line, cut = _with_breaks(line, _stretches(np.asarray(held.any(axis=1))), at)
    length = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    return WireRoute(
        points=line,
        length_mm=float(length[-1]),
        least_wall_mm=float(wall.min()),
        cut=cut,
        cut_mm=float(sum(length[b] - length[a] for a, b in cut)),
        handles=len(_stretches(np.asarray(held.all(axis=1)))),
        width_mm=room.section.width_mm,
        bend_mm=bend_mm,
        before_mm=_past(room, start, line[1] - line[0], "start") if cut and cut[0][0] == 0 else 0.0,
        after_mm=_past(room, end, line[-2] - line[-1], "end") if cut and cut[-1][1] == len(line) - 1 else 0.0,
    )


def _stretches(mask: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and last row of every run of True."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(np.int8)))
    return [(int(a), int(b) - 1) for a, b in edges.reshape(-1, 2)]


def _with_breaks(line: Array, stretches: list[tuple[int, int]], at: Array) -> tuple[Array, tuple[tuple[int, int], ...]]:
    """The line with points where cutting begins and ends, and their rows; each stretch ends a little out in the air."""
    joined: list[list[float]] = []
    for a, b in stretches:
        low, high = max(float(at[a]) - _PAST_MM, 0.0), min(float(at[b]) + _PAST_MM, float(at[-1]))
        if joined and low <= joined[-1][1] + _PAST_MM:
            joined[-1][1] = high
        else:
            joined.append([low, high])
    length = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    wanted = np.array([value for pair in joined for value in pair])
    missing = wanted[[np.abs(length - value).min() > 1e-6 for value in wanted]] if len(wanted) else wanted
    every = np.sort(np.concatenate([length, missing]))
    points = np.stack([np.interp(every, length, line[:, k]) for k in range(3)], axis=1)
    rows = [tuple(int(np.argmin(np.abs(every - value))) for value in pair) for pair in joined]
    return points, tuple((row[0], row[1]) for row in rows)


def _past(room: WireRoom, stop: WireEnd, way: Array, name: str) -> float:
    """How far before an end its whole section is in air, or in what is cut out there."""
    own = [side for side in room.blocked if side.height(stop.at_mm[None])[0] <= room.reach_mm]
    mouth = ring_points(np.stack([stop.at_mm, stop.at_mm + way]), room.section.spots)[0]
    way = way / np.linalg.norm(way)
    steps = np.arange(_PAST_MM, max(room.section.width_mm * _MOST_PAST, 2.0 * _PAST_MM), 0.1)
    for past in steps:
        spots = mouth - past * way
        shut = room.host.height(spots) <= 0.0
        for side in own:
            shut &= side.height(spots) >= 0.0
        if not shut.any():
            return float(past)
    raise no_mouth(stop, name, int(shut.sum()), len(spots), float(steps[-1]))
