"""`ways_out`: where light leaves a model without crossing plastic: through seams, holes and openings."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from prep.geometry.distance import Nearest
from prep.geometry.light_paths import CHUNK, fan_directions, sees, step_off
from prep.geometry.solid import Array
from prep.places.light_field import FAN, GAP_MM, TOUCH_MM, LightField

_LINES = 16
"""Lines through each place of a seam, turned evenly in the seam's plane."""

_TILTS_DEG = (0.0, 0.7, -0.7, 2.0, -2.0, 5.0, -5.0)
"""Out of that plane: a seam all round a cavity is looked through at its far wall, not at its far seam."""

MOUTH = 6.0
"""Spacings from a place of a seam within which skin belongs to its mouth."""

_MOST_NARROW = 12_000
_MOST_WIDE = 3_000
_STEPS = 160


@dataclass(frozen=True, eq=False)
class WaysOut:
    """Straight lines by which an eye outside sees lit skin, each at its narrowest place.

    Attributes
    ----------
    at_mm : (n, 3) float64
    wide_mm : (n,) float64
        Air there, across.
    ratio : (n,) float64
        Luminance of what is seen, over that of the lamp's window.
    lamp, part : (n,) int64
    narrow : (n,) bool
        Whether it was found in the air between two faces that look at each other.
    """

    at_mm: Array
    wide_mm: Array
    ratio: Array
    lamp: NDArray[np.int64]
    part: NDArray[np.int64]
    narrow: NDArray[np.bool_]


def ways_out(field: LightField, glow: Array, limit: float) -> WaysOut:
    """Ways out of the model for light brighter than a share of the window, at their narrowest places.

    Notes
    -----
    Two searches. Rays from lit cells that meet nothing more show wide openings; each is followed to its narrowest
    place. In the air of every narrow gap, lines in its plane and a little out of it are cast both ways: where one end
    leaves the model and the other meets lit skin, or where the lamp itself is in sight, light gets out. A gap is looked
    through at every fine cell of its faces, so an open seam longer than two spacings is met whatever its width above
    `TOUCH_MM`; a seam that no straight line passes (a tongue in a groove) is judged by the light on its own walls.
    """
    # light that came by air alone: what came through a wall is a leak of that wall
    shown = np.where(field.in_pane[:, None], 0.0, field.reflects[:, None] * field.aired / np.pi / glow)
    narrow = _narrow_ways(field, shown, glow, limit)
    wide = _wide_ways(field, shown, limit, narrow)
    return WaysOut(*(np.concatenate(pair) for pair in zip(narrow, wide, strict=True)))


_Ways = tuple[Array, Array, Array, NDArray[np.int64], NDArray[np.int64], NDArray[np.bool_]]


