"""`seated_firmly`: a mask with pads that keep its window in place, or a fault that says what is free."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from prep.errors import FreeToTurn
from prep.geometry.distance import Nearest
from prep.geometry.lathe import lathe
from prep.geometry.mask_fittings import square_frame
from prep.geometry.mask_shell import pieces_of
from prep.geometry.mitre import mitred
from prep.geometry.open_sky import spread_points
from prep.geometry.patch import Patch
from prep.geometry.pull_path import PullSamples
from prep.geometry.rays import RayScene
from prep.geometry.registration import Seat, edge_ways, seat_of, smooth_normals_at, told
from prep.geometry.solid import Array, Solid, subtract, unite

Bools = NDArray[np.bool_]

PAD_RADIUS_MM = 1.6
PAD_MOST_MM = 2.5
"""Room under the mask that a pad may bridge."""
PAD_ROOT = 0.5
"""How far a pad is rooted in the plastic over it."""
PADS = 8
HOLDS = 0.25
"""Least share of a motion that a pad must stop."""
INSIDE_MM = 0.5
SAMPLES = 3000
DEGREES = 1.0
"""Turn at which the shift of the edge is told."""


@dataclass(frozen=True, eq=False)
class SeatedMask:
    """A mask that sits where it should.

    Attributes
    ----------
    solid : with its pads
    pads : how many
    notes : what is left free, if the window's edge stays where it is or it is laid by eye
    """

    solid: Solid
    pads: int
    notes: tuple[str, ...]


def seated_firmly(
    part: Solid, mask: Solid, patch: Patch, samples: PullSamples, *, land_mm: float, gap_mm: float, by_eye: bool
) -> SeatedMask:
    """The mask with as many pads as hold its window where it belongs.

    Parameters
    ----------
    by_eye : whether a mask that stays free is told of, and not refused

    Raises
    ------
    FreeToTurn
        A motion that contacts and pads leave free moves the window's edge, and the mask is no island.

    Notes
    -----
    Contacts are the samples within the gap; motions they leave free are found (`seat_of`), and of those the ones that
    move the window's edge (`that_move`). Against each, pads are set under the mask where the skin stops it best, both
    ways where there is skin for both, and only where the mask can still come off.
    """
    spots = _Spots.of(part, mask, patch, samples, land_mm)
    edge, across = edge_ways(patch)
    near = Nearest.of(mask).query(edge).distance_mm <= 3.0 * land_mm
    edge, across = edge[near], across[near]
    points, normals = spots.contacts
    seat = seat_of(points, normals)
    motions = seat.that_move(edge, across)[0]
    chosen: list[int] = []
    while len(motions) and len(chosen) < PADS:
        found = next((found for found in (spots.against(seat, one, chosen) for one in motions) if found), [])
        if not found:
            break
        chosen += found
        # a pad is one contact among many samples: it counts as the land does where it stands alone
        weight = max(1, len(points) // 8)
        more = np.repeat(np.array(chosen), weight)
        seat = seat_of(np.concatenate([points, spots.skin[more]]), np.concatenate([normals, spots.normals[more]]))
        motions = seat.that_move(edge, across)[0]
    island = _is_island(mask, patch)
    if len(motions) and not (by_eye or island):
        raise FreeToTurn(
            "the mask can move on the part without lifting, and takes its window along",
            found=_told_shift(seat, motions[0], edge, across),
            fix="give a larger `reach:` so that the mask folds over an edge of the part, or say `by_eye: true` and lay "
            "it to a mark",
        )
    notes = []
    if len(motions):
        lay = "an island that holds to nothing: a loose plug; lay it by its tab" if island else "lay the mask"
        notes = [f"{lay}, by eye or to a mark: {_told_shift(seat, motions[0], edge, across)}"]
    solid = spots.padded(chosen, gap_mm) if chosen else mask
    return SeatedMask(solid, len(chosen), tuple(notes))


def _is_island(mask: Solid, patch: Patch) -> bool:
    """Whether a mask sits on clean skin that is not the largest piece of it."""
    points = mask.vertices[:: max(1, len(mask.vertices) // 500)]
    nearest = Nearest(patch.vertices, patch.triangles).query(points).triangle
    on = nearest[~patch.inside[nearest]]
    return len(patch.rests) > 1 and bool(len(on)) and float(np.isin(on, patch.rests[0]).mean()) < 0.5


def _told_shift(seat: Seat, motion: Array, edge: Array, across: Array) -> str:
    speed = np.abs(seat.rows(edge, across) @ motion)
    turn = float(np.linalg.norm(motion[3:])) / seat.arm_mm
    says = told(seat, motion)
    if says.startswith("turns"):
        return f"it {says}; {DEGREES:g} deg of that moves the edge by {speed.max() / turn * np.radians(DEGREES):.2g} mm"
    return f"it {says}, and the edge with it, by up to {speed.max() / np.linalg.norm(motion[:3]):.2g} mm a mm"


@dataclass(frozen=True, eq=False)
class _Spots:
    """Places under the mask where it touches or a pad could."""

    part: Solid
    mask: Solid
    skin: Array
    normals: Array
    room_mm: Array
    thick_mm: Array
    touching: Bools
    fit: Bools

    @staticmethod
    def of(part: Solid, mask: Solid, patch: Patch, samples: PullSamples, land_mm: float) -> _Spots:
        points, outward = spread_points(mask.corners, SAMPLES)
        found = Nearest.of(part).query(points)
        normals = smooth_normals_at(part, found.triangle, found.point)
        under = (outward * normals).sum(axis=1) < -0.7
        inner = RayScene([mask]).cast(points - 1e-3 * outward, -outward).distance_mm
        clean = ~patch.contains(found.point) & (np.abs(patch.edge_distance(found.point)) > land_mm)
        free = samples.free(np.ones(len(samples.points), dtype=bool))
        way = samples.ways[samples.best(np.ones(len(samples.points), dtype=bool), free)] if free.any() else None
        fit = under & clean & (found.distance_mm <= PAD_MOST_MM) & np.isfinite(inner)
        if way is not None:
            fit &= normals @ way >= -1e-6
        touching = samples.touching[: samples.spread] if samples.spread == SAMPLES else np.zeros(SAMPLES, dtype=bool)
        return _Spots(part, mask, found.point, normals, found.distance_mm, inner, touching & under, fit)

    @property
    def contacts(self) -> tuple[Array, Array]:
        """Where the mask touches, and the skin's normals there."""
        return self.skin[self.touching], self.normals[self.touching]

    def against(self, seat: Seat, motion: Array, taken: list[int]) -> list[int]:
        """Up to two places that stop a motion, one each way; none where no skin under the mask stops it."""
        speed = seat.rows(self.skin, self.normals) @ motion
        reach = np.linalg.norm(self.skin - self.skin[taken][:, None], axis=2).min(axis=0) if taken else np.inf
        speed = np.where(self.fit & (reach > 2.0 * PAD_RADIUS_MM), speed, 0.0)
        found = [int(np.argmax(speed)), int(np.argmin(speed))]
        return [row for row in found if abs(speed[row]) >= HOLDS]

    def padded(self, rows: list[int], gap_mm: float) -> Solid:
        """The mask with a round pad from its underside down to the gap at each place."""
        pads = []
        for row in rows:
            frame = square_frame(self.skin[row], self.normals[row], np.eye(3)[0])
            top = self.room_mm[row] + PAD_ROOT * self.thick_mm[row]
            pads.append(lathe(np.array([[PAD_RADIUS_MM, -INSIDE_MM], [PAD_RADIUS_MM, top]]), frame))
        cut = subtract(unite(pads), [mitred(self.part, gap_mm), self.part])
        return pieces_of(unite([self.mask, cut]))[0]
