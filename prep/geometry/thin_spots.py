"""Thin spots: from thin samples to the true local minima, each with its kind, angle and extent."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from prep.geometry.double_normal import ShortestWays, Way
from prep.geometry.footprint import Kind, footprints, inside, kind_of
from prep.geometry.rays import RayScene
from prep.geometry.solid import Array

_PLATEAU = 0.02
"""A spot is the same as its neighbour while it is no more than this share thicker."""

_LEVEL = 1e-3
"""Readings within this share of the lowest are one level bottom."""

EDGE_DEG = 15.0
"""Skins that close at more than this are an edge, not a wall with draft."""

KNIFE_DEG = 30.0
"""An edge sharper than this is a knife edge."""

_KNIFE_TIP = 0.25
"""A tip broader than this share of the limit is blunt."""


@dataclass(frozen=True)
class ThinSpot:
    """The thinnest point of one thin place.

    Attributes
    ----------
    at_mm, opposite_mm : (3,)
        The two ends of the shortest way through.
    thickness_mm : float
        0 on a sharp edge.
    kind : Kind
    angle_deg : float
        Between the two skins; 0 for parallel ones.
    extent_mm : (float, float)
        Narrowest and widest reach of the place across its middle; for an edge, 0 and its length.
    """

    at_mm: Array
    opposite_mm: Array
    thickness_mm: float
    kind: Kind
    angle_deg: float
    extent_mm: tuple[float, float]


@dataclass(frozen=True)
class Readings:
    """Thin samples: where, which way, and what they saw opposite.

    Attributes
    ----------
    point, normal, opposite : (n, 3)
    value_mm, wedge_deg : (n,)
    """

    point: Array
    normal: Array
    opposite: Array
    value_mm: Array
    wedge_deg: Array

    def of(self, rows: NDArray[np.intp]) -> Readings:
        """Some of the readings."""
        return Readings(
            self.point[rows], self.normal[rows], self.opposite[rows], self.value_mm[rows], self.wedge_deg[rows]
        )


def lowest_places(readings: Readings, spacing_mm: float) -> NDArray[np.intp]:
    """One reading for every separate low place, lowest first; both sides of a wall count as one place.

    A place is separate where everything about it within three spacings is thicker; level places that join are one.
    """
    if len(readings.value_mm) == 0:
        return np.empty(0, dtype=np.intp)
    side = 2.0 * spacing_mm
    low = _lowest_in_voxel(readings, side)
    point, normal, value = readings.point[low], readings.normal[low], readings.value_mm[low]
    tree = cKDTree(point)
    pairs = tree.query_pairs(1.6 * side, output_type="ndarray")
    pairs = pairs[np.einsum("ij,ij->i", normal[pairs[:, 0]], normal[pairs[:, 1]]) > 0.0]
    beaten = np.zeros(len(low), dtype=bool)
    for one, other in (pairs.T, pairs[:, ::-1].T):
        beaten[one[value[other] < value[one] * (1.0 - _PLATEAU)]] = True
    away, facing = (np.asarray(answer) for answer in tree.query(readings.opposite[low]))
    across = (
        (away <= 1.6 * side) & (value[facing] < value * (1.0 + _PLATEAU)) & (value[facing] > value * (1.0 - _PLATEAU))
    )
    links = np.concatenate([pairs, np.stack([np.flatnonzero(across), facing[across]], axis=1)])
    links = links[~beaten[links].any(axis=1)]
    graph = scipy.sparse.coo_matrix(
        (np.ones(len(links), dtype=bool), (links[:, 0], links[:, 1])), shape=(len(low),) * 2
    )
    label = scipy.sparse.csgraph.connected_components(graph, directed=False)[1]
    left = np.flatnonzero(~beaten)
    chosen = _middle_of_lowest(point[left], value[left], label[left])
    return np.asarray(low[left[chosen]])


def find_spots(
    ways: ShortestWays, scene: RayScene, readings: Readings, seeds: NDArray[np.intp], spacing_mm: float, limit_mm: float
) -> list[ThinSpot]:
    """The thin spot each seed leads to, told apart by kind, thinnest first; the same spot is given once."""
    guesses = [
        Way(
            readings.point[row], readings.opposite[row], float(readings.value_mm[row]),
            float(readings.wedge_deg[row]), closes=False,
        )
        for row in seeds
    ]  # fmt: skip
    found = [
        _better(guess, ways.refine(guess.start, guess.end, guess.wedge_deg, 1.5 * spacing_mm)) for guess in guesses
    ]
    open_ways = [row for row, way in enumerate(found) if not way.closes]
    if open_ways:
        real = inside(scene, np.array([found[k].start for k in open_ways]), np.array([found[k].end for k in open_ways]))
        for row, true in zip(open_ways, real, strict=True):
            found[row] = found[row] if true else guesses[row]
    distinct = _distinct(found, 2.0 * spacing_mm)
    walls = [way for way in distinct if not way.closes]
    if not walls:
        return [_edge(way) for way in distinct]
    prints = footprints(scene, np.array([w.start for w in walls]), np.array([w.end for w in walls]), limit_mm)
    spots = [_edge(way) for way in distinct if way.closes]
    for row, way in enumerate(walls):
        widths = prints.widths_mm[row]
        extent = (float(widths.min()), float(widths.max()))
        if way.wedge_deg > EDGE_DEG:
            blunt = way.wedge_deg >= KNIFE_DEG or way.length_mm > _KNIFE_TIP * limit_mm
            kind: Kind = "edge" if blunt else "knife edge"
        else:
            kind = kind_of(prints, row, way.length_mm)
        spots.append(ThinSpot(way.start, way.end, way.length_mm, kind, way.wedge_deg, extent))
    return sorted(spots, key=lambda spot: (spot.thickness_mm, *spot.at_mm.tolist()))


def _better(guess: Way, refined: Way | None) -> Way:
    """The refined way; the guess's own place where the wall is level and the refined one only wandered along it."""
    if refined is None:
        return guess
    level = not refined.closes and refined.length_mm >= guess.length_mm * (1.0 - 1e-6)
    return guess if level else refined


