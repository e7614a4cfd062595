"""Paths of light through parts: what lies in a straight way from a point, and what a point sees across air."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from prep.geometry.rays import RayScene
from prep.geometry.solid import Array, Indices

_GOLDEN = (np.sqrt(5.0) - 1.0) / 2.0
_MOST_FACES = 24
"""Faces a straight path may meet before it counts as lost in material."""

BEHIND = -2
"""Stands for a face met from behind."""

CHUNK = 1 << 18
"""Rays sent at once; bounds memory at about 50 MB."""


def step_off(scene: RayScene) -> float:
    """How far a ray starts off the face it leaves, mm: well above the rounding of the ray kernel's single numbers."""
    return 2e-6 * scene.diagonal_mm


@dataclass(frozen=True, eq=False)
class WallPaths:
    """Straight ways through material, from the skin to the first air.

    Attributes
    ----------
    length_mm : (n, s) float64
        In the material of each of the solids; infinite in the first solid of a path that reaches no air.
    end_mm : (n, 3) float64
        Where it comes to air.
    triangle : (n,) int32
        The face it comes out of; -1 where it reaches no air.
    """

    length_mm: Array
    end_mm: Array
    triangle: Indices


def wall_paths(
    scene: RayScene, points: Array, directions: Array, solid: Indices, *, reach_mm: float, touch_mm: float
) -> WallPaths:
    """What a straight path goes through from a point of the skin until it comes to air.

    Parameters
    ----------
    points, directions : (n, 3) float64
        On the skin, in mm, and unit directions into the material.
    solid : (n,)
        Whose skin each point lies on.
    reach_mm : float
        Paths with more material than this reach no air.
    touch_mm : float
        Air narrower than this between two parts counts as contact; the path goes on in the next part.

    Notes
    -----
    A stretch is material where its near end enters a solid or its far end leaves one, so faces that coincide, and
    parts that overlap a little, are counted right whichever of two equal hits the kernel names. Exact on the triangles
    to about 2e-6 of the scene's diagonal a face. Cost: one ray a face met, and one to see whether the next part
    touches where there are several.
    """
    count, solids = len(points), int(scene.solid_of_triangle.max()) + 1
    length = np.zeros((count, solids))
    end = np.array(points, dtype=np.float64)
    triangle = np.full(count, -1, dtype=np.int32)
    for start in range(0, count, CHUNK):
        part = slice(start, start + CHUNK)
        _walk(
            scene,
            points[part],
            directions[part],
            solid[part],
            reach_mm,
            touch_mm,
            length[part],
            end[part],
            triangle[part],
        )
    length[triangle < 0, 0] = np.inf
    return WallPaths(length, end, triangle)


def _walk(
    scene: RayScene,
    points: Array,
    directions: Array,
    solid: Indices,
    reach_mm: float,
    touch_mm: float,
    length: Array,
    end: Array,
    triangle: Indices,
) -> None:
    """Walk one chunk of paths; fills `length`, `end` and `triangle` in place."""
    off = step_off(scene)
    rows = np.arange(len(points))
    origin = points + off * directions
    inside = np.array(solid, dtype=np.int32)
    several = length.shape[1] > 1
    bounds = _bounds(scene, length.shape[1], touch_mm) if several else np.empty((0, 2, 3))
    for _ in range(_MOST_FACES):
        along = directions[rows]
        hits = scene.cast(origin, along)
        met = hits.triangle >= 0
        rows, origin, along, inside = rows[met], origin[met], along[met], inside[met]
        face, far = hits.triangle[met], hits.distance_mm[met]
        leaving = np.einsum("ij,ij->i", scene.normals[face], along) > 0.0
        inside = np.where(leaving, scene.solid_of_triangle[face], inside)
        np.add.at(length, (rows, inside), far + off)
        here = origin + far[:, None] * along
        out = leaving.copy()
        ask = np.flatnonzero(out & _near_others(bounds, inside, here)) if several else rows[:0]
        if len(ask):
            beyond = scene.cast(here[ask] + off * along[ask], along[ask])
            met_on = beyond.triangle >= 0
            deep = np.zeros(len(met_on), dtype=bool)  # already in the next part: the two faces coincide
            deep[met_on] = np.einsum("ij,ij->i", scene.normals[beyond.triangle[met_on]], along[ask][met_on]) > 0.0
            on = deep | (beyond.distance_mm < touch_mm)
            again = ask[on]
            out[again] = False
            here[again] += np.where(deep[on], 0.0, beyond.distance_mm[on] + off)[:, None] * along[again]
            inside[again] = scene.solid_of_triangle[beyond.triangle[on]]
        inside[~leaving] = scene.solid_of_triangle[face[~leaving]]
        end[rows[out]] = here[out]
        triangle[rows[out]] = face[out]
        left = ~out & (length[rows].sum(axis=1) < reach_mm)
        rows, inside = rows[left], inside[left]
        origin = here[left] + off * along[left]
        if len(rows) == 0:
            return


