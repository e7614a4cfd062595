"""`light_leaks`: every place outside the windows that would show light, through walls and through openings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from prep.geometry.light_paths import air_paths, wall_paths
from prep.geometry.solid import Array
from prep.places.light_field import TOUCH_MM, LightField
from prep.places.light_ways_out import WaysOut, ways_out
from prep.places.place import Triple, triple

LeakKind = Literal["wall", "hollow", "seam", "opening"]

_LOOKS = 128
"""Rays by which a place that would glow is asked whether anybody outside can see it."""

_OPEN = 0.01
_HOLLOW = 0.6
"""Shares of those rays that get away: less than the first is hidden, less than the second lies in a hole or recess."""

_SEAT_DEEP = 6.0
"""Depth of a lamp's seat behind what shines, in radii of its body; the longest round lamps are 3.5 (habit)."""

_OPPOSED = -0.3
_CORNER = 3.0
"""A slanted path shorter than so many spacings that ends on a face turned less away than the cosine cuts a corner."""

_NEAR = 6.0
"""Spacings within which two glowing places are one."""


@dataclass(frozen=True)
class LeakSpot:
    """One place that would show light.

    Attributes
    ----------
    kind : through a "wall", through the wall of a "hollow" (a screw's boss, a recess), through a "seam", or through an
        "opening" wider than seams are
    part, lamp : their numbers
    at_mm : where it is brightest, on the outside
    ratio : of its luminance to that of the window; infinite where no window is lit
    wall_mm : plastic in the way there, all parts together; 0 for a seam or opening
    wide_mm : the narrowest air in the way; 0 for a wall
    long_mm : how far the place reaches
    """

    kind: LeakKind
    part: int
    lamp: int
    at_mm: Triple
    ratio: float
    wall_mm: float
    wide_mm: float
    long_mm: float


@dataclass(frozen=True, eq=False)
class GlowMap:
    """What glows.

    Attributes
    ----------
    ratio : (n,) float64
        At every fine cell of the field: luminance of light that comes through the wall, over that of the lamp's window;
        the largest over the lamps.
    leaks : tuple of LeakSpot
        Brightest first.
    """

    ratio: Array
    leaks: tuple[LeakSpot, ...]


def light_leaks(field: LightField, window_glow: Array, *, limit: float, openings: bool = True) -> GlowMap:
    """What glows on the outside of the parts, and every place that glows more than a share of its lamp's window.

    Parameters
    ----------
    window_glow : (l,) cd/m2
        Luminance of the window of each lamp.
    limit : float
        Share of it above which a place outside the windows is a leak.
    openings : bool
        Look for light that comes out without crossing plastic; False where a cover is off and it must.

    Notes
    -----
    From every fine cell of the skin paths go straight in, along the normal and toward each lamp, through all plastic up
    to the first air; the light on the face they come out of and what the plastic passes give the luminance of the cell.
    The brighter of these paths counts; a slanted one that ends in the pocket below a window is that window's own edge,
    and one that cuts the corner of an opening's rim is no wall.
    A cell is a leak where that is above the limit, above what it shows by light through air (else it lies inside the
    lit cavity), outside the windows with their halo, and open to someone's eye. A spot of a face wider than two
    spacings was surely met. For openings see `ways_out`. Cost: one ray a cell and lamp for every face met.
    """
    glow = np.where(window_glow > 0.0, window_glow, 1e-30)
    shown = _through_walls(field, glow)
    ratio = shown.firm
    cells = field.cells
    aired = (field.aired[field.onto] / np.pi / glow).max(axis=1)  # what a white face there would show
    over = np.flatnonzero(
        (ratio > limit) & (ratio > aired) & ~_in_panes(field, cells.point) & ~_in_seats(field, cells.point)
    )
    leaks: list[LeakSpot] = []
    if openings:
        found = ways_out(field, glow, limit)
        leaks += _out_of_openings(field, found)
        over = over[~_beside(shown.end_mm[over], found.at_mm, _NEAR * field.spacing_mm)]
    looks = air_paths(field.scene, cells.point[over], cells.normal[over], _LOOKS)
    free = (looks.triangle == -1).mean(axis=1)
    seen = free >= _OPEN
    over, free = over[seen], free[seen]
    own = [np.flatnonzero(cells.solid[over] == part) for part in np.unique(cells.solid[over])]
    each = [rows[group] for rows in own for group in near_groups(cells.point[over[rows]], _NEAR * field.spacing_mm)]
    for group in each:
        members = over[group]
        best = members[int(np.argmax(ratio[members]))]
        leaks.append(
            LeakSpot(
                "hollow" if float(np.median(free[group])) < _HOLLOW else "wall",
                int(cells.solid[best]),
                int(shown.lamp[best]),
                triple(cells.point[best]),
                float(ratio[best]),
                float(shown.wall_mm[best]),
                0.0,
                _reach(cells.point[members], field.spacing_mm),
            )
        )
    return GlowMap(shown.ratio, tuple(sorted(leaks, key=lambda leak: (-leak.ratio, leak.at_mm))))


def show_ratio(ratio: float) -> str:
    """A luminance over another for people, to stand before what it is compared with."""
    return (
        f"{ratio:,.0f} times" if ratio >= 10.0 else f"{100.0 * ratio:.2g} % of" if ratio < 1.0 else f"{ratio:.1f} times"
    )