def _edge(way: Way) -> ThinSpot:
    kind: Kind = "knife edge" if way.wedge_deg < KNIFE_DEG else "edge"
    return ThinSpot(way.start, way.end, 0.0, kind, way.wedge_deg, (0.0, 0.0))


def _lowest_in_voxel(readings: Readings, side_mm: float) -> NDArray[np.intp]:
    cell = np.floor((readings.point - readings.point.min(axis=0)) / side_mm).astype(np.int64)
    span = cell.max(axis=0) + 1
    octant = (readings.normal > 0.0) @ np.array([1, 2, 4])
    key = ((cell[:, 0] * span[1] + cell[:, 1]) * span[2] + cell[:, 2]) * 8 + octant
    order = np.lexsort((readings.value_mm, key))
    first = np.concatenate([[True], key[order][1:] != key[order][:-1]])
    return np.asarray(order[first])


def _middle_of_lowest(point: Array, value: Array, label: NDArray[np.int32]) -> NDArray[np.intp]:
    """For every label the row nearest the middle of its level bottom, lowest bottoms first."""
    names, group = np.unique(label, return_inverse=True)
    lowest = np.full(len(names), np.inf)
    np.minimum.at(lowest, group, value)
    bottom = np.flatnonzero(value <= lowest[group] * (1.0 + _LEVEL))
    mine = group[bottom]
    count = np.bincount(mine, minlength=len(names))
    middle = np.stack([np.bincount(mine, point[bottom, k], len(names)) / count for k in range(3)], axis=1)
    away = np.linalg.norm(point[bottom] - middle[mine], axis=1)
    order = np.lexsort((away, mine))
    first = np.unique(mine[order], return_index=True)[1]
    chosen = bottom[order[first]]
    return np.asarray(chosen[np.lexsort((chosen, value[chosen]))])


def _distinct(ways: list[Way], within_mm: float) -> list[Way]:
    """Each way once, whichever skin it was found from; the shortest stands for those beside it."""
    kept: list[Way] = []
    for way in sorted(ways, key=lambda way: (way.length_mm, *way.start.tolist())):
        ends = (way.start, way.end)
        if not any(
            min(float(np.linalg.norm(end - other)) for end in ends for other in (known.start, known.end)) < within_mm
            and way.length_mm <= known.length_mm * (1.0 + 2.0 * _PLATEAU)
            for known in kept
        ):
            kept.append(way)
    return kept
