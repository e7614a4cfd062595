"""`find_pins`: free-standing pins, with how thick and how long each is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from prep.geometry.rays import RayScene
from prep.geometry.solid import Array, Progress, Solid
from prep.geometry.wall_thickness import Thickness, wall_thickness

_AROUND = 12
_SPHERE = 96
_MOST_PLACES = 20_000
_MOST_PINS = 1_000
_MOST_STEPS = 80
_GROWN = 1.6
"""Breadths of its thinnest section at which a pin has run into something thicker."""

_SQUARE = 0.5
"""Cosine between the axis and the end face's normal; a lip that curves away is left through its side."""

_POINTED = 0.4
"""Share of its width to which a pin that ends in a point has thinned there."""

_STRAIGHT = 0.97
"""Cosine between the axis looked along and the line from foot to tip."""

_STATIONS = (0.2, 0.35, 0.5, 0.65, 0.8)
"""Shares of the length at which a pin's sections are measured."""

_COMPACT = 2.5
"""Breadth over width beyond which a section is that of a rib."""


@dataclass(frozen=True)
class Pin:
    """A pin: it stands on something thicker at one end and is free at the other.

    Attributes
    ----------
    at_mm : (3,)
        Middle of its thinnest section.
    foot_mm, tip_mm : (3,)
        On its axis.
    width_mm : float
        Least width of its thinnest section: the diameter where it is round.
    length_mm : float
        From foot to tip.
    """

    at_mm: Array
    foot_mm: Array
    tip_mm: Array
    width_mm: float
    length_mm: float

    @property
    def slenderness(self) -> float:
        """Length over width."""
        return self.length_mm / self.width_mm


def find_pins(
    solid: Solid,
    limit_mm: float,
    *,
    slender: float = 2.0,
    measured: Thickness | None = None,
    tell: Progress | None = None,
) -> list[Pin]:
    """Free-standing pins thinner than a limit, the thinnest first.

    Parameters
    ----------
    slender : float
        Least length over width; shorter ones are bumps.
    measured : Thickness, optional
        Of the same solid at any limit; its samples are used instead of measuring again.

    Notes
    -----
    From the middle of every place thinner than the limit the longest of 96 chords gives an axis. Along it the section
    is followed both ways, kept in its middle by chords across, until it ends in air or has grown to 1.6 times its
    breadth. Only what ends in air one way and grows the other, and is narrow and compact at five sections between, is
    a pin: a rib is broad, a strut grows at both ends, a corner has no even section.
    Widths are chords, 15 degrees apart, so high by 4 % at most; lengths are good to half a width. Cost: 12 rays a
    thin place, and some 2 000 for each that is narrow across as well.
    """
    found = measured or wall_thickness(solid, limit_mm=limit_mm, tell=tell)
    scene = RayScene([solid])
    middle, normal = _thin_places(found, limit_mm)
    narrow = _chords(scene, middle, _fan(normal)).min(axis=1, initial=np.inf) < 1.5 * limit_mm
    middle = middle[np.flatnonzero(narrow)[:_MOST_PINS]]
    if len(middle) == 0:
        return []
    axis = _longest_chord(scene, middle)
    middle = _centred(scene, middle, axis)
    ahead, behind = (_follow(scene, middle, way) for way in (axis, -axis))
    stands = (ahead.free & behind.grown) | (behind.free & ahead.grown)
    tip = np.where(ahead.free[:, None], ahead.end, behind.end)[stands]
    foot = np.where(ahead.free[:, None], behind.end, ahead.end)[stands]
    return _distinct(_proven(scene, foot, tip, axis[stands], limit_mm, slender))


def _proven(scene: RayScene, foot: Array, tip: Array, axis: Array, limit_mm: float, slender: float) -> list[Pin]:
    """Pins whose every section between foot and tip is narrow and compact."""
    length = np.linalg.norm(tip - foot, axis=1)
    real = length > 0.0
    foot, tip, axis, length = foot[real], tip[real], axis[real], length[real]
    along = (tip - foot) / length[:, None]
    straight = np.abs(np.einsum("ij,ij->i", along, axis)) > _STRAIGHT
    pins = []
    for k in np.flatnonzero(straight):
        ways = np.broadcast_to(along[k], (len(_STATIONS), 3))
        spots = _centred(scene, foot[k] + np.array(_STATIONS)[:, None] * (tip[k] - foot[k]), ways)
        chords = _chords(scene, spots, _fan(ways))
        width, breadth = chords.min(axis=1), chords.max(axis=1)
        least = int(np.argmin(width))
        pin = Pin(spots[least], foot[k], tip[k], float(width[least]), float(length[k]))
        even = breadth.max() <= min(_COMPACT * width[least], _GROWN * limit_mm)
        if even and 0.0 < pin.width_mm < limit_mm and pin.slenderness >= slender:
            pins.append(pin)
    return pins