def _bounds(scene: RayScene, solids: int, wider_mm: float) -> Array:
    """Lowest and highest corner of every solid of a scene, made wider all round, (s, 2, 3) mm."""
    found = np.empty((solids, 2, 3))
    for solid in range(solids):
        own = scene.vertices[scene.triangles[scene.solid_of_triangle == solid]].reshape(-1, 3)
        found[solid] = own.min(axis=0) - wider_mm, own.max(axis=0) + wider_mm
    return found


def _near_others(bounds: Array, solid: Indices, points: Array) -> NDArray[np.bool_]:
    """Whether each point lies in the bounds of a solid other than its own, (n,)."""
    near = np.zeros(len(points), dtype=bool)
    for other, (low, high) in enumerate(bounds):
        near |= (solid != other) & ((points >= low) & (points <= high)).all(axis=1)
    return near


@dataclass(frozen=True, eq=False)
class AirPaths:
    """What rays sent into the air from points of the skin meet first.

    Attributes
    ----------
    triangle : (n, k) int32
        First face of each ray; -1 where it leaves the scene, `BEHIND` where it meets a face from within the material:
        from skin that another part touches there is no air to look into.
    distance_mm : (n, k) float32
    """

    triangle: NDArray[np.int32]
    distance_mm: NDArray[np.float32]


def fan_directions(normals: Array, count: int, *, seed: int = 0) -> Array:
    """Directions spread over the half space before each normal, as dense as the cosine to it, (n, k, 3).

    Notes
    -----
    One lattice of Fibonacci points on the disc, lifted onto the half sphere (so that equal shares of the disc carry
    equal light), turned about each normal by an angle of its own: neighbours do not look along the same rays, and the
    same call always gives the same directions.
    """
    row = np.arange(count)
    radius = np.sqrt((row + 0.5) / count)
    turn = 2.0 * np.pi * ((np.arange(len(normals)) + seed) * np.sqrt(2.0) % 1.0)
    angle = 2.0 * np.pi * _GOLDEN * row + turn[:, None]
    first, second = _across(normals)
    height = np.sqrt(1.0 - radius**2)
    flat = (radius * np.cos(angle))[..., None] * first[:, None] + (radius * np.sin(angle))[..., None] * second[:, None]
    return np.asarray(flat + height[:, None] * normals[:, None])


def air_paths(scene: RayScene, points: Array, normals: Array, count: int, *, seed: int = 0) -> AirPaths:
    """First faces met by `count` rays from each point into the half space before it, cosine-weighted.

    Notes
    -----
    The share of a diffuse face's light that another face takes is the share of these rays that meet it. Cost: one ray
    each.
    """
    triangle = np.empty((len(points), count), dtype=np.int32)
    distance = np.empty((len(points), count), dtype=np.float32)
    off = step_off(scene)
    step = max(1, CHUNK // count)
    for start in range(0, len(points), step):
        part = slice(start, start + step)
        way = fan_directions(normals[part], count, seed=seed + start).reshape(-1, 3)
        origin = np.repeat(points[part] + off * normals[part], count, axis=0)
        hits = scene.cast(origin, way)
        behind = (hits.triangle >= 0) & (np.einsum("ij,ij->i", scene.normals[hits.triangle], way) > 0.0)
        triangle[part] = np.where(behind, BEHIND, hits.triangle).reshape(-1, count)
        distance[part] = hits.distance_mm.reshape(-1, count)
    return AirPaths(triangle, distance)


def sees(scene: RayScene, points: Array, normals: Array, target_mm: Array) -> NDArray[np.bool_]:
    """Whether nothing stands between points of the skin and one place in the air, (n,); False from behind the face."""
    off = step_off(scene)
    start = points + off * normals
    way = target_mm - start
    far = np.linalg.norm(way, axis=1)
    way = way / np.maximum(far, 1e-12)[:, None]
    ahead = np.einsum("ij,ij->i", way, normals) > 0.0
    clear = np.zeros(len(points), dtype=bool)
    rows = np.flatnonzero(ahead)
    for part in np.array_split(rows, max(1, -(-len(rows) // CHUNK))):
        if len(part):
            clear[part] = scene.cast(start[part], way[part]).distance_mm > far[part] * (1.0 - 1e-9)
    return clear


def _across(normals: Array) -> tuple[Array, Array]:
    """Two unit directions square to each normal and to one another, (n, 3) each."""
    hint = np.where(np.abs(normals[:, 2:]) < 0.7, [[0.0, 0.0, 1.0]], [[1.0, 0.0, 0.0]])
    first = np.cross(hint, normals)
    first /= np.maximum(np.linalg.norm(first, axis=1), 1e-12)[:, None]
    return first, np.cross(normals, first)
