"""`LedCavity`: the room an LED sits in, the chamber before it, and what is grown round it behind a thin skin."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from prep.errors import DoesNotFit
from prep.geometry.lathe import prism
from prep.geometry.led_cavity_outline import Outline
from prep.geometry.light_wall import LightWall
from prep.geometry.solid import Array, Solid, unite

SPACING_MM = 0.25
"""Between the points of a chamber's front: at this spacing the chord of a 5 mm radius is off by 0.002 mm."""

MOST_ROUND = 480
STRAIGHT_MM = 0.1
"""How far below the lowest point of its front a chamber has reached the window's size."""
HOLDER_STEEPEST_DEG = 85.0


@dataclass(frozen=True)
class LedSeat:
    """Room for one package, measured from the tip of the LED back along its axis; fits are in the sizes.

    Attributes
    ----------
    body : the bore round a lamp's body, or the opening that a chip's face looks through
    recess : what its flange, or the chip itself, lies in
    flat_mm : from the axis to the flat that keys the flange; 0 for none
    slot : a way for wires across the recess; None where the leads leave behind
    shoulder_mm : where the bore ends and the chamber begins (before the tip: negative)
    ledge_mm, length_mm : where the recess begins, and where it ends
    """

    body: Outline
    recess: Outline
    flat_mm: float
    slot: Outline | None
    shoulder_mm: float
    ledge_mm: float
    length_mm: float

    @property
    def behind(self) -> Outline:
        """Everything the recess needs, seen along the axis."""
        return self.recess if self.slot is None else self.recess.around(self.slot)