def near_groups(points: Array, reach_mm: float) -> list[NDArray[np.int64]]:
    """Rows of points that hang together by steps no longer than a reach, in order of their first row."""
    if len(points) == 0:
        return []
    pairs = cKDTree(points).query_pairs(reach_mm, output_type="ndarray")
    graph = coo_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(len(points), len(points)))
    count, label = connected_components(graph, directed=False)
    return [np.flatnonzero(label == each) for each in range(count)]


def _beside(points: Array, ways: Array, reach_mm: float) -> NDArray[np.bool_]:
    """Whether light on its way out of a seam or opening is what shines on these points, (n,)."""
    if len(points) == 0 or len(ways) == 0:
        return np.zeros(len(points), dtype=bool)
    return np.asarray(cKDTree(ways).query(points)[0] <= reach_mm)


@dataclass(frozen=True, eq=False)
class _Shown:
    """What every fine cell shows through its wall.

    Attributes
    ----------
    ratio, firm : luminance over that of the window, by all paths, and without those of the windows' own soft edges
    wall_mm, lamp, end_mm : of the brightest path that is no window's edge: plastic, lamp, and where light enters it
    """

    ratio: Array
    firm: Array
    wall_mm: Array
    lamp: NDArray[np.int64]
    end_mm: Array


def _through_walls(field: LightField, glow: Array) -> _Shown:
    """What every fine cell shows through its wall: the brightest of its paths, straight in and toward each lamp."""
    cells = field.cells
    ratio, firm = np.zeros(len(cells)), np.zeros(len(cells))
    wall = np.full(len(cells), np.inf)
    lamp = np.zeros(len(cells), dtype=np.int64)
    ends = cells.point.copy()
    ways: list[tuple[NDArray[np.int64], Array]] = [(np.arange(len(cells)), -cells.normal)]
    for source in field.sources:
        toward = np.array(source.at_mm) - cells.point
        toward /= np.maximum(np.linalg.norm(toward, axis=1), 1e-12)[:, None]
        rows = np.flatnonzero(np.einsum("ij,ij->i", toward, cells.normal) < -0.2)
        ways.append((rows, toward[rows]))
    for turn, (rows, way) in enumerate(ways):
        found = wall_paths(
            field.scene, cells.point[rows], way, cells.solid[rows], reach_mm=field.deepest_mm, touch_mm=TOUCH_MM
        )
        lit = found.triangle >= 0
        lit[lit] = field.falls[field.coarse.of_triangle[found.triangle[lit]]].sum(axis=1) > 0.0
        start, end = rows[lit], found.end_mm[lit]
        passed = field.passes(found.length_mm[lit], found.triangle[lit])
        shown = field.falls_at(end, found.triangle[lit]) * passed[:, None] / np.pi / glow
        best = shown.max(axis=1)
        ratio[start] = np.maximum(ratio[start], best)
        better = best > firm[start]
        if turn:
            facing = np.einsum("ij,ij->i", field.scene.normals[found.triangle[lit]], cells.normal[start])
            better &= (facing < _OPPOSED) | (found.length_mm[lit].sum(axis=1) > _CORNER * field.spacing_mm)
            for pane in field.panes:
                better &= ~pane.edged(cells.point[start], end)
        to = start[better]
        firm[to] = best[better]
        lamp[to] = shown[better].argmax(axis=1)
        wall[to] = found.length_mm[lit][better].sum(axis=1)
        ends[to] = end[better]
    return _Shown(ratio, firm, wall, lamp, ends)


def _in_panes(field: LightField, points: Array) -> NDArray[np.bool_]:
    inside = np.zeros(len(points), dtype=bool)
    for pane in field.panes:
        inside |= pane.holds(points)
    return inside


def _in_seats(field: LightField, points: Array) -> NDArray[np.bool_]:
    """Whether points lie in the seat of a lamp, which its body covers: behind it, within its diameter of the axis."""
    inside = np.zeros(len(points), dtype=bool)
    for source in field.sources:
        to = points - np.array(source.at_mm)
        along = to @ np.array(source.axis)
        aside = np.linalg.norm(to - along[:, None] * np.array(source.axis), axis=1)
        deep = source.body_mm * _SEAT_DEEP
        inside |= (aside <= 2.0 * source.body_mm) & (along <= 0.5 * source.body_mm) & (along >= -deep)
    return inside


def _out_of_openings(field: LightField, found: WaysOut) -> list[LeakSpot]:
    """One spot for every group of ways out: at the brightest of a seam, in the middle of an opening."""
    leaks = []
    for group in near_groups(found.at_mm, 2.0 * _NEAR * field.spacing_mm):
        narrow = group[found.narrow[group]]
        best = group[int(np.argmax(found.ratio[group]))]
        at = best
        if len(narrow) == 0:
            away = np.linalg.norm(found.at_mm[group] - found.at_mm[group].mean(axis=0), axis=1)
            at = group[int(np.argmin(away))]
        leaks.append(
            LeakSpot(
                "seam" if len(narrow) else "opening",
                int(found.part[at]),
                int(found.lamp[best]),
                triple(found.at_mm[at]),
                float(found.ratio[best]),
                0.0,
                float(np.median(found.wide_mm[narrow]) if len(narrow) else found.wide_mm[group].max()),
                _reach(found.at_mm[group], field.spacing_mm),
            )
        )
    return leaks


def _reach(points: Array, spacing_mm: float) -> float:
    """How far some cells reach: the longest side of their bounds, one spacing at least."""
    return max(float(np.ptp(points, axis=0).max()), spacing_mm)