def _thin_places(found: Thickness, limit_mm: float) -> tuple[Array, Array]:
    """Middles of thin places and the outward normals they were found from, one a voxel of a limit's side."""
    thin = np.flatnonzero(found.thickness_mm < limit_mm)
    normal = found.normal[thin]
    middle = found.point[thin] - (found.thickness_mm[thin] / 2.0)[:, None] * normal
    cell = np.floor(middle / limit_mm).astype(np.int64)
    order = np.lexsort((found.thickness_mm[thin], cell[:, 2], cell[:, 1], cell[:, 0]))
    changes = (np.diff(cell[order], axis=0, prepend=cell[order][:1] - 1) != 0).any(axis=1)
    first = order[changes]
    first = first[np.argsort(found.thickness_mm[thin][first], kind="stable")][:_MOST_PLACES]
    return middle[first], normal[first]


@dataclass(frozen=True)
class _Ends:
    """How far each section could be followed one way, and whether it ended in air or grew."""

    end: Array
    free: NDArray[np.bool_]
    grown: NDArray[np.bool_]


def _follow(scene: RayScene, middle: Array, axis: Array) -> _Ends:
    count = len(middle)
    chords = _chords(scene, middle, _fan(axis))
    width, breadth = chords.min(axis=1), chords.max(axis=1)
    start, end = width.copy(), middle.copy()
    free, grown = np.zeros(count, dtype=bool), np.zeros(count, dtype=bool)
    step = width / 3.0
    rows = np.arange(count)
    for _ in range(_MOST_STEPS):
        hits = scene.cast(end[rows], axis[rows])
        squarely = np.einsum("ij,ij->i", scene.normals[hits.triangle], axis[rows])
        out = hits.distance_mm <= step[rows]
        free[rows[out & ((squarely > _SQUARE) | ((squarely > 0.0) & (width[rows] < _POINTED * start[rows])))]] = True
        end[rows] += np.minimum(step[rows], hits.distance_mm)[:, None] * axis[rows]
        rows = rows[~out & np.isfinite(hits.distance_mm)]
        if len(rows) == 0:
            break
        ahead = _chords(scene, end[rows], _fan(axis[rows]))
        wide = ahead.max(axis=1) > _GROWN * breadth[rows]
        grown[rows[wide]] = True
        ahead, rows = ahead[~wide], rows[~wide]
        if len(rows) == 0:
            break
        end[rows] = _centred(scene, end[rows], axis[rows])
        width[rows] = np.minimum(width[rows], ahead.min(axis=1))
        breadth[rows] = np.minimum(breadth[rows], ahead.max(axis=1))
        step[rows] = np.minimum(1.1 * step[rows], width[rows])
    return _Ends(end, free, grown)


def _longest_chord(scene: RayScene, middle: Array) -> Array:
    """The direction of the longest of 96 chords through each point, (n, 3)."""
    turn = np.arange(_SPHERE)
    height = (turn + 0.5) / _SPHERE
    angle = turn * np.pi * (3.0 - np.sqrt(5.0))
    across = np.sqrt(1.0 - height**2)
    half = np.stack([across * np.cos(angle), across * np.sin(angle), height], axis=1)
    ways = np.broadcast_to(half, (len(middle), _SPHERE, 3))
    ahead, behind = (_distances(scene, middle, way) for way in (ways, -ways))
    return np.asarray(half[np.argmax(ahead + behind, axis=1)])


def _centred(scene: RayScene, middle: Array, axis: Array) -> Array:
    """Points moved to the middle of their sections square to the axis."""
    fan = _fan(axis)
    for _ in range(2):
        reach = _distances(scene, middle, fan)
        middle = middle + (2.0 / _AROUND) * np.einsum("nk,nki->ni", np.where(np.isfinite(reach), reach, 0.0), fan)
    return middle


def _chords(scene: RayScene, middle: Array, fan: Array) -> Array:
    """Chords through each point along the first half of its fan, (n, 6)."""
    if len(middle) == 0:
        return np.empty((0, _AROUND // 2))
    reach = _distances(scene, middle, fan)
    return np.asarray(reach[:, : _AROUND // 2] + reach[:, _AROUND // 2 :])


def _distances(scene: RayScene, middle: Array, ways: Array) -> Array:
    """How far it is from each point to the surface along its directions (n, k, 3), (n, k)."""
    count = ways.shape[1]
    hits = scene.cast(np.repeat(middle, count, axis=0), ways.reshape(-1, 3))
    return np.asarray(hits.distance_mm.reshape(-1, count))


def _fan(axis: Array) -> Array:
    """Directions square to each axis, (n, 12, 3); the second six are the first six turned about."""
    hint = np.eye(3)[np.abs(axis).argmin(axis=1)]
    x = np.cross(axis, hint)
    x /= np.linalg.norm(x, axis=1, keepdims=True)
    y = np.cross(axis, x)
    angle = np.arange(_AROUND) * (2.0 * np.pi / _AROUND)
    return np.asarray(x[:, None] * np.cos(angle)[None, :, None] + y[:, None] * np.sin(angle)[None, :, None])


def _distinct(pins: list[Pin]) -> list[Pin]:
    """Every pin once, whichever places it was found from."""
    kept: list[Pin] = []
    for pin in sorted(pins, key=lambda pin: (pin.width_mm, -pin.length_mm, *pin.tip_mm.tolist())):
        if not any(np.linalg.norm(pin.tip_mm - other.tip_mm) < 1.5 * other.width_mm for other in kept):
            kept.append(pin)
    return kept