@dataclass(frozen=True)
class LedCavity:
    """A cavity before it is cut.

    Attributes
    ----------
    skin : the outer skin about the window, with the cavity's own frame
    window : its outline, square to the axis
    wall_mm : light wall left between chamber and outside, along the skin's normal
    standoff_mm : from the chamber's front to the LED's tip, on the axis
    beside_mm : wall round the cavity where it stands in the air of the part's inside
    opening : of a clear insert that fills the skin before the chamber, wider by the step it rests on; None for a wall
    """

    skin: LightWall
    window: Outline
    wall_mm: float
    standoff_mm: float
    seat: LedSeat
    beside_mm: float
    opening: Outline | None = None

    @cached_property
    def angles(self) -> Array:
        """Where round the axis the corners of every ring stand."""
        return self.window.angles(max(SPACING_MM, self.window.length_mm / MOST_ROUND))

    @cached_property
    def front(self) -> Array:
        """The chamber's front: heights over rings from the middle to the rim, (k, n, 3) mm, k rings of n points."""
        return self.field(self.window, self.wall_mm)

    def field(self, outline: Outline, depth_mm: float, *, steepest_deg: float | None = None) -> Array:
        """The surface a depth under the skin over an outline: rings in the cavity's axes, the first one point."""
        rim = outline.ring(self.angles)
        count = max(8, math.ceil(outline.farthest_mm / SPACING_MM))
        share = np.arange(count + 1) / count
        spots = share[:, None, None] * rim[None]
        flat = np.concatenate([spots[:1, 0], spots[1:].reshape(-1, 2)])
        given = {} if steepest_deg is None else {"steepest_deg": steepest_deg}
        height = self.skin.under(flat, depth_mm, **given).height_mm
        heights = np.concatenate([np.full((1, len(rim)), height[0]), height[1:].reshape(count, -1)])
        return np.concatenate([spots, heights[..., None]], axis=2)

    @property
    def tip_mm(self) -> float:
        """Height of the LED's tip above the window's middle on the skin: negative, it lies below."""
        return float(self.front[0, 0, 2]) - self.standoff_mm

    @property
    def back_mm(self) -> float:
        """Height of the end of the recess."""
        return self.tip_mm - self.seat.length_mm

    @property
    def full_mm(self) -> float:
        """Height at which the chamber has reached the window's size."""
        return float(self.front[..., 2].min()) - STRAIGHT_MM

    @property
    def least_standoff_mm(self) -> float:
        """The shortest stand-off at which bore and front keep clear of one another."""
        return float(self.front[0, 0, 2]) - self.full_mm - self.seat.shoulder_mm + STRAIGHT_MM

    @property
    def at_mm(self) -> Array:
        """The LED's tip in the part's frame, (3,)."""
        return np.asarray(self.to_part(np.array([[0.0, 0.0, self.tip_mm]]))[0])

    def to_part(self, local: Array) -> Array:
        """Points (..., 3) from the cavity's axes to the part's."""
        frame = self.skin.frame
        return np.asarray(local @ frame[:3, :3].T + frame[:3, 3])

    def cutter(self, back_mm: float) -> Solid:
        """The solid to take away, its recess carried on to a height behind.

        Raises
        ------
        DoesNotFit
            The stand-off is too short for the slant of the skin.
        """
        seat, tip = self.seat, self.tip_mm
        if self.standoff_mm < self.least_standoff_mm - 1e-9:
            raise DoesNotFit(
                "the LED stands too near its window: the lowest edge of the chamber's front lies behind its tip",
                found=f"stand-off {self.standoff_mm:.2f} mm, the skin's slant asks {self.least_standoff_mm:.2f} mm",
                fix=f"set `standoff: {math.ceil(self.least_standoff_mm * 10) / 10:g} mm` or make the window smaller",
            )
        into = seat.length_mm - seat.ledge_mm
        body, rim = seat.body.ring(self.angles), self.front[-1, :, :2]
        stack = [(body, tip - seat.ledge_mm - 0.5 * into), (body, tip - seat.shoulder_mm), (rim, self.full_mm)]
        front = self.front if self.opening is None else self.field(self.window, 0.5 * self.wall_mm)
        pieces = [self._lofted([np.column_stack([xy, np.full(len(xy), z)]) for xy, z in stack], front)]
        ledge = tip - seat.ledge_mm
        pieces.append(prism(_keyed(seat.recess, seat.flat_mm, self.angles), back_mm, ledge, self.skin.frame))
        if seat.slot is not None:
            slot = seat.slot.ring(self.angles) if seat.slot.corner_mm else _box(seat.slot)
            pieces.append(prism(slot, back_mm, ledge, self.skin.frame))
        if self.opening is not None:
            floor = self.field(self.opening, self.wall_mm)
            top = self.field(self.opening, 0.0)
            over = np.full(top.shape[:2], float(top[..., 2].max()) + max(0.2, 0.1 * self.wall_mm))
            pieces.append(self._between(floor, np.dstack([top[..., :2], over])))
        return unite(pieces)

    def insert(self, fit_mm: float, under_mm: float) -> Solid:
        """The clear piece that fills the opening flush with the outside, smaller all round by a fit.

        Parameters
        ----------
        under_mm : glue between the piece and the step it rests on
        """
        if self.opening is None:
            raise ValueError("a light wall has no insert")
        outline = self.opening.grown(-fit_mm)
        return self._between(self.field(outline, self.wall_mm - under_mm), self.field(outline, 0.0))

    @property
    def holder_outline(self) -> Outline:
        """Outline of what is grown behind the skin, where it is widest."""
        return self._widest.grown(self.beside_mm).around(self.seat.behind.grown(self.beside_mm))

    @property
    def widens_mm(self) -> float:
        """How much farther the window reaches than the bore, at most."""
        return max(float((self.window.reach(self.angles) - self.seat.body.reach(self.angles)).max()), 0.0)

    @property
    def _widest(self) -> Outline:
        return self.opening or self.window

    def holder(self, embed_mm: float) -> Solid:
        """A tube with a solid core round the whole cavity, its front inside the skin, `embed_mm` under the outside.

        Raises
        ------
        DoesNotFit
            The skin ends, or turns away, within the tube's own width.

        Notes
        -----
        A side that leans by a from the axis keeps the wall w where it is moved outward by w and back by w tan(a / 2).
        """
        wall, shoulder = self.beside_mm, self.tip_mm - self.seat.shoulder_mm
        drop = wall * math.tan(math.atan2(self.widens_mm, self.full_mm - shoulder) / 2.0)
        waist = self.seat.behind.around(self.seat.body).grown(wall).ring(self.angles)
        top = self.field(self._widest.grown(wall), embed_mm, steepest_deg=HOLDER_STEEPEST_DEG)
        z_full = min(self.full_mm - drop, float(top[..., 2].min()) - STRAIGHT_MM)
        z_waist = min(shoulder, self.tip_mm + wall, z_full) - drop - STRAIGHT_MM
        stack = [(waist, self.back_mm), (waist, z_waist), (top[-1, :, :2], z_full)]
        return self._lofted([np.column_stack([xy, np.full(len(xy), z)]) for xy, z in stack], top)

    def _lofted(self, rings: list[Array], front: Array) -> Solid:
        """A closed solid from rings of equal count, flat below, closed above by a front's rings."""
        n = len(self.angles)
        middle = np.array([0.0, 0.0, rings[0][0, 2]])
        return self._closed(np.concatenate([*rings, *front[:0:-1]]), n, middle, front[0, 0])

    def _between(self, floor: Array, top: Array) -> Solid:
        """A closed solid between two surfaces over one outline."""
        loops = np.concatenate([*floor[1:], *top[:0:-1]])
        return self._closed(loops, len(self.angles), floor[0, 0], top[0, 0])

    def _closed(self, loops: Array, n: int, first: Array, last: Array) -> Solid:
        """Loops of n points, (k n, 3), joined in a row and closed by fans about the first and the last point."""
        here = np.arange(n)
        after = (here + 1) % n
        triangles = []
        for low in range(0, len(loops) - n, n):
            high = low + n
            triangles.append(np.stack([low + here, low + after, high + after], axis=1))
            triangles.append(np.stack([low + here, high + after, high + here], axis=1))
        end = len(loops)
        triangles.append(np.stack([np.full(n, end), after, here], axis=1))
        triangles.append(np.stack([np.full(n, end + 1), end - n + here, end - n + after], axis=1))
        return Solid.of(self.to_part(np.concatenate([loops, first[None], last[None]])), np.concatenate(triangles))


def _keyed(outline: Outline, flat_mm: float, angles: Array) -> Array:
    """The recess's outline as a convex polygon, cut by the flat on the side of the first axis."""
    ring = outline.ring(angles) if outline.corner_mm else _box(outline)
    if flat_mm > 0.0:
        ring = np.column_stack([np.minimum(ring[:, 0], flat_mm), ring[:, 1]])
    return ring


def _box(outline: Outline) -> Array:
    u, v = outline.half_u_mm, outline.half_v_mm
    return np.array([[-u, -v], [u, -v], [u, v], [-u, v]])
