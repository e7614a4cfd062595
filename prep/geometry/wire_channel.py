"""`channel`: the cutters of a wire's way, and the groove that lets it pass under a cover."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from prep.geometry.columns import Shared
from prep.geometry.lathe import prism
from prep.geometry.solid import Array, Solid
from prep.geometry.wire_path import spaced
from prep.geometry.wire_room import Side
from prep.geometry.wire_route import WireRoute
from prep.geometry.wire_section import LEVEL, SIDES, WireSection, ring_points

_STEP_MM = 0.1
_OVER_MM = 0.3
_EASED = 12


def channel(route: WireRoute, *, up: Array) -> tuple[Solid, ...]:
    """One cutter for each stretch of a route that runs through material.

    Parameters
    ----------
    up : (3,) unit
        Build direction: where the channel lies level, a flat of its octagon is its roof.

    Notes
    -----
    Every cutter goes on past both its ends into the air, so that neither a flush face nor a sealed void is left.
    Volume: the section's area times the length, as rings lie in the planes that halve the turns; exactly where the line
    lies level, within a thousandth where the section turns as it climbs.
    """
    corners = WireSection(route.width_mm).corners
    return tuple(_swept(ring_points(_eased(line, up), corners, up)) for line in _lines(route))


def channel_takes(host: Solid, route: WireRoute) -> Shared:
    """Volume the channel takes from a part as it stands, found without the solid kernel.

    Notes
    -----
    The section's area times the share of it within the material, at every 0.1 mm of the way; error: one such step at
    every mouth, and a point of the section in a hundred.
    """
    section = WireSection(route.width_mm)
    side = Side(host)
    volume, error, moment = 0.0, 0.0, np.zeros(3)
    for line in _lines(route):
        points, at = spaced(line, _STEP_MM)
        middles, steps = (points[1:] + points[:-1]) / 2.0, np.diff(at)
        placed = ring_points(middles, section.spots[:-SIDES])
        within = (side.height(placed.reshape(-1, 3)) < 0.0).reshape(placed.shape[:2])
        each = within.mean(axis=1) * steps * section.area_mm2
        volume += float(each.sum())
        moment += (each[:, None] * middles).sum(axis=0)
        error += section.area_mm2 * _STEP_MM * 2.0 + 0.01 * float(each.sum())
    return Shared(volume, error, np.asarray(moment / volume if volume > 0.0 else route.points.mean(axis=0)))


def groove(start: Array, end: Array, out: Array, *, width_mm: float, high_mm: float = 0.0) -> Solid:
    """The cutter of an open groove across a mating face, so that the cover does not pinch the wire.

    Parameters
    ----------
    start, end : (3,) mm
        On the face; the groove goes on half its width past both.
    out : (3,) unit
        Away from the material.
    width_mm : of the wire; the groove is as wide and as deep
    high_mm : how far the face rises above the line between the two points

    Notes
    -----
    Its floor's edges are taken off at 45 degrees, so that it prints as well in a face that looks down.
    """
    along = end - start
    length = float(np.linalg.norm(along))
    along = along / length
    across = np.cross(out, along)
    half = width_mm / 2.0
    bevel = width_mm * (1.0 - np.tan(np.pi / SIDES)) / 2.0
    top = max(high_mm, 0.0) + max(_OVER_MM, 0.1 * width_mm)
    floor = -width_mm
    outline = np.array(
        [
            [half, floor + bevel],
            [half, top],
            [-half, top],
            [-half, floor + bevel],
            [bevel - half, floor],
            [half - bevel, floor],
        ]
    )
    frame = np.eye(4)
    frame[:3, 0], frame[:3, 1], frame[:3, 2], frame[:3, 3] = across, out, np.cross(across, out), start
    sense = 1.0 if frame[:3, 2] @ along > 0.0 else -1.0
    low, high = sorted((-half * sense, (length + half) * sense))
    return prism(outline, low, high, frame)


def _lines(route: WireRoute) -> list[Array]:
    """The middle line of every cutter, with its ends out in the open."""
    lines = []
    for a, b in route.cut:
        line = route.points[a : b + 1].copy()
        first, last = line[1] - line[0], line[-1] - line[-2]
        extra = [line]
        if a == 0:
            extra.insert(0, (line[0] - route.before_mm * first / np.linalg.norm(first))[None])
        if b == len(route.points) - 1:
            extra.append((line[-1] + route.after_mm * last / np.linalg.norm(last))[None])
        lines.append(np.concatenate(extra))
    return lines


def _eased(line: Array, up: Array) -> Array:
    """The line with more points where it climbs: there the section may turn, in steps too small to pinch it."""
    points = [line[:1]]
    for a, b in pairwise(line):
        steps = _EASED if abs(float((b - a) @ up)) > LEVEL * float(np.linalg.norm(b - a)) else 1
        points.append(a + np.linspace(0.0, 1.0, steps + 1)[1:, None] * (b - a))
    return np.concatenate(points)


def _swept(rings: Array) -> Solid:
    """The solid between rings of corners, (n, c, 3), counter-clockwise seen from ahead, closed by flat ends."""
    n, c = rings.shape[:2]
    here, after = np.arange(c), (np.arange(c) + 1) % c
    faces = []
    for row in range(n - 1):
        low, high = row * c, (row + 1) * c
        faces.append(np.stack([low + here, low + after, high + after], axis=1))
        faces.append(np.stack([low + here, high + after, high + here], axis=1))
    fan = np.stack([np.zeros(c - 2, dtype=np.intp), here[1:-1], here[2:]], axis=1)
    return Solid.of(rings.reshape(-1, 3), np.concatenate([*faces, fan[:, ::-1], fan + (n - 1) * c]))
