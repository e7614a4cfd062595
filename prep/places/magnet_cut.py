"""`cut_seats`: one part with the seats of a magnet set taken out, and what that was predicted to do."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from prep.geometry.columns import Shared, shared_by_all
from prep.geometry.round_seat import RoundSeat
from prep.geometry.seat_room import RIM_POINTS, SeatRoom, disc_points, square_axes
from prep.geometry.solid import Array, Solid, subtract
from prep.places.magnet_choice import SAG_MM, MagnetAim, MagnetSet, sunk_mm

LONGEST_HOLE_MM = 10.0
ON_FLOOR_MM = 0.02
STEEPEST = 2.0
"""How much farther a hole may run on one side than on the other before it comes out, in its diameters."""


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
            shape = replace(shape, depth_mm=deep - aim.skin_mm, rib_mm=chosen.fit.depth_mm)
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
        return _with_hole(aim, room, shape, mouth - shape.depth_mm * out, out), 0.0
    if shape.groove_mm > 0.0:
        beside = room.side_clearance(mouth, out, shape.radius_mm, shape.depth_mm)
        widest = int(np.argmax(beside))
        if beside[widest] < aim.wall_mm + shape.groove_mm / 2.0:
            return replace(shape, groove_mm=0.0), 0.0
        return shape, widest * 2.0 * np.pi / RIM_POINTS
    return shape, 0.0


def _with_hole(aim: MagnetAim, room: SeatRoom, shape: RoundSeat, floor: Array, out: Array) -> RoundSeat:
    """The seat with its air hole long enough to come out whole, or without where it cannot come out in the open."""
    radius = shape.hole_mm / 2.0
    across, up = square_axes(out[None])
    disc = disc_points(radius)
    starts = floor + disc[:, :1] * across + disc[:, 1:] * up - ON_FLOOR_MM * out
    hits = room.scene.cast(starts, np.broadcast_to(-out, starts.shape).copy())
    if not np.isfinite(hits.distance_mm).all():
        return replace(shape, hole_mm=0.0)
    ways = hits.distance_mm + ON_FLOOR_MM
    sealed = room.solid.shell_volumes_mm3[room.solid.shell_of_triangle[hits.triangle]] < 0.0
    beside = room.clearance(
        floor[None], out[None], radius_mm=radius, depth_mm=float(ways.min()) - ON_FLOOR_MM, sides_only=True
    )
    uneven = np.ptp(ways) > STEEPEST * shape.hole_mm
    if ways.max() > LONGEST_HOLE_MM or uneven or sealed.any() or beside[0] < aim.wall_mm:
        return replace(shape, hole_mm=0.0)
    return replace(shape, hole_length_mm=float(ways.max()))