def _narrow_ways(field: LightField, shown: Array, glow: Array, limit: float) -> _Ways:
    cells = field.cells
    gap = field.gap_mm[cells.triangle]
    rows = np.flatnonzero((gap > TOUCH_MM) & (gap < GAP_MM))
    rows = rows[:: max(1, -(-len(rows) // _MOST_NARROW))]
    middle = cells.point[rows] + gap[rows, None] / 2.0 * cells.normal[rows]
    best = np.zeros((len(rows), len(field.sources)))
    for tilt in np.radians(_TILTS_DEG):
        for line in range(_LINES):
            way = _in_plane(cells.normal[rows], np.pi * line / _LINES, float(tilt))
            away, seen = _end(field, shown, middle, way)
            ask = np.flatnonzero(away | (seen.max(axis=1) > limit))
            gone, met = _end(field, shown, middle[ask], -way[ask])
            through = np.where(away[ask, None], met, np.where(gone[:, None], seen[ask], 0.0))
            best[ask] = np.maximum(best[ask], through)
    best = np.maximum(best, _lamps_in_sight(field, middle, glow))
    ratio = best.max(axis=1)
    out = np.flatnonzero(ratio > limit)
    return (
        middle[out],
        gap[rows[out]],
        ratio[out],
        best[out].argmax(axis=1),
        cells.solid[rows[out]].astype(np.int64),
        np.ones(len(out), dtype=bool),
    )


def _end(field: LightField, shown: Array, origins: Array, way: Array) -> tuple[NDArray[np.bool_], Array]:
    """Whether each ray leaves the model other than by a window, and what it sees where it does not, (n, l)."""
    hits = field.scene.cast(origins, way)
    away = (hits.triangle < 0) & ~plugged(field, origins, way)
    front = np.einsum("ij,ij->i", field.scene.normals[hits.triangle], way) < 0.0
    seen = np.where((front & (hits.triangle >= 0))[:, None], shown[field.coarse.of_triangle[hits.triangle]], 0.0)
    for pane in field.panes:
        away &= ~pane.lets_out(origins, way)
    return away, seen


def plugged(field: LightField, origins: Array, way: Array) -> NDArray[np.bool_]:
    """Whether rays would go through the body of a lamp, which closes the bore it sits in, (n,)."""
    shut = np.zeros(len(origins), dtype=bool)
    for source in field.sources:
        to = np.array(source.at_mm) - origins
        along = np.einsum("ij,ij->i", to, way)
        aside = np.linalg.norm(to - along[:, None] * way, axis=1)
        shut |= (along > 0.0) & (aside < source.body_mm)
    return shut


def _lamps_in_sight(field: LightField, middle: Array, glow: Array) -> Array:
    """How bright a white face at the outer end of a gap would look, straight in a lamp's light, (n, l)."""
    bright = np.zeros((len(middle), len(field.sources)))
    for column, source in enumerate(field.sources):
        way = middle - np.array(source.at_mm)
        far = np.maximum(np.linalg.norm(way, axis=1), 1e-9)
        way = way / far[:, None]
        ahead = np.maximum(way @ np.array(source.axis), 0.0) ** source.order
        lit = np.flatnonzero(ahead > 1e-3)
        lit = lit[sees(field.scene, middle[lit], -way[lit], np.array(source.at_mm))]
        lit = lit[field.scene.cast(middle[lit], way[lit]).triangle < 0]
        for pane in field.panes:
            lit = lit[~pane.lets_out(middle[lit], way[lit])]
        bright[lit, column] = source.candela * ahead[lit] / far[lit] ** 2 * 1e6 / np.pi / glow[column]
    return bright


def _in_plane(normal: Array, turn: float, tilt: float) -> Array:
    """Directions square to each normal at an angle about it, tilted toward it; (n, 3)."""
    hint = np.where(np.abs(normal[:, 2:]) < 0.7, [[0.0, 0.0, 1.0]], [[1.0, 0.0, 0.0]])
    first = np.cross(hint, normal)
    first /= np.maximum(np.linalg.norm(first, axis=1), 1e-12)[:, None]
    flat = np.cos(turn) * first + np.sin(turn) * np.cross(normal, first)
    return np.asarray(np.cos(tilt) * flat + np.sin(tilt) * normal)


def _wide_ways(field: LightField, shown: Array, limit: float, narrow: _Ways) -> _Ways:
    coarse, scene = field.coarse, field.scene
    bright = shown.max(axis=1) > limit
    row, turn = np.nonzero((field.air.triangle == -1) & bright[:, None])
    thin = max(1, -(-len(row) // _MOST_WIDE))
    row, turn = row[::thin], turn[::thin]
    way = np.empty((len(row), 3))
    step = max(1, CHUNK // FAN)
    for start in range(0, len(coarse), step):
        mine = (row >= start) & (row < start + step)
        if mine.any():
            fan = fan_directions(coarse.normal[start : start + step], FAN, seed=start)
            way[mine] = fan[row[mine] - start, turn[mine]]
    origin = coarse.point[row] + step_off(scene) * coarse.normal[row]
    kept = ~plugged(field, origin, way)
    for pane in field.panes:
        kept &= ~pane.lets_out(origin, way)
    row, way, origin = row[kept], way[kept], origin[kept]
    passed = _narrowest(field, origin, way)
    at, wide = passed.at_mm, passed.wide_mm
    mouth = np.zeros(len(row), dtype=bool)
    if len(narrow[0]) and len(row):
        # from the mouth of a seam air only widens: that is where it gets out
        away, nearest = (np.asarray(each) for each in cKDTree(narrow[0]).query(origin))
        mouth = passed.widens & (away < MOUTH * field.spacing_mm)
        at[mouth], wide[mouth] = origin[mouth], narrow[1][nearest[mouth]]
    return (
        at,
        wide,
        shown[row].max(axis=1),
        shown[row].argmax(axis=1),
        scene.solid_of_triangle[passed.triangle].astype(np.int64),
        mouth,
    )


@dataclass(frozen=True, eq=False)
class _Passed:
    """Where ways out are narrowest.

    Attributes
    ----------
    at_mm, wide_mm, triangle : place, air across it, and the triangle nearest to it
    widens : whether the air only widens along the way
    """

    at_mm: Array
    wide_mm: Array
    triangle: NDArray[np.int64]
    widens: NDArray[np.bool_]


def _narrowest(field: LightField, origin: Array, way: Array) -> _Passed:
    """The last place at which the air along each way narrows and widens again, after it has left its own skin.

    Where it only widens: where it leaves the scene's bounds.
    """
    low, high = field.scene.vertices.min(axis=0), field.scene.vertices.max(axis=0)
    with np.errstate(divide="ignore", invalid="ignore"):
        out = np.where(way > 0.0, (high - origin) / way, np.where(way < 0.0, (low - origin) / way, np.inf))
    far = np.maximum(out.min(axis=1, initial=np.inf), 0.0) + 2.0 * field.spacing_mm
    points = origin[:, None] + (np.linspace(0.0, 1.0, _STEPS) * far[:, None])[..., None] * way[:, None]
    found = Nearest(field.scene.vertices, field.scene.triangles).query(points.reshape(-1, 3))
    air, face = found.distance_mm.reshape(-1, _STEPS), found.triangle.reshape(-1, _STEPS)
    dips = (air[:, 1:-1] <= air[:, :-2]) & (air[:, 1:-1] < air[:, 2:])
    widens = ~dips.any(axis=1)
    at = np.where(widens, _STEPS - 1, _STEPS - 2 - dips[:, ::-1].argmax(axis=1))
    each = np.arange(len(origin))
    return _Passed(points[each, at], 2.0 * air[each, at], face[each, at], np.asarray(widens))
