"""`wall_thickness`: how thick a solid is at every place, where it is thinnest, and what was surely seen."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from prep.geometry.creases import Creases, creases
from prep.geometry.distance import Nearest
from prep.geometry.double_normal import ShortestWays
from prep.geometry.footprint import Kind
from prep.geometry.inscribed_ball import inscribed_balls
from prep.geometry.rays import RayScene
from prep.geometry.sampling import Samples, sample_inward_corners, sample_inward_creases, sample_surface
from prep.geometry.solid import Array, Progress, Solid
from prep.geometry.thin_spots import EDGE_DEG, KNIFE_DEG, Readings, ThinSpot, find_spots, lowest_places
from prep.geometry.wedges import Wedges, sharp_wedges

KINDS: tuple[Kind | str, ...] = (
    "bulk", "wall", "skin", "web", "pin", "rib", "relief", "edge", "knife edge",
)  # fmt: skip
"""Words for the codes in `Thickness.kind`; "bulk" is material as thick as the limit or thicker."""

_OPPOSED_DEG = 60.0
_CREASE_DEG = 25.0
_CHUNK = 1 << 17
_MOST_SAMPLES = 1_000_000
_MOST_SEEDS = 200
_MOST_AT_ONCE = 20_000


@dataclass(frozen=True, eq=False)
class Thickness:
    """What was measured at every sample of a surface, and the thin spots found from it.

    Attributes
    ----------
    point, normal : (n, 3) float64
        Samples in mm and the outward directions they stand for.
    triangle : (n,) int32
    ray_mm : (n,) float64
        Along the inward normal to the first face met; infinite where that face is not opposed within 60 degrees.
    ball_mm : (n,) float64
        Diameter of the largest inscribed ball touching there; balls start at twice the limit, so that value means
        "at least".
    thickness_mm : (n,) float64
        The smaller of the ray and of the ball where it touches opposed faces; infinite where neither is opposed.
    kind : (n,) int8
        Row in `KINDS`.
    thin_spots : tuple of ThinSpot
        True local minima below the limit, thinnest first; sharp edges have thickness 0.
    thinnest : ThinSpot or None
        The thinnest wall anywhere, even above the limit; edges and relief do not count. None if nothing is opposed.
    limit_mm, spacing_mm : float
    resolution_mm : float
        Every thin spot wider than this was seen.
    """

    point: Array
    normal: Array
    triangle: NDArray[np.int32]
    ray_mm: Array
    ball_mm: Array
    thickness_mm: Array
    kind: NDArray[np.int8]
    thin_spots: tuple[ThinSpot, ...]
    thinnest: ThinSpot | None
    limit_mm: float
    spacing_mm: float
    resolution_mm: float


def wall_thickness(
    solid: Solid,
    *,
    spacing_mm: float | None = None,
    limit_mm: float,
    fine: bool = False,
    tell: Progress | None = None,
) -> Thickness:
    """Thickness at samples all over a solid, and the true thinnest place of every part of it below a limit.

    Parameters
    ----------
    spacing_mm : float, optional
        Between samples; by default half the limit, and no wider than a sixtieth of the diagonal nor so narrow that
        there are more than a million samples.
    limit_mm : float
        Walls below it are looked into.
    fine : bool
        Half the spacing, and four times the samples.

    Notes
    -----
    Two measures are taken at every sample: the inward ray, and the largest inscribed ball touching there. The ball
    sees a point-like obstacle beside the ray: one at depth t under a flat is inside the ball of a sample at a lateral
    distance a while a^2 < t (2 limit - t). Both count only between opposed faces, so the ball's low readings beside
    every outward edge are edges and not walls. Local minima are refined on the triangles themselves and are exact
    there; what is missing to the smooth shape is the mesh's own faceting.
    The answer is kept as long as the solid lives, so two checks that ask the same pay once.
    """
    known = _KNOWN.setdefault(solid, {})
    key = (spacing_mm, limit_mm, fine)
    if key not in known:
        known[key] = _measure(
            solid, spacing_mm or _default_spacing(solid, limit_mm), limit_mm, fine=fine, tell=tell or _silent
        )
    return known[key]


def _silent(phase: str, share: float) -> None:
    """Say nothing."""
    del phase, share


_KNOWN: WeakKeyDictionary[Solid, dict[tuple[float | None, float, bool], Thickness]] = WeakKeyDictionary()


def _default_spacing(solid: Solid, limit_mm: float) -> float:
    wanted = min(limit_mm / 2.0, solid.diagonal_mm / 60.0)
    return max(wanted, float(np.sqrt(solid.area_mm2 / _MOST_SAMPLES)))


def _measure(solid: Solid, spacing_mm: float, limit_mm: float, *, fine: bool, tell: Progress) -> Thickness:
    spacing = spacing_mm / 2.0 if fine else spacing_mm
    tell("thickness: samples", 0.0)
    found = creases(solid, _CREASE_DEG)
    samples = _samples(solid, found, spacing)
    scene, nearest = RayScene([solid]), Nearest.of(solid)
    taken = _take(solid, scene, nearest, samples, limit_mm, tell)
    wedges = sharp_wedges(solid, found, _OPPOSED_DEG, KNIFE_DEG, limit_mm / 20.0)
    edge = _edge_rows(taken, wedges, spacing, limit_mm)
    kind = np.zeros(len(samples.point), dtype=np.int8)
    kind[edge] = KINDS.index("edge")
    kind[edge & (taken.wedge_deg < KNIFE_DEG)] = KINDS.index("knife edge")
    tell("thickness: thin spots", 0.9)
    thin = np.flatnonzero((taken.value_mm < limit_mm) & ~edge)
    readings = taken.readings(samples, thin)
    ways = _Lazy(solid)
    spots: list[ThinSpot] = []
    if len(thin):
        seeds = lowest_places(readings, spacing)[:_MOST_SEEDS]
        spots = [
            s for s in find_spots(ways.get(), scene, readings, seeds, spacing, limit_mm) if s.thickness_mm < limit_mm
        ]
        _name_samples(kind, thin, readings, spots)
    walls = [s for s in spots if _is_wall(s)]
    thinnest = walls[0] if walls else _thinnest(ways, scene, taken, samples, wedges, spacing, limit_mm)
    spots += _sharp_spots(wedges, max(spacing, limit_mm / 2.0))
    tell("thickness: thin spots", 1.0)
    return Thickness(
        samples.point, samples.normal, samples.triangle, taken.ray_mm, taken.ball_mm, taken.value_mm, kind,
        tuple(sorted(spots, key=lambda s: (s.thickness_mm, *s.at_mm.tolist()))),
        thinnest, limit_mm, spacing, 2.0 * samples.reach_mm,
    )  # fmt: skip


def _samples(solid: Solid, found: Creases, spacing_mm: float) -> Samples:
    spread = sample_surface(solid, spacing_mm)
    every = (spread, sample_inward_creases(solid, found, spacing_mm), sample_inward_corners(solid))
    return Samples(
        np.concatenate([samples.point for samples in every]),
        np.concatenate([samples.normal for samples in every]),
        np.concatenate([samples.triangle for samples in every]),
        spread.reach_mm,
    )


@dataclass(frozen=True)
class _Taken:
    """Both measures at every sample, and the opposed point they agree on."""

    ray_mm: Array
    ball_mm: Array
    value_mm: Array
    wedge_deg: Array
    opposite: Array
    far_normal: Array
    point: Array
    normal: Array

    def readings(self, samples: Samples, rows: NDArray[np.intp]) -> Readings:
        return Readings(
            samples.point[rows], samples.normal[rows], self.opposite[rows], self.value_mm[rows], self.wedge_deg[rows]
        )

    def explained(self, rows: NDArray[np.intp], wedges: Wedges, spacing_mm: float) -> NDArray[np.bool_]:
        """Which readings are a sharp wedge running out."""
        return wedges.explains(
            self.point[rows], self.normal[rows], self.far_normal[rows], self.value_mm[rows], spacing_mm
        )


def _take(solid: Solid, scene: RayScene, nearest: Nearest, samples: Samples, limit_mm: float, tell: Progress) -> _Taken:
    count = len(samples.point)
    ray, ball, value = (np.empty(count) for _ in range(3))
    wedge = np.empty(count)
    opposite, far_normal = np.empty((count, 3)), np.empty((count, 3))
    normals = solid.triangle_normals
    lift = 4e-6 * solid.diagonal_mm
    for rows in _chunks(count):
        point, normal = samples.point[rows], samples.normal[rows]
        hits = scene.cast(point - lift * normal, -normal)
        distance = hits.distance_mm + lift
        lean = np.degrees(np.arccos(np.clip(-np.einsum("ij,ij->i", normal, normals[hits.triangle]), -1.0, 1.0)))
        faces = np.isfinite(distance) & (lean <= _OPPOSED_DEG)
        leaves = np.isfinite(distance) & (lean < 90.0)
        start = np.minimum(np.where(leaves, distance, np.inf), 2.0 * limit_mm)
        balls = inscribed_balls(nearest, normals, point, normal, start, _OPPOSED_DEG, 1.25 * limit_mm)
        ray[rows] = np.where(faces, distance, np.inf)
        ball[rows] = balls.diameter_mm
        closer = balls.opposed_mm < ray[rows]
        value[rows] = np.where(closer, balls.opposed_mm, ray[rows])
        wedge[rows] = np.where(closer, balls.wedge_deg, np.where(faces, lean, 180.0))
        reached = np.where(np.isfinite(ray[rows]), ray[rows], 0.0)[:, None]
        opposite[rows] = np.where(closer[:, None], balls.touch, point - reached * normal)
        far_normal[rows] = normals[np.where(closer, balls.triangle, hits.triangle)]
        tell("thickness: rays and balls", 0.05 + 0.85 * rows.stop / count)
    return _Taken(ray, ball, value, wedge, opposite, far_normal, samples.point, samples.normal)


def _chunks(count: int) -> Iterator[slice]:
    for low in range(0, count, _CHUNK):
        yield slice(low, min(low + _CHUNK, count))


def _edge_rows(taken: _Taken, wedges: Wedges, spacing_mm: float, limit_mm: float) -> NDArray[np.bool_]:
    """Samples whose thin reading is a sharp wedge running out, or that have nothing opposed and a small ball."""
    edge = ~np.isfinite(taken.value_mm) & (taken.ball_mm < limit_mm)
    thin = np.flatnonzero(taken.value_mm < limit_mm)
    edge[thin[taken.explained(thin, wedges, spacing_mm)]] = True
    return edge


def _is_wall(spot: ThinSpot) -> bool:
    return spot.kind not in ("edge", "knife edge", "relief")


class _Lazy:
    """Shortest ways, made ready only once something is to be refined."""

    def __init__(self, solid: Solid) -> None:
        self._solid = solid
        self._ways: ShortestWays | None = None

    def get(self) -> ShortestWays:
        """The ways of the solid."""
        if self._ways is None:
            self._ways = ShortestWays(self._solid)
        return self._ways


def _thinnest(
    ways: _Lazy,
    scene: RayScene,
    taken: _Taken,
    samples: Samples,
    wedges: Wedges,
    spacing_mm: float,
    limit_mm: float,
) -> ThinSpot | None:
    """The thinnest wall where none is below the limit: the lowest few squarely opposed places, refined."""
    rows = np.flatnonzero(np.isfinite(taken.value_mm) & (taken.wedge_deg <= EDGE_DEG))
    rows = rows[~taken.explained(rows, wedges, spacing_mm)]
    if len(rows) == 0:
        return None
    rows = rows[np.argsort(taken.value_mm[rows], kind="stable")]
    low = 0
    while low < len(rows):
        ceiling = 1.1 * taken.value_mm[rows[low]]
        high = min(int(np.searchsorted(taken.value_mm[rows], ceiling, side="right")), low + _MOST_AT_ONCE)
        readings = taken.readings(samples, rows[low:high])
        seeds = lowest_places(readings, spacing_mm)[:12]
        walls = [s for s in find_spots(ways.get(), scene, readings, seeds, spacing_mm, limit_mm) if _is_wall(s)]
        if walls:
            return walls[0]
        low = high
    return None


def _name_samples(kind: NDArray[np.int8], thin: NDArray[np.intp], readings: Readings, spots: list[ThinSpot]) -> None:
    """Give every thin sample the kind of the spot nearest to it."""
    if not spots:
        kind[thin] = KINDS.index("wall")
        return
    ends = np.array([end for spot in spots for end in (spot.at_mm, spot.opposite_mm)])
    codes = np.array([KINDS.index(spot.kind) for spot in spots for _ in range(2)], dtype=np.int8)
    kind[thin] = codes[cKDTree(ends).query(readings.point)[1]]


def _sharp_spots(wedges: Wedges, least_mm: float) -> list[ThinSpot]:
    """Sharp edges long enough to matter."""
    return [
        ThinSpot(
            w.at_mm, w.at_mm, 0.0, "knife edge" if w.angle_deg < KNIFE_DEG else "edge", w.angle_deg, (0.0, w.length_mm)
        )
        for w in wedges.chains
        if w.length_mm >= least_mm
    ]
