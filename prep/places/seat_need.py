"""What round seats on a seam need, what was found for them, and what was short."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from prep.geometry.seat_room import SeatRoom
from prep.geometry.solid import Array


@dataclass(frozen=True)
class SeatNeed:
    """What one seat needs of the part it is cut into.

    Attributes
    ----------
    radius_mm, rim_mm : of the seat and of the lead-in around its mouth
    depth_mm : of the seat itself, without the roof
    roof_mm : plastic left toward the seam; 0 for a seat that opens on it
    from_behind : opens on the far side and goes through to `roof_mm` under the seam
    buried : closed on all sides
    wall_mm : material wanted to every other face
    travel_mm : free way out along the axis
    sag_mm : how much the skin may rise and fall over the mouth
    """

    radius_mm: float
    rim_mm: float
    depth_mm: float
    roof_mm: float
    from_behind: bool
    buried: bool
    wall_mm: float
    travel_mm: float
    sag_mm: float

    @property
    def mouth_mm(self) -> float:
        """Radius of skin that the seat's opening takes up."""
        return self.radius_mm + (0.0 if self.from_behind or self.buried else self.rim_mm)


@dataclass(frozen=True)
class Side:
    """One part of a pair: its room, what a seat needs of it, and whether the seam's axes lead out of it (+1) or in."""

    room: SeatRoom
    need: SeatNeed
    sign: int


@dataclass(frozen=True)
class Candidates:
    """Where seats may go: points on the first part's skin, (n, 3) mm, and directions out of it, (n, 3)."""

    points: Array
    axes: Array


@dataclass(frozen=True)
class SeatsFound:
    """Seats that share their axes.

    Attributes
    ----------
    axes : (n, 3) out of the first part
    mouths : for each side (n, 3) mm, the middle of the seat plane, under the lowest skin over the mouth
    highs_mm : for each side (n,), how far the skin rises above the seat plane over the mouth
    walls_mm : (n,) least material beside the seats
    """

    axes: Array
    mouths: tuple[Array, ...]
    highs_mm: tuple[Array, ...]
    walls_mm: Array


@dataclass(frozen=True)
class Shortfall:
    """Why seats do not fit, at the place where most nearly they do; of places given, at the worst of them.

    Attributes
    ----------
    fits : how many seats fit
    what : which need is not met there
    found_mm, wanted_mm : its figure and what is wanted
    at_mm : where
    sense : whether the figure is too small or too large
    blocked : whether it is the way in that is not free, rather than room that is missing
    """

    fits: int
    what: str
    found_mm: float
    wanted_mm: float
    at_mm: Array
    sense: Literal["short", "too much"] = "short"
    blocked: bool = False

    @property
    def missing_mm(self) -> float:
        """How far the need is missed."""
        return abs(self.wanted_mm - self.found_mm)
