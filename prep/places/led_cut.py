"""`cut_leds`: a part with the cavities of its LEDs cut, and grown round where the skin is thin; what that was to do."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial.transform import Rotation

from prep.errors import CannotInsert, CavityBreaksOut, DoesNotFit, PrepError
from prep.geometry.air_grid import AirGrid, air_grid
from prep.geometry.columns import Shared, shared_by_columns
from prep.geometry.led_cavity import LedCavity
from prep.geometry.led_cavity_outline import Outline
from prep.geometry.led_cavity_room import OVERSHOOT_MM, CavityRoom, Walls, refuse_thin
from prep.geometry.light_wall import STEEPEST_DEG, LightWall
from prep.geometry.rays import RayScene
from prep.geometry.solid import Array, Solid, intersect, shared_volume, subtract, unite
from prep.places.led_seat import STEP_MM, LedFit
from prep.places.place import Place

STRAIGHT_DEG = 30.0
"""A window that looks within this of the way in from behind is lit straight along it; else square to the skin."""

GRID_CELLS = 3_000_000
"""Most cells that tell hidden air from seen air; a skin thinner than two of them may be taken for open."""
TOUCHING_MM3 = 1e-3
COLUMNS = 160
ASKEW_RAD = 0.4


@dataclass(frozen=True)
class LedAim:
    """What is asked of every LED of a step.

    Attributes
    ----------
    wall_mm : light wall, or thickness of the insert
    standoff_mm : from the chamber's front to the LED's tip; None for `even_mm`, or what a slanting skin asks with its
        chamber opening by 45 degrees at most
    even_mm : stand-off that lights the window evenly
    window : outline of the window
    turn_deg : of the window's first axis, from level
    beside_mm : wall round the cavity
    toward : (3,) unit, to the hidden side
    insert : whether a clear piece fills the window
    """

    fit: LedFit
    wall_mm: float
    standoff_mm: float | None
    even_mm: float
    window: Outline
    turn_deg: float
    beside_mm: float
    toward: Array
    up: Array
    insert: bool


@dataclass(frozen=True)
class CutLed:
    """One LED's cavity.

    Attributes
    ----------
    back_mm : height in the cavity's axes at which its cutter ends
    mouth_mm : height at which it opens
    grown : what stands round it in the part's hidden air; None where the part itself is thick enough
    """

    cavity: LedCavity
    cutter: Solid
    back_mm: float
    mouth_mm: float
    grown: Solid | None

    @property
    def axis(self) -> Array:
        """The way the light goes, (3,)."""
        return np.asarray(self.cavity.skin.frame[:3, 2])

    @property
    def mouth(self) -> Array:
        """Middle of where the cavity opens, (3,)."""
        return np.asarray(self.cavity.to_part(np.array([[0.0, 0.0, self.mouth_mm]]))[0])


@dataclass(frozen=True)
class CutLeds:
    """A part with the cavities of its LEDs.

    Attributes
    ----------
    volume_mm3, error_mm3 : change of the part's volume, found by columns of rays
    """

    solid: Solid
    leds: tuple[CutLed, ...]
    walls: tuple[Walls, ...]
    volume_mm3: float
    error_mm3: float


def cut_leds(solid: Solid, places: Sequence[Place], aim: LedAim, others: dict[str, Solid]) -> CutLeds:
    """Cut a cavity at every place.

    Raises
    ------
    DoesNotFit, CannotInsert, CavityBreaksOut
    """
    site = _Site(solid, aim, others)
    leds = tuple(site.best(place) for place in places)
    grown = [led.grown for led in leds if led.grown is not None]
    _refuse_meeting(leds)
    thick = unite([solid, *grown]) if grown else solid
    finished = subtract(thick, [led.cutter for led in leds])
    walls = []
    for led in leds:
        site.room.refuse_unless_free(led.cavity, finished, led.mouth_mm, aim.toward)
        found = site.room.walls(led.cavity, led.cutter, thick, finished)
        refuse_thin(found, led.cavity)
        walls.append(found)
    volume, error = _predicted(site.room, leds)
    return CutLeds(finished, leds, tuple(walls), volume, error)


class _Site:
    """The part, asked for one place after another."""

    def __init__(self, solid: Solid, aim: LedAim, others: dict[str, Solid]) -> None:
        self.room = CavityRoom(solid)
        self.aim = aim
        self.others = others
        self._grid: AirGrid | None = None

    @property
    def grid(self) -> AirGrid:
        """Cells of the air about the part, told apart as seen and hidden."""
        if self._grid is None:
            side = max(0.5, float(np.cbrt(np.prod(self.room.solid.extents_mm + 6.0) / GRID_CELLS)))
            self._grid = air_grid(self.room.solid, (), side, self.aim.toward)
        return self._grid

    def best(self, place: Place) -> CutLed:
        """The cavity at a place along the first axis that can be had."""
        out, straight = -np.array(place.inward), -self.aim.toward
        lean = math.degrees(math.acos(float(np.clip(out @ straight, -1.0, 1.0))))
        axes = [straight, out] if lean <= STRAIGHT_DEG else [out, straight] if lean <= STEEPEST_DEG else [out]
        faults: list[PrepError] = []
        for axis in axes:
            try:
                return self._along(place, axis)
            except (DoesNotFit, CannotInsert, CavityBreaksOut) as fault:
                faults.append(fault)
        raise faults[-1] if isinstance(faults[0], CannotInsert) else faults[0]

    def _along(self, place: Place, axis: Array) -> CutLed:
        cavity = self._cavity(place, axis)
        room, toward = self.room, self.aim.toward
        room.refuse_uncovered(cavity)
        if room.surrounds(cavity):
            if float(toward @ -axis) < 1.0 - 1e-9:
                lean = math.degrees(math.acos(float(np.clip(toward @ -axis, -1.0, 1.0))))
                raise CannotInsert(
                    "the LED cannot go in: there is solid material behind it, and no hidden side straight behind",
                    found=f"its axis leans {lean:.0f} deg from the open side, where alone a bore may come out",
                    fix="open from the side opposite the window, or put the window where the part is hollow",
                )
            nearest, farthest = room.exit_mm(cavity)
            back = farthest - OVERSHOOT_MM
            return CutLed(cavity, cavity.cutter(back), back, nearest, None)
        outline = cavity.holder_outline.ring(cavity.angles)
        thin = float(cavity.skin.thickness(np.concatenate([outline, outline / 2.0, np.zeros((1, 2))])).min())
        holder = cavity.holder(0.5 * min(cavity.wall_mm, thin))
        room.refuse_unless_hidden(cavity, holder, self.grid, toward)
        for name, other in self.others.items():
            volume = shared_volume(holder, other)
            if volume > TOUCHING_MM3:
                raise DoesNotFit(
                    f"what holds the LED runs into {name}",
                    found=f"they share {volume:.2f} mm3",
                    fix="give a shorter `standoff:`, a shorter LED, or another place",
                )
        back = cavity.back_mm - OVERSHOOT_MM
        return CutLed(cavity, cavity.cutter(back), back, cavity.back_mm, holder)

    def _cavity(self, place: Place, axis: Array) -> LedCavity:
        aim = self.aim
        frame = window_frame(np.array(place.at_mm), axis, aim.up, aim.turn_deg)
        reach = aim.window.around(aim.fit.seat.behind).farthest_mm + 3.0 * aim.beside_mm + 2.0 * aim.wall_mm + STEP_MM
        skin = LightWall(self.room.solid, frame, reach, self.room.scene)
        window = aim.window.grown(-STEP_MM) if aim.insert else aim.window
        opening = aim.window if aim.insert else None
        standoff = aim.standoff_mm or aim.even_mm
        cavity = LedCavity(skin, window, aim.wall_mm, standoff, aim.fit.seat, aim.beside_mm, opening)
        least = cavity.least_standoff_mm + cavity.widens_mm
        if aim.standoff_mm is None and least > standoff:
            return replace(cavity, standoff_mm=least)
        return cavity


def window_frame(at: Array, axis: Array, up: Array, turn_deg: float) -> Array:
    """Axes of a window, (4, 4): origin on the skin, z along the axis, x level where it can be, then turned."""
    level = np.cross(up, axis)
    if np.linalg.norm(level) < 1e-6:
        level = np.eye(3)[int(np.argmin(np.abs(axis)))]
        level = level - axis * (level @ axis)
    level = level / np.linalg.norm(level)
    turn = math.radians(turn_deg)
    across = math.cos(turn) * level + math.sin(turn) * np.cross(axis, level)
    frame = np.eye(4)
    frame[:3, 0], frame[:3, 1], frame[:3, 2], frame[:3, 3] = across, np.cross(axis, across), axis, at
    return frame


def _predicted(room: CavityRoom, leds: Sequence[CutLed]) -> tuple[float, float]:
    """Change of volume and its error: what is grown outside the part, less the cutters within part and grown.

    Notes
    -----
    The part itself is only met by columns of rays; the kernel only parts the cutters from the grown solids. Where a
    cutter has straight sides all is turned about its axis first, so that no row of columns runs along a side.
    """
    volume = error = 0.0
    for led in leds:
        taken = _shared(room, led, led.cutter)
        volume -= taken.volume_mm3
        error += taken.error_mm3
        if led.grown is not None:
            there = _shared(room, led, led.grown)
            inside = intersect([led.cutter, led.grown])
            both = _shared(room, led, inside)
            volume += led.grown.volume_mm3 - there.volume_mm3 - (inside.volume_mm3 - both.volume_mm3)
            error += there.error_mm3 + both.error_mm3
    return volume, error


def _refuse_meeting(leds: Sequence[CutLed]) -> None:
    """Raise where what is grown for two LEDs runs together: between tubes that touch only in part air is caught."""
    for first, second in itertools.combinations(leds, 2):
        if first.grown is None or second.grown is None or shared_volume(first.grown, second.grown) <= TOUCHING_MM3:
            continue
        apart = float(np.linalg.norm(first.cavity.at_mm - second.cavity.at_mm))
        needs = first.cavity.holder_outline.farthest_mm + second.cavity.holder_outline.farthest_mm
        raise DoesNotFit(
            "the tubes that hold two LEDs behind the skin run into one another",
            found=f"the LEDs are {apart:.1f} mm apart, {needs:.1f} mm needed",
            fix=f"space the windows {math.ceil(needs * 10) / 10:g} mm or more, or choose smaller LEDs",
        )


def _shared(room: CavityRoom, led: CutLed, piece: Solid) -> Shared:
    """Volume a piece shares with the part."""
    if led.cavity.window.is_round and led.cavity.seat.slot is None:
        return shared_by_columns(room.scene, piece, led.axis, COLUMNS)
    turn = np.eye(4)
    turn[:3, :3] = Rotation.from_rotvec(ASKEW_RAD * led.axis).as_matrix()
    return shared_by_columns(RayScene([room.solid.moved(turn)]), piece.moved(turn), led.axis, COLUMNS)
