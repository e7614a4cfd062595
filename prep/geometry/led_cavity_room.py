"""`CavityRoom`: what a part has of material and air where an LED's cavity is to go, and the way in to it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from prep.errors import CannotInsert, CavityBreaksOut, DoesNotFit
from prep.geometry.air_grid import AirGrid
from prep.geometry.distance import Nearest
from prep.geometry.inside import Inside
from prep.geometry.led_cavity import HOLDER_STEEPEST_DEG, LedCavity
from prep.geometry.led_cavity_outline import Outline
from prep.geometry.rays import RayScene
from prep.geometry.solid import Array, Solid, refined

OVERSHOOT_MM = 0.5
"""How far a bore's cutter goes on past the hidden skin it opens on."""

MOUTH = 0.7
"""Faces turned within 45 degrees of the way out belong to the mouth of a cavity, not to the walls round it."""

LOOK_MM = 6.0
"""Walls thicker than this are not measured."""

WALL_STEP_MM = 0.8
MEASURED_MM = 0.02
"""Allowed between a wall as asked and as measured: facets on both sides."""

RISES = 0.25
"""How fast, at least, the wall beside a chamber grows from that of its window, in mm a mm."""

CLEAR_MM = 1.0
"""How far behind its seat a package is pulled before it may go sideways."""

OPEN_MM = 0.02
SLACK_MM = 0.05
"""How much smaller than its seat a package is taken to be while it is drawn out."""


@dataclass(frozen=True)
class Walls:
    """The thinnest wall round a cavity.

    Attributes
    ----------
    least_mm : between the cavity and any face but its window and mouth; infinite beyond `LOOK_MM`
    short_mm : how much is missing at worst of what is asked; negative where there is more
    at_mm : (3,) where
    """

    least_mm: float
    short_mm: float
    at_mm: Array


