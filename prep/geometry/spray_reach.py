"""`spray_reach`: from which directions paint reaches every point of a window, past whatever stands before it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from prep.geometry.cut_skin import Bools
from prep.geometry.open_sky import OFF, spread_points
from prep.geometry.patch import Patch
from prep.geometry.rays import RayScene
from prep.geometry.solid import Array, Solid

MOST_ANGLE_DEG = 60.0
"""Greatest angle between the spray and the skin's normal at which paint still builds; common practice, no source."""


@dataclass(frozen=True, eq=False)
class Spot:
    """Points of a window near one another that are not painted.

    Attributes
    ----------
    at_mm : (3,), the point nearest to their middle
    area_mm2 : of the skin they stand for
    """

    at_mm: Array
    area_mm2: float


@dataclass(frozen=True, eq=False)
class Reach:
    """Which points of a window are reached from which directions.

    Attributes
    ----------
    points, normals : (n, 3), mm and unit outward
    areas : (n,) mm2 of skin each point stands for
    directions : (d, 3) unit, from the part toward the gun
    packed : (d, ceil(n / 8)) uint8, the points seen from each direction, eight to a byte
    spacing_mm : distance of neighbouring points
    """

    points: Array
    normals: Array
    areas: Array
    directions: Array
    packed: NDArray[np.uint8]
    spacing_mm: float

    @property
    def seen(self) -> Bools:
        """Whether each point is seen from each direction, (n, d); made anew at each call."""
        return np.unpackbits(self.packed, axis=1, count=len(self.points)).astype(bool).T

    @cached_property
    def reached(self) -> Bools:
        """Points that at least one direction reaches, (n,)."""
        anywhere = np.bitwise_or.reduce(self.packed, axis=0)
        return np.unpackbits(anywhere, count=len(self.points)).astype(bool)

    @property
    def unreachable_mm2(self) -> float:
        """Area that no direction reaches."""
        return float(self.areas[~self.reached].sum())

    @property
    def straightness(self) -> Array:
        """Paint that each direction would put on what it sees, (d,) mm2: area times the cosine to the normal."""
        cosines = (self.normals * self.areas[:, None]) @ self.directions.T
        return np.asarray((cosines * self.seen).sum(axis=0))

    def unreachable(self) -> tuple[Spot, ...]:
        """Where no direction reaches."""
        return self.spots(~self.reached)

    def spots(self, chosen: Bools) -> tuple[Spot, ...]:
        """Chosen points, those within two spacings of one another taken together, largest first."""
        rows = np.flatnonzero(chosen)
        if len(rows) == 0:
            return ()
        pairs = cKDTree(self.points[rows]).query_pairs(2.0 * self.spacing_mm, output_type="ndarray")
        ones = np.ones(len(pairs), dtype=bool)
        graph = coo_matrix((ones, (pairs[:, 0], pairs[:, 1])), shape=(len(rows), len(rows)))
        count, label = connected_components(graph, directed=False)
        spots = []
        for number in range(count):
            own = rows[label == number]
            middle = self.points[own].mean(axis=0)
            nearest = own[np.argmin(np.linalg.norm(self.points[own] - middle, axis=1))]
            spots.append(Spot(self.points[nearest], float(self.areas[own].sum())))
        return tuple(sorted(spots, key=lambda spot: -spot.area_mm2))


def spray_reach(
    patch: Patch,
    obstacles: Sequence[Solid],
    *,
    directions: Array,
    spacing_mm: float,
    most_angle_deg: float = MOST_ANGLE_DEG,
) -> Reach:
    """Look from every direction at points spread over a region, past the part itself and its mask.

    Parameters
    ----------
    obstacles : everything that may stand in the way: the part and the seated mask
    directions : (d, 3) unit, from the part toward the gun
    spacing_mm : a point stands for about its square
    most_angle_deg : a point is reached only where the direction leans less than this from its normal

    Notes
    -----
    Rays are parallel. A gun at 250 to 380 mm spreads its paint over a cone, but it is swept across the window, so every
    point has it straight before it once in a pass; what a swept gun reaches beside its axis is not counted. Points are
    spread evenly by area, so a spot much smaller than the square of the spacing may lie between them: take a spacing
    below the height of the lip. Rays start `OFF` of the scene's diagonal off the skin. Cost: one ray for each
    point and direction that face one another.
    """
    count = max(1, int(np.ceil(patch.area_mm2 / spacing_mm**2)))
    points, normals = spread_points(patch.corners, count)
    scene = RayScene(obstacles)
    start = points + OFF * scene.diagonal_mm * normals
    least = np.cos(np.radians(most_angle_deg))
    packed = np.empty((len(directions), (count + 7) // 8), dtype=np.uint8)
    for number, direction in enumerate(directions):
        faces = np.flatnonzero(normals @ direction >= least)
        clear = np.zeros(count, dtype=bool)
        clear[faces] = ~scene.blocked(start[faces], np.broadcast_to(direction, (len(faces), 3)))
        packed[number] = np.packbits(clear)
    areas = np.full(count, patch.area_mm2 / count)
    return Reach(points, normals, areas, np.asarray(directions, dtype=np.float64), packed, spacing_mm)
