"""`trace_light`: where light goes that enters a clear solid, bounce by bounce, every share of it accounted for."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from prep.geometry.light_rays import LightRays
from prep.geometry.rays import RayScene
from prep.geometry.solid import Array, Indices, Progress, Solid

Reflectance = Callable[[float, float, Array], Array]
"""Share of unpolarised light turned back, from index before, index beyond and the cosine of incidence (n,)."""

SIDES = "sides"
"""The face group of every triangle that no other group names."""

CHUNK = 200_000
BY_HAND = 256
NUDGE_SHARE = 5e-7
"""How far inside its surface a ray begins, as a share of the diagonal; where it is said to meet what comes next is
reckoned from the surface itself."""

TOUCH_SHARE = 5e-6
"""How far behind its start, or beside a face, a ray may meet it where faces meet, as a share of the diagonal."""

STEEP = 1e-9


@dataclass(frozen=True)
class Clear:
    """What a clear solid is made of, and the law of reflection at its surface.

    Attributes
    ----------
    index : of refraction, against air
    absorb_per_mm : natural absorption coefficient
    reflectance : share turned back; 1 beyond the critical angle
    """

    index: float
    absorb_per_mm: float
    reflectance: Reflectance


@dataclass(frozen=True, eq=False)
class Traced:
    """Where the power went: `incident` is the sum of `missed`, `turned_back`, `leaves`, `absorbed` and `left_over`.

    Attributes
    ----------
    incident : power of all rays
    missed : of rays that never meet the solid
    turned_back : at the surface, by rays that come from outside
    leaves : by face group, what goes out through it
    absorbed : inside
    left_over : still inside after the most bounces, or too faint to follow
    exits : what goes out through the watched group: points, refracted directions and power
    bounces : how often the surface was met from inside
    """

    incident: float
    missed: float
    turned_back: float
    leaves: Mapping[str, float]
    absorbed: float
    left_over: float
    exits: LightRays
    bounces: int

    @property
    def accounted(self) -> float:
        """The sum that is to equal `incident`."""
        return self.missed + self.turned_back + sum(self.leaves.values()) + self.absorbed + self.left_over


def trace_light(
    solid: Solid,
    clear: Clear,
    light: LightRays,
    faces: Mapping[str, NDArray[np.integer]],
    *,
    watch: str = "",
    most_bounces: int = 1000,
    least_share: float = 1e-9,
    tell: Progress = lambda *_: None,
) -> Traced:
    """Follow light into a clear solid in air until it has left, been absorbed, or grown too faint.

    Parameters
    ----------
    light : LightRays
        Each ray starts outside, or inside; the first surface it meets tells which.
    faces : by name, rows of the solid's triangles; the rest are `SIDES`
    watch : str
        The group whose leaving rays are kept in `exits`.
    most_bounces : int
        Meetings with the surface after which a ray is given up.
    least_share : float
        Share of its first power below which a ray is given up.
    tell : told the share of rays done

    Notes
    -----
    Nothing is drawn by lot: at each meeting the share 1 - R leaves for good and the share R goes on, so the sum of all
    shares is the incident power to rounding, and the only error of a mean is that of the rays handed in. Light that
    left is not followed back in, as between a pipe and dark walls. Unpolarised at every meeting. The ray kernel only
    names the triangle met; the distance comes from that triangle's plane and the point left, in double precision. What
    it cannot name at an edge or corner is found by hand over all triangles. Cost: rays times bounces, each O(log m).

    References
    ----------
    M. Born, E. Wolf, Principles of Optics, 7th ed. (1999), section 1.5: reflection and refraction of a plane wave.
    """
    tracer = _Tracer(solid, clear, faces, watch, most_bounces, least_share)
    for start in range(0, len(light.power), CHUNK):
        rows = slice(start, start + CHUNK)
        tracer.follow(light.origins[rows], light.directions[rows], light.power[rows])
        tell("tracing light", min(1.0, (start + CHUNK) / len(light.power)))
    return tracer.traced(light.total)


class _Tracer:
    def __init__(
        self,
        solid: Solid,
        clear: Clear,
        faces: Mapping[str, NDArray[np.integer]],
        watch: str,
        most_bounces: int,
        least_share: float,
    ) -> None:
        self.clear = clear
        self.most_bounces = most_bounces
        self.least_share = least_share
        self.scene = RayScene([solid])
        self.names = [*faces, SIDES]
        self.group = np.full(len(solid.triangles), len(faces), dtype=np.intp)
        for number, rows in enumerate(faces.values()):
            self.group[rows] = number
        self.watched = self.names.index(watch) if watch else -1
        self.leaves = np.zeros(len(self.names))
        self.missed = self.turned_back = self.absorbed = self.left_over = 0.0
        self.bounces = 0
        self.kept: list[tuple[Array, Array, Array]] = []
        self.corners = solid.corners

    def follow(self, points: Array, ways: Array, power: Array) -> None:
        """One chunk of rays, from their start to their end."""
        points, ways, power, last = self._enter(points, ways, power)
        floor = self.least_share * power
        for _ in range(self.most_bounces):
            bright = power > floor
            self.left_over += float(power[~bright].sum())
            points, ways, power, floor, last = points[bright], ways[bright], power[bright], floor[bright], last[bright]
            if len(power) == 0:
                return
            self.bounces += len(power)
            met, distance = self._meet(points, ways, last)
            found = met >= 0
            self.left_over += float(power[~found].sum())
            points, ways, power, floor = points[found], ways[found], power[found], floor[found]
            met, distance = met[found], distance[found]
            points, ways, power, last = self._bounce(points + distance[:, None] * ways, ways, power, met, distance)
        self.left_over += float(power.sum())

    def traced(self, incident: float) -> Traced:
        """What all chunks came to."""
        points, ways, power = (
            [np.concatenate(each) for each in zip(*self.kept, strict=True)]
            if self.kept
            else [np.empty((0, 3)), np.empty((0, 3)), np.empty(0)]
        )
        return Traced(
            incident=incident,
            missed=self.missed,
            turned_back=self.turned_back,
            leaves={name: float(value) for name, value in zip(self.names, self.leaves, strict=True)},
            absorbed=self.absorbed,
            left_over=self.left_over,
            exits=LightRays(points, ways, power),
            bounces=self.bounces,
        )

    def _enter(self, points: Array, ways: Array, power: Array) -> tuple[Array, Array, Array, Indices]:
        """Rays from outside refracted in at the first surface they meet; rays that start inside as they are."""
        hits = self.scene.cast(points, ways)
        found = hits.triangle >= 0
        self.missed += float(power[~found].sum())
        points, ways, power = points[found], ways[found], power[found]
        met, distance = hits.triangle[found], hits.distance_mm[found]
        slope = np.einsum("ij,ij->i", self.scene.normals[met], ways)
        outside = slope < 0.0
        turned = np.where(outside, self.clear.reflectance(1.0, self.clear.index, np.abs(slope)), 0.0)
        self.turned_back += float((power * turned).sum())
        bent = refracted(ways, self.scene.normals[met], 1.0 / self.clear.index)
        points = np.where(outside[:, None], points + distance[:, None] * ways, points)
        ways = np.where(outside[:, None], bent, ways)
        return points, ways, power * (1.0 - turned), np.where(outside, met, -1).astype(np.int32)

    def _meet(self, points: Array, ways: Array, last: Indices) -> tuple[Indices, Array]:
        """The face each ray leaves by next, -1 where there is none, and how far it is."""
        scene = self.scene
        inward = np.where((last >= 0)[:, None], -scene.normals[last], 0.0)
        met = scene.cast(points + NUDGE_SHARE * scene.diagonal_mm * inward, ways).triangle
        distance, slope = self._to_plane(points, ways, met)
        doubtful = (met < 0) | (slope <= STEEP) | (distance < -TOUCH_SHARE * scene.diagonal_mm)
        rows = np.flatnonzero(doubtful)
        for start in range(0, len(rows), BY_HAND):
            some = rows[start : start + BY_HAND]
            met[some], distance[some] = self._by_hand(points[some], ways[some], last[some])
        return met, np.maximum(distance, 0.0)

    def _to_plane(self, points: Array, ways: Array, triangle: Indices) -> tuple[Array, Array]:
        normal = self.scene.normals[triangle]
        slope = np.einsum("ij,ij->i", normal, ways)
        height = np.einsum("ij,ij->i", normal, self.corners[triangle, 0] - points)
        return np.divide(height, slope, out=np.full(len(slope), -np.inf), where=slope > STEEP), slope

    def _by_hand(self, points: Array, ways: Array, last: Indices) -> tuple[Indices, Array]:
        """Over all triangles that lead out, the nearest a ray meets within its edges, in double precision."""
        normal = self.scene.normals
        a, b, c = (self.corners[:, k] for k in range(3))
        reach = TOUCH_SHARE * self.scene.diagonal_mm
        slope = ways @ normal.T
        height = np.einsum("mj,mj->m", normal, a) - points @ normal.T
        distance = np.divide(height, slope, out=np.full(slope.shape, np.inf), where=slope > STEEP)
        at = points[:, None] + np.where(np.isfinite(distance), distance, 0.0)[..., None] * ways[:, None]
        within = np.isfinite(distance) & (distance > -reach)
        for first, second in ((a, b), (b, c), (c, a)):
            edge = second - first
            side = np.cross(normal, edge)
            within &= np.einsum("nmk,mk->nm", at - first, side) >= -reach * np.linalg.norm(edge, axis=1)
        within[np.arange(len(points)), last] &= last < 0
        distance = np.where(within, distance, np.inf)
        met = distance.argmin(axis=1)
        best = distance[np.arange(len(points)), met]
        return np.where(np.isfinite(best), met, -1).astype(np.int32), best

    def _bounce(
        self, points: Array, ways: Array, power: Array, met: Indices, distance: Array
    ) -> tuple[Array, Array, Array, Indices]:
        """What is absorbed on the way and what goes out is booked; the rest is turned back."""
        index = self.clear.index
        lost = -np.expm1(-self.clear.absorb_per_mm * distance) * power
        self.absorbed += float(lost.sum())
        power = power - lost
        normal = self.scene.normals[met]
        slope = np.einsum("ij,ij->i", normal, ways)
        kept = self.clear.reflectance(index, 1.0, np.minimum(slope, 1.0)) * power
        out = power - kept
        group = self.group[met]
        self.leaves += np.bincount(group, weights=out, minlength=len(self.names))
        seen = (group == self.watched) & (out > 0.0)
        if seen.any():
            self.kept.append((points[seen], refracted(ways[seen], normal[seen], index), out[seen]))
        turned = ways - 2.0 * slope[:, None] * normal
        turned /= np.linalg.norm(turned, axis=1)[:, None]
        return points, turned, kept, met


def refracted(ways: Array, normals: Array, ratio: float) -> Array:
    """Unit directions beyond a surface; along it where nothing goes through.

    Parameters
    ----------
    ways, normals : (n, 3)
        Unit directions of the rays, and of the surface to either side.
    ratio : float
        Index before over index beyond.

    References
    ----------
    M. Born, E. Wolf, Principles of Optics, 7th ed. (1999), section 1.5.1: the law of refraction.
    """
    cosine = np.einsum("ij,ij->i", ways, normals)
    along = ways - cosine[:, None] * normals
    square = 1.0 - ratio**2 * np.einsum("ij,ij->i", along, along)
    beyond = ratio * along + (np.sign(cosine) * np.sqrt(np.maximum(square, 0.0)))[:, None] * normals
    return np.asarray(beyond / np.linalg.norm(beyond, axis=1)[:, None])
