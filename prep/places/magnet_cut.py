"""`cut_seats`: one part with the seats of a magnet set taken out, and what that was predicted to do."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from prep.geometry.columns import Shared, shared_by_all
from prep.geometry.round_seat import RoundSeat
from prep.geometry.seat_room import RIM_POINTS, SeatRoom, square_axes
from prep.geometry.solid import Array, Solid, subtract
from prep.places.magnet_choice import SAG_MM, MagnetAim, MagnetSet, sunk_mm

LONGEST_HOLE_MM = 10.0


@dataclass(frozen=True)
class CutSeats:
    """A part with its seats.

    Attributes
    ----------
    solid : the part
    shared : volume taken, found by columns of rays
    through : air holes that come out on another face, each a handle
    vents : seats that have an air way
    mouths, floors : (n, 3) mm, middle of each seat's opening and floor
    outs : (n, 3) direction in which each seat opens
    magnets : (n, 3) mm, middle of each magnet
    """

    solid: Solid
    shared: Shared
    through: int
    vents: int
    mouths: Array
    floors: Array
    outs: Array
    magnets: Array


def cut_seats(aim: MagnetAim, room: SeatRoom, chosen: MagnetSet, side: int) -> CutSeats:
    """Cut the seats of one side: 0 for the first part, 1 for the second."""
    toward_seam = (1 - 2 * side) * chosen.found.axes
    cutters, mouths, floors, outs = [], [], [], []
    through = vents = 0
    for plane, axis, high in zip(chosen.found.mouths[side], toward_seam, chosen.found.highs_mm[side], strict=True):
        mouth, shape, out, rise = plane, chosen.shape, axis, float(high)
        if aim.from_behind:
            deep = float(room.material_below(plane[None], axis[None])[0])
            mouth, out = plane - deep * axis, -axis
            foot = room.footprint(mouth[None], out[None], shape.mouth_radius_mm)
            rise = float(foot.highest_mm[0]) if foot.covered[0] else SAG_MM
            shape = replace(shape, depth_mm=deep - aim.skin_mm)
        shape, angle = _vented(aim, room, shape, mouth, out)
        through += int(shape.hole_mm > 0.0)
        vents += int(shape.hole_mm + shape.groove_mm > 0.0)
        across, up = square_axes(out[None])
        frame = np.eye(4)
        frame[:3, 0], frame[:3, 1], frame[:3, 2], frame[:3, 3] = across[0], up[0], out, mouth
        cutters.append(shape.cutter(frame, rise, angle))
        mouths.append(mouth)
        floors.append(mouth - shape.depth_mm * out)
        outs.append(out)
    shared = shared_by_all(room.scene, cutters, outs)
    sunk = sunk_mm(aim, chosen.fit) + chosen.magnet.thickness_mm / 2.0
    magnets = np.asarray(chosen.found.mouths[side] - sunk * toward_seam)
    solid = subtract(room.solid, cutters)
    return CutSeats(solid, shared, through, vents, np.array(mouths), np.array(floors), np.array(outs), magnets)


def _vented(aim: MagnetAim, room: SeatRoom, shape: RoundSeat, mouth: Array, out: Array) -> tuple[RoundSeat, float]:
    """The seat with its air way where walls leave room for one, and the angle of its groove."""
    if shape.hole_mm > 0.0:
        floor = mouth - shape.depth_mm * out
        on = float(room.material_below(floor[None], out[None])[0])
        return replace(shape, hole_length_mm=on) if on <= LONGEST_HOLE_MM else replace(shape, hole_mm=0.0), 0.0
    if shape.groove_mm > 0.0:
        beside = room.side_clearance(mouth, out, shape.radius_mm, shape.depth_mm)
        widest = int(np.argmax(beside))
        if beside[widest] < aim.wall_mm + shape.groove_mm / 2.0:
            return replace(shape, groove_mm=0.0), 0.0
        return shape, widest * 2.0 * np.pi / RIM_POINTS
    return shape, 0.0
