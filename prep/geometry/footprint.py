"""How far a thin place reaches, found by walking outward inside it, and what kind of thin place that makes it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from prep.geometry.rays import RayScene
from prep.geometry.solid import Array

Kind = Literal["wall", "skin", "web", "pin", "rib", "relief", "edge", "knife edge"]

_DIRECTIONS = 16
_STEPS = 24
_FAR, _GROWS, _FREE = 0, 1, 2


@dataclass(frozen=True)
class Footprints:
    """Walks in 16 directions from the middles of thin places.

    Attributes
    ----------
    reach_mm : (n, 16) float64
        How far each walk came.
    ends : (n, 16) int8
        0 the walk was given up far away, 1 the material grew thick, 2 it came out into the air.
    air_mm : (n, 2) float64
        How far the air beside the first and the second skin goes before it meets the solid again; infinite if open.
    limit_mm : float
        What counts as thin.
    """

    reach_mm: Array
    ends: NDArray[np.int8]
    air_mm: Array
    limit_mm: float

    @property
    def widths_mm(self) -> Array:
        """Full widths across the middle, (n, 8)."""
        half = _DIRECTIONS // 2
        return self.reach_mm[:, :half] + self.reach_mm[:, half:]


def footprints(scene: RayScene, start: Array, end: Array, limit_mm: float) -> Footprints:
    """Walk from the middle of each way through a wall, keeping half-way between the two skins.

    Parameters
    ----------
    start, end : (n, 3) mm
        The two ends of each way.
    limit_mm : float
        The material counts as thick beyond the larger of this and 1.25 times the way's own length.

    Notes
    -----
    Widths are good to one walking step, 0.3 to 1.5 thicknesses. Cost: 1 152 rays a place.
    """
    count = len(start)
    span = np.linalg.norm(end - start, axis=1)
    across = (end - start) / span[:, None]
    air = np.stack([_air(scene, p, d) for p, d in ((start, -across), (end, across))], axis=1)
    thick = np.repeat(np.maximum(limit_mm, 1.25 * span), _DIRECTIONS)
    stride = np.repeat(1.5 * np.maximum(span, limit_mm / 2.0), _DIRECTIONS)
    first = np.repeat(0.3 * span, _DIRECTIONS)
    u = np.repeat(across, _DIRECTIONS, axis=0)
    v = _fan(across).reshape(-1, 3)
    m = np.repeat(_inward((start + end) / 2.0, v, scene, span), _DIRECTIONS, axis=0)
    reach = np.zeros(count * _DIRECTIONS)
    ends = np.zeros(count * _DIRECTIONS, dtype=np.int8)
    rows = np.arange(count * _DIRECTIONS)
    for turn in range(_STEPS):
        step = np.minimum(first[rows] * 1.3**turn, stride[rows])
        ahead = scene.cast(m[rows], v[rows]).distance_mm
        out = ahead <= step
        reach[rows] += np.where(out, ahead, step)
        ends[rows[out]] = _FREE
        rows, step = rows[~out], step[~out]
        m[rows] += step[:, None] * v[rows]
        above, below = scene.cast(m[rows], u[rows]), scene.cast(m[rows], -u[rows])
        grown = above.distance_mm + below.distance_mm > thick[rows]
        ends[rows[grown]] = _GROWS
        rows = rows[~grown]
        if len(rows) == 0:
            break
        up, down = above.distance_mm[~grown], below.distance_mm[~grown]
        m[rows] += ((up - down) / 2.0)[:, None] * u[rows]
        tilt = scene.normals[above.triangle[~grown]] - scene.normals[below.triangle[~grown]]
        u[rows] = _unit(2.0 * u[rows] + tilt)
        v[rows] = _unit(v[rows] - np.einsum("ij,ij->i", v[rows], u[rows])[:, None] * u[rows])
    shape = (count, _DIRECTIONS)
    return Footprints(reach.reshape(shape), ends.reshape(shape), air, limit_mm)


def kind_of(prints: Footprints, row: int, span_mm: float) -> Kind:
    """What kind of thin place a footprint tells of.

    Notes
    -----
    In this order:

    - *wall*: at the limit or above, whatever its shape;
    - *relief*: lower than it is thick, as raised or sunk lettering is;
    - *pin*: free on two opposite sides within three thicknesses;
    - *web*: air on both skins that is closed in within ten limits;
    - *rib*: free on one side, standing on thick material less than fifteen limits away on the other, with no other
      wall within 25 limits of either skin;
    - *skin*: thick material on two opposite sides, less than fifteen limits apart;
    - *wall*: everything else.
    """
    half = _DIRECTIONS // 2
    ends, widths = prints.ends[row], prints.widths_mm[row]
    one, other = ends[:half], ends[half:]
    stands = ((one == _FREE) & (other == _GROWS)) | ((one == _GROWS) & (other == _FREE))
    near = widths < 15.0 * max(span_mm, prints.limit_mm)
    air = prints.air_mm[row]
    kind: Kind = "wall"
    if span_mm >= prints.limit_mm:
        kind = "wall"
    elif (stands & (widths < span_mm)).any():
        kind = "relief"
    elif ((one == _FREE) & (other == _FREE) & (widths < 3.0 * span_mm)).any():
        kind = "pin"
    elif (air <= 10.0 * prints.limit_mm).all():
        kind = "web"
    elif (stands & near).any() and (air > 25.0 * prints.limit_mm).all():
        kind = "rib"
    elif ((one == _GROWS) & (other == _GROWS) & near).any():
        kind = "skin"
    return kind


def _air(scene: RayScene, point: Array, direction: Array) -> Array:
    lifted = point + direction * (1e-5 * scene.diagonal_mm)
    return np.asarray(scene.cast(lifted, direction).distance_mm)


def inside(scene: RayScene, start: Array, end: Array) -> NDArray[np.bool_]:
    """Whether the middle of each way lies in material about as thick as the way is long, (n,)."""
    span = np.linalg.norm(end - start, axis=1)
    across = (end - start) / span[:, None]
    middle = _inward((start + end) / 2.0, _fan(across).reshape(-1, 3), scene, span)
    thick = np.zeros(len(start))
    leaves = np.ones(len(start), dtype=bool)
    for direction in (across, -across):
        hits = scene.cast(middle, direction)
        thick += hits.distance_mm
        leaves &= np.einsum("ij,ij->i", scene.normals[hits.triangle], direction) > 0.0
    return np.asarray(leaves & (thick >= 0.5 * span) & (thick <= 2.0 * span))


def _inward(middle: Array, fan: Array, scene: RayScene, span: Array) -> Array:
    """Middles on the rim of a thin place moved a third of a thickness into it; others stay."""
    lift = np.repeat(1e-3 * span, _DIRECTIONS)
    hits = scene.cast(np.repeat(middle, _DIRECTIONS, axis=0) + lift[:, None] * fan, fan)
    leaves = np.einsum("ij,ij->i", scene.normals[hits.triangle], fan) > 0.0
    ahead = np.where(leaves, hits.distance_mm + lift, 0.0).reshape(-1, _DIRECTIONS)
    held = np.minimum(ahead, span[:, None])
    return np.asarray(middle + (held[:, :, None] * fan.reshape(-1, _DIRECTIONS, 3)).mean(axis=1))


def _fan(axis: Array) -> Array:
    """Directions square to each axis, (n, 16, 3); the second eight are the first eight turned about."""
    hint = np.eye(3)[np.abs(axis).argmin(axis=1)]
    x = _unit(np.cross(axis, hint))
    y = np.cross(axis, x)
    angle = np.arange(_DIRECTIONS) * (2.0 * np.pi / _DIRECTIONS)
    return np.asarray(x[:, None] * np.cos(angle)[None, :, None] + y[:, None] * np.sin(angle)[None, :, None])


def _unit(vectors: Array) -> Array:
    return np.asarray(vectors / np.linalg.norm(vectors, axis=1, keepdims=True))
