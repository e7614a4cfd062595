"""`LightWall`: the outer skin before a window, and the surface that lies a given depth under it everywhere."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import scipy.sparse
from numpy.typing import NDArray

from prep.errors import DoesNotFit
from prep.geometry.distance import Nearest
from prep.geometry.rays import RayScene
from prep.geometry.solid import Array, Solid

STEEPEST_DEG = 70.0
"""Farthest the skin's normal may turn from the cavity's axis within a window."""

PATCH_COSINE = 0.05
"""Triangles turned farther than 87 degrees from the axis belong to a side, not to the skin in front."""

RAISED_MM = 2.0
"""What stands higher than this over the skin is another thing before the window, not a mark on it."""

DEPTH_ERROR_MM = 1e-6
MOST_MARCHES = 400


@dataclass(frozen=True)
class Front:
    """A surface under the outer skin, over points of the plane square to the axis.

    Attributes
    ----------
    skin_mm, height_mm : (n,) along the axis from the window's middle, outward positive
        The outer skin, and the surface under it.
    slope : (n,) cosine between the skin's normal and the axis
    """

    skin_mm: Array
    height_mm: Array
    slope: Array


class LightWall:
    """The outer skin of a part about a window.

    Parameters
    ----------
    solid : Solid
    frame : (4, 4)
        From the window's own axes to the part's: origin on the skin, z the cavity's axis, outward.
    radius_mm : float
        How far from the axis the skin is looked at.

    Notes
    -----
    The skin is what hangs together with the triangle at the origin without turning away from the axis, and what else is
    met first from before the window within `RAISED_MM` (the floors of engraved marks). The inner skin never belongs to
    it. Cost: O(m) once.
    """

    def __init__(self, solid: Solid, frame: Array, radius_mm: float, scene: RayScene | None = None) -> None:
        self.frame = frame
        self.scene = scene or RayScene([solid])
        self._axis: Array = frame[:3, 2]
        self._solid = solid
        rows, part = self._pieces(radius_mm)
        spot = Nearest(solid.vertices, solid.triangles[rows]).query(frame[:3, 3][None])
        first = rows[part == part[spot.triangle[0]]]
        height = (solid.vertices[solid.triangles[first]] - frame[:3, 3]) @ self._axis
        limit = radius_mm * math.tan(math.radians(STEEPEST_DEG))
        self._top = float(min(height.max(), limit)) + RAISED_MM
        met = self.scene.cast(*self._rays(_disc(radius_mm))).triangle
        seen = np.isin(rows, met[met >= 0])
        chosen = rows[np.isin(part, np.unique(np.concatenate([part[seen], part[spot.triangle]])))]
        self.patch = Nearest(solid.vertices, solid.triangles[chosen])
        self._in_patch = np.zeros(len(solid.triangles), dtype=bool)
        self._in_patch[chosen] = True

    def covers(self, spots: Array) -> NDArray[np.bool_]:
        """Whether the skin lies over each of `spots`, (n, 2) mm."""
        hits = self.scene.cast(*self._rays(spots))
        return np.asarray((hits.triangle >= 0) & self._in_patch[hits.triangle])

    def under(self, spots: Array, depth_mm: float, *, steepest_deg: float = STEEPEST_DEG) -> Front:
        """The first surface met from outside, along the axis, that is `depth_mm` from the skin.

        Parameters
        ----------
        spots : (n, 2) mm
            In the frame's x and y.

        Raises
        ------
        DoesNotFit
            Over some of the spots there is no skin, or it is turned too far from the axis.

        Notes
        -----
        Exact to `DEPTH_ERROR_MM`: a step down the axis as long as the distance still wanting cannot pass the surface.
        """
        starts, ways = self._rays(spots)
        hits = self.scene.cast(starts, ways)
        met = (hits.triangle >= 0) & self._in_patch[hits.triangle]
        if not met.all():
            raise DoesNotFit(
                "the window or the walls round it run off the skin they are to lie in",
                found=f"no skin over {np.count_nonzero(~met) / len(met):.0%} of the area within "
                f"{float(np.linalg.norm(spots, axis=1).max()):.2f} mm of its middle",
                fix="move the window inward on that face, or make it smaller",
            )
        slope = self.scene.normals[hits.triangle] @ self._axis
        worst = math.degrees(math.acos(float(np.clip(slope.min(), -1.0, 1.0))))
        if worst > steepest_deg:
            raise DoesNotFit(
                "the skin over the window turns too far from the way the light goes",
                found=f"{worst:.1f} deg off the cavity's axis, limit {steepest_deg:g} deg",
                fix="move the window to a flatter stretch, make it smaller, or open from another side",
            )
        points = starts + hits.distance_mm[:, None] * ways
        short = np.full(len(points), np.inf)
        going = np.arange(len(points))
        for _ in range(MOST_MARCHES):
            short[going] = depth_mm - self.patch.query(points[going]).distance_mm
            going = going[np.abs(short[going]) > DEPTH_ERROR_MM]
            if len(going) == 0:
                break
            points[going] -= short[going, None] * self._axis
        height = (points - self.frame[:3, 3]) @ self._axis
        return Front(self._top - hits.distance_mm, np.asarray(height), np.asarray(slope))

    def thickness(self, spots: Array) -> Array:
        """What the part has of wall under the skin at each spot, along its normal, (n,) mm."""
        starts, ways = self._rays(spots)
        hits = self.scene.cast(starts, ways)
        inward = -self.scene.normals[hits.triangle]
        skin = starts + hits.distance_mm[:, None] * ways
        return np.asarray(self.scene.cast(skin + 1e-2 * inward, inward).distance_mm + 1e-2)

    def _rays(self, spots: Array) -> tuple[Array, Array]:
        local = np.column_stack([spots, np.full(len(spots), self._top)])
        starts = local @ self.frame[:3, :3].T + self.frame[:3, 3]
        return starts, np.broadcast_to(-self._axis, starts.shape).copy()

    def _pieces(self, radius_mm: float) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Triangles near the axis that face out, and which piece of hanging-together skin each belongs to."""
        solid = self._solid
        facing = np.flatnonzero(solid.triangle_normals @ self._axis > PATCH_COSINE)
        corners = solid.vertices[solid.triangles[facing]] - self.frame[:3, 3]
        middle = corners.mean(axis=1)
        reach = np.linalg.norm(corners - middle[:, None], axis=2).max(axis=1)
        beside = np.linalg.norm(middle - (middle @ self._axis)[:, None] * self._axis, axis=1)
        near = beside <= radius_mm + reach
        rows = facing[near]
        if len(rows) == 0:
            raise DoesNotFit(
                "no skin faces the way the light is to go",
                found="every face at the window's middle turns away from the cavity's axis",
                fix="put the window's middle on the outside, or open from the opposite side",
            )
        ends = np.sort(np.stack([solid.triangles[rows], np.roll(solid.triangles[rows], -1, axis=1)], axis=2), axis=2)
        key = (ends[..., 0].astype(np.int64) * len(solid.vertices) + ends[..., 1]).ravel()
        owner = np.repeat(np.arange(len(rows)), 3)
        order = np.argsort(key, kind="stable")
        twin = key[order][1:] == key[order][:-1]
        a, b = owner[order][:-1][twin], owner[order][1:][twin]
        graph = scipy.sparse.coo_matrix((np.ones(len(a), dtype=bool), (a, b)), shape=(len(rows), len(rows)))
        _, part = scipy.sparse.csgraph.connected_components(graph, directed=False)
        return rows, np.asarray(part, dtype=np.int64)


def _disc(radius_mm: float) -> Array:
    """Points over a disc, spread evenly (a sunflower's spiral), (n, 2)."""
    count = 400
    k = np.arange(count) + 0.5
    turn = k * math.pi * (3.0 - math.sqrt(5.0))
    return np.asarray(radius_mm * np.sqrt(k / count)[:, None] * np.stack([np.cos(turn), np.sin(turn)], axis=1))