class CavityRoom:
    """A part ready to be asked about cavities."""

    def __init__(self, solid: Solid) -> None:
        self.solid = solid
        self.scene = RayScene([solid])
        self.nearest = Nearest.of(solid)
        self._inside = Inside(solid.vertices, solid.triangles)

    def within(self, points: Array) -> NDArray[np.bool_]:
        """Whether each of `points`, (n, 3) mm, lies in material."""
        return self._inside.test(points, self.nearest.query(points))

    def surrounds(self, cavity: LedCavity) -> bool:
        """Whether package and chamber have material all round, their wall thick, so that nothing need be grown."""
        angle = cavity.angles[:: max(1, len(cavity.angles) // 48)]
        outline = cavity.holder_outline
        rim = outline.reach(angle)[:, None] * np.stack([np.cos(angle), np.sin(angle)], axis=1)
        levels = np.linspace(cavity.back_mm, cavity.full_mm, max(4, math.ceil(cavity.full_mm - cavity.back_mm)))
        top = cavity.skin.under(rim, 0.5 * cavity.wall_mm, steepest_deg=HOLDER_STEEPEST_DEG).height_mm
        rings = [np.column_stack([share * rim, np.minimum(z, top)]) for z in levels for share in (0.5, 1.0)]
        return bool(self.within(cavity.to_part(np.concatenate(rings))).all())

    def refuse_uncovered(self, cavity: LedCavity) -> None:
        """Raise where the skin ends within the wall round the cavity.

        Raises
        ------
        CavityBreaksOut
        """
        rim = _rim(cavity.holder_outline)
        spots = np.concatenate([share * rim for share in np.linspace(0.05, 1.0, 40)])
        bare = spots[~cavity.skin.covers(spots)]
        if len(bare):
            ends = float(np.linalg.norm(bare, axis=1).min())
            needs = float(np.linalg.norm(rim[np.argmax(rim @ bare[0])]))
            off = max(math.ceil((needs - ends) * 10), 1) / 10
            raise CavityBreaksOut(
                "the part is too thin for the cavity: its side comes too near the window's middle",
                found=f"{ends:.1f} mm from the middle to the side, {needs:.1f} mm needed for the cavity and a wall of "
                f"{cavity.beside_mm:.2f} mm",
                fix=f"move the window {off:g} mm away from that side, or choose a smaller LED or window",
            )

    def exit_mm(self, cavity: LedCavity) -> tuple[float, float]:
        """Heights, nearest and farthest, at which a bore straight back out of the recess comes into the open."""
        spots = _filled(cavity.seat.behind)
        starts = cavity.to_part(np.column_stack([spots, np.full(len(spots), cavity.back_mm)]))
        ways = np.broadcast_to(-cavity.skin.frame[:3, 2], starts.shape).copy()
        gone = self.scene.cast(starts, ways).distance_mm
        return cavity.back_mm - float(gone.min()), cavity.back_mm - float(gone.max())

    def refuse_unless_hidden(self, cavity: LedCavity, holder: Solid, grid: AirGrid, toward: Array) -> None:
        """Raise where what is grown would stand in air that one sees, or out of the hidden side.

        Raises
        ------
        CavityBreaksOut, DoesNotFit
        """
        spots = _spots(refined(holder, WALL_STEP_MM))
        out = ~self.within(spots)
        out[out] = self.nearest.query(spots[out]).distance_mm > OPEN_MM
        low = float((spots[out] @ toward).max(initial=-np.inf)) - float((self.solid.vertices @ toward).max())
        if low > OPEN_MM:
            raise DoesNotFit(
                "the part is not deep enough for the LED behind its window: it would stand out of the hidden side",
                found=f"{low:.2f} mm too far, with a stand-off of {cavity.standoff_mm:.2f} mm and "
                f"{cavity.seat.length_mm:.2f} mm of LED",
                fix="give a shorter `standoff:`, a shorter LED, or a place with more depth behind it",
            )
        seen = np.flatnonzero(out)[grid.is_outer(spots[out])]
        if len(seen):
            far = self.nearest.query(spots[seen]).distance_mm
            at = spots[seen[int(np.argmax(far))]]
            raise CavityBreaksOut(
                "the part is too thin for the cavity: the wall round it would stand in the open",
                found=f"{float(far.max()):.2f} mm outside, at ({at[0]:.1f}, {at[1]:.1f}, {at[2]:.1f}) mm; a wall of "
                f"{cavity.beside_mm:.2f} mm is kept round a cavity {2 * cavity.seat.behind.farthest_mm:.2f} mm wide",
                fix="move the window away from that side, or choose a smaller LED or window",
            )

    def refuse_unless_free(self, cavity: LedCavity, finished: Solid, back_mm: float, toward: Array) -> None:
        """Raise where the LED cannot be drawn out of its seat straight back and then toward the hidden side.

        Raises
        ------
        CannotInsert
        """
        scene = RayScene([finished])
        axis = cavity.skin.frame[:3, 2]
        behind = _keyed_off(_filled(cavity.seat.recess.grown(-SLACK_MM)), cavity.seat.flat_mm)
        starts = cavity.to_part(np.column_stack([behind, np.full(len(behind), cavity.back_mm + SLACK_MM)]))
        straight = float(toward @ -axis) > 1.0 - 1e-9
        drawn = cavity.tip_mm - back_mm + CLEAR_MM
        reach = scene.cast(starts, np.broadcast_to(-axis, starts.shape).copy()).distance_mm
        needs = math.inf if straight else drawn + cavity.seat.length_mm
        if reach.min() < needs:
            raise _blocked(starts, -axis, reach, "straight back out of its seat", "" if straight else f"{needs:.1f}")
        if straight:
            return
        seat, tip = cavity.seat, cavity.tip_mm - drawn
        rings = [(seat.recess, np.linspace(tip - seat.length_mm, tip - seat.ledge_mm, 4))]
        rings.append((seat.body, np.linspace(tip - seat.ledge_mm, tip, 6)))
        spots = [
            np.column_stack([ring, np.full(len(ring), z)])
            for one, zs in rings
            for z in zs
            for ring in (_rim(one.grown(-SLACK_MM)),)
        ]
        starts = cavity.to_part(np.concatenate(spots))
        reach = scene.cast(starts, np.broadcast_to(toward, starts.shape).copy()).distance_mm
        if np.isfinite(reach).any():
            raise _blocked(starts, toward, reach, "from behind its seat to the open side", "")

    def walls(self, cavity: LedCavity, cutter: Solid, before: Solid, after: Solid) -> Walls:
        """Walls between the cavity and every face but its window, its mouth and itself.

        Parameters
        ----------
        before, after : the part with what was grown, before and after the cut

        Notes
        -----
        Exact distances to triangles, from points of the cavity's surface some `WALL_STEP_MM` apart; between points the
        least may be missed by their spacing squared over eight radii. Near the window the wall asked for rises from
        the light wall's own.
        """
        axis, wall = cavity.skin.frame[:3, 2], cavity.beside_mm
        own = Nearest.of(cutter)
        low, high = cutter.bounds_mm[0] - LOOK_MM, cutter.bounds_mm[1] + LOOK_MM
        corners = after.corners
        near = ((corners.max(axis=1) >= low) & (corners.min(axis=1) <= high)).all(axis=1)
        near &= after.triangle_normals @ -axis < MOUTH
        rows = np.flatnonzero(near)
        probes = np.concatenate([corners[rows], corners[rows].mean(axis=1, keepdims=True)], axis=1)
        away = own.query(probes.reshape(-1, 3)).distance_mm.reshape(len(rows), 4).max(axis=1)
        others = rows[away > 1e-4]
        spots = _spots(refined(cutter, WALL_STEP_MM))
        spots = spots[CavityRoom(before).within(spots)]
        if len(others) == 0 or len(spots) == 0:
            return Walls(math.inf, -math.inf, cavity.at_mm)
        found = Nearest(after.vertices, after.triangles[others]).query(spots).distance_mm
        below = np.maximum(cavity.full_mm - (spots - cavity.skin.frame[:3, 3]) @ axis, 0.0)
        window = 0.0 if cavity.opening is not None else cavity.wall_mm
        short = np.minimum(wall, window + RISES * below) - found
        worst, sides = int(np.argmax(short)), below > wall / RISES
        least = float(found[sides].min(initial=np.inf))
        return Walls(least if least < LOOK_MM else math.inf, float(short[worst]), spots[worst])


def refuse_thin(walls: Walls, cavity: LedCavity) -> None:
    """Raise where a wall round the cavity is thinner than asked.

    Raises
    ------
    CavityBreaksOut
    """
    if walls.short_mm > MEASURED_MM:
        x, y, z = walls.at_mm
        off = math.ceil(walls.short_mm * 10) / 10
        raise CavityBreaksOut(
            "the wall beside the LED's cavity is too thin",
            found=f"{walls.short_mm:.2f} mm short of {cavity.beside_mm:.2f} mm, at ({x:.1f}, {y:.1f}, {z:.1f}) mm",
            fix=f"move the window {off:g} mm away from that side, or choose a smaller LED",
        )


def _blocked(starts: Array, way: Array, reach: Array, says: str, needs: str) -> CannotInsert:
    first = int(np.argmin(reach))
    at = starts[first] + reach[first] * way
    wanted = f", {needs} mm needed" if needs else ""
    return CannotInsert(
        f"the LED cannot go in: the part stands in its way {says}",
        found=f"free for {reach[first]:.1f} mm{wanted}; blocked at ({at[0]:.1f}, {at[1]:.1f}, {at[2]:.1f}) mm",
        fix="open from another side (`open:`), move the window, or shorten the stand-off",
    )


def _rim(outline: Outline) -> Array:
    angle = np.arange(48) * 2.0 * math.pi / 48
    return np.asarray(outline.reach(angle)[:, None] * np.stack([np.cos(angle), np.sin(angle)], axis=1))


def _keyed_off(spots: Array, flat_mm: float) -> Array:
    """Points (n, 2) drawn in behind the flat that keys a flange."""
    return np.column_stack([np.minimum(spots[:, 0], flat_mm - SLACK_MM), spots[:, 1]]) if flat_mm > 0.0 else spots


def _filled(outline: Outline) -> Array:
    """Points over an outline, (n, 2): its middle and five rings."""
    rim = _rim(outline)
    return np.concatenate([np.zeros((1, 2)), *(share * rim for share in (0.2, 0.4, 0.6, 0.8, 1.0))])


def _spots(solid: Solid) -> Array:
    """Corners and middles of every triangle."""
    return np.concatenate([solid.vertices, solid.corners.mean(axis=1)])
