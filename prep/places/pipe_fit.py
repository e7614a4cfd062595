"""`fit_pipe`: one path of a light pipe tried on a part: seat, walls, way in; the pipe and the part cut for it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from prep.errors import CannotInsert, DoesNotFit, EmptySolid
from prep.geometry.columns import Shared, shared_by_columns
from prep.geometry.cut_openings import CutSurface, cut_surface
from prep.geometry.light_pipe import PipeShape, Section
from prep.geometry.seat_room import SeatRoom, disc_points
from prep.geometry.solid import Array, Solid, intersect, subtract, unite
from prep.places.pipe_words import axis_word
from prep.places.place import triple
from prep.units import show_mm, show_mm3, show_point

OVERSHOOT_MM = 1.0
"""How far a cut runs past the skin it opens on."""

FACE_MM = 0.5
"""How far before the skin the cut for the shoulder begins."""

STEEPEST_MM = 2.5
"""How much the inner skin may rise under the shoulder."""

PLAIN_MM = 0.05
"""An inner skin that rises less than this under the shoulder is flat enough to bear on."""

BITE_MM = 0.05
BITE_SHARE = 0.02
"""How far the cut for the shoulder goes past the skin, so that all of it is plastic; and the share of the rise."""

SUNK_MM = 2.0
"""How deep under the outside the shoulder sits where the way in is cut as well."""

TOUCH_MM = 0.02
BLOCKED_MM3 = 0.02
SLACK_MM = 0.5
AT_SKIN_MM = 0.01


@dataclass(frozen=True)
class Beside:
    """Something the part already holds: its id, where, and how far it reaches."""

    id: str
    at_mm: Array
    reach_mm: float


@dataclass(frozen=True)
class PipeAim:
    """What does not change from path to path.

    Attributes
    ----------
    part : its name
    play_mm : between pipe and bore, per side
    wall_mm : least wall
    collar_mm, flange_mm : shoulder: how thick, and how far it stands out
    proud_mm : how far the end stands out of the skin
    opens : whether what stands in the way in is cut too
    gap_mm : between lamp and entry face
    hole_mm : smallest hole the process keeps open
    beside : what the part already holds
    """

    part: str
    section: Section
    play_mm: float
    wall_mm: float
    collar_mm: float
    flange_mm: float
    proud_mm: float
    opens: bool
    gap_mm: float
    hole_mm: float
    beside: Sequence[Beside]

    @property
    def mouth_mm(self) -> float:
        """Largest half size of the bore."""
        return float(np.hypot(*self.section.half_mm) if not self.section.is_round else self.section.half_mm[0]) + (
            self.play_mm
        )

    @property
    def shoulder_mm(self) -> float:
        """Largest half size of the shoulder's own seat, its play counted."""
        return self.mouth_mm + self.flange_mm


@dataclass(frozen=True, eq=False)
class PipeFit:
    """A pipe that fits.

    Attributes
    ----------
    pipe, cut : the pipe, and the part with its bore
    shared : volume taken, found by columns of rays
    surface : the cut's own skin: openings, shells joined
    side_wall_mm, under_mm : least plastic beside the bore, and between the shoulder and the outside
    beyond_mm : how far the outside rises past the path's end within the bore
    back_mm : how far the pipe is drawn back to take it out
    faced : whether a flat is cut for the shoulder
    trench : whether the way in is cut too
    """

    shape: PipeShape
    pipe: Solid
    cut: Solid
    shared: Shared
    surface: CutSurface
    side_wall_mm: float
    under_mm: float
    beyond_mm: float
    back_mm: float
    faced: bool
    trench: bool


@dataclass(frozen=True)
class _Wall:
    """The wall the pipe leaves by, heights along the last leg from the path's end.

    Attributes
    ----------
    seat_mm : where the shoulder bears
    lowest_mm : the farthest of the inner skin under the shoulder; `seat_mm` where the wall has no inner skin
    beyond_mm : the highest of the outside within the bore
    under_mm : least plastic over the shoulder
    """

    seat_mm: float
    lowest_mm: float
    beyond_mm: float
    under_mm: float


def fit_pipe(room: SeatRoom, aim: PipeAim, path: Array) -> PipeFit:
    """A pipe along a path, its shoulder on the inner skin, and the part cut for it.

    Parameters
    ----------
    path : (k, 3) mm
        Entry face, corners, and the place on the outside; legs square to one another.

    Raises
    ------
    DoesNotFit
        Walls, mouth, shoulder or bends need more room than there is; the fault says which, and by how much.
    CannotInsert
        The pipe cannot be pushed in along its last leg, and what is in the way may not be cut.
    """
    _refuse_small(aim)
    out = _unit(path[-1] - path[-2])
    across = _level(out)
    wall = _wall(room, aim, path, out)
    shape = PipeShape(aim.section, path, across, aim.collar_mm, aim.flange_mm, wall.seat_mm)
    _refuse_short(aim, shape)
    _refuse_beside(aim, shape)
    faced = wall.seat_mm > wall.lowest_mm
    beyond = wall.beyond_mm + OVERSHOOT_MM + max(aim.proud_mm, 0.0)
    face = wall.lowest_mm - FACE_MM if faced else 0.0
    start = aim.gap_mm + OVERSHOOT_MM if aim.opens else aim.gap_mm / 2.0
    cutter = shape.bore(aim.play_mm, beyond, start, face)
    back = beyond - wall.lowest_mm + SLACK_MM
    if aim.opens:
        back = float(((path[-1] - room.solid.vertices) @ out).max()) + aim.collar_mm + OVERSHOOT_MM
        cutter = unite([cutter, *shape.trench(back, aim.play_mm, start)])
    cut = subtract(room.solid, [cutter])
    _refuse_blocked(aim, shape, cut, back)
    ways = np.stack([out, shape.ways[0]]) if aim.opens else out
    surface = cut_surface(room.solid, cutter, ways=ways, spacing_mm=0.35 * aim.mouth_mm)
    if surface.wall_mm < aim.wall_mm:
        short, spot = aim.wall_mm - surface.wall_mm, show_point(triple(surface.wall_at_mm))
        raise DoesNotFit(
            f"the wall beside the light pipe in {aim.part} would be too thin",
            found=f"{show_mm(surface.wall_mm)} at {spot}, limit {show_mm(aim.wall_mm)}",
            fix=f"move the pipe {show_mm(short)} away from there, or choose a smaller `section`",
        )
    return PipeFit(
        shape=shape,
        pipe=shape.pipe(room.solid, beyond + 1.0, aim.proud_mm),
        cut=cut,
        shared=shared_by_columns(room.scene, cutter, out, _columns(cutter, out, aim.mouth_mm)),
        surface=surface,
        side_wall_mm=surface.wall_mm,
        under_mm=wall.under_mm,
        beyond_mm=wall.beyond_mm,
        back_mm=back,
        faced=faced,
        trench=aim.opens,
    )


def _wall(room: SeatRoom, aim: PipeAim, path: Array, out: Array) -> _Wall:
    """Measure the wall at the path's end, over the mouth and under the shoulder."""
    end = path[-1]
    above = room.scene.cast((end + AT_SKIN_MM * out)[None], out[None])
    if above.triangle[0] >= 0:
        raise DoesNotFit(
            f"the light pipe would not come out on the outside of {aim.part}",
            found=f"{show_mm(float(above.distance_mm[0]))} above {show_point(triple(end))} the part goes on",
            fix="put `to` on the skin that is looked at",
        )
    foot = room.footprint(end[None], out[None], aim.mouth_mm, look_mm=aim.mouth_mm + 3.0)
    if not foot.covered[0]:
        raise DoesNotFit(
            f"the mouth of the light pipe runs off the skin of {aim.part}",
            found=f"it is {show_mm(2.0 * aim.mouth_mm)} wide at {show_point(triple(end))}",
            fix="move `to` away from the edge, or choose a smaller `section`",
        )
    beyond = float(foot.highest_mm[0])
    deep = float(room.material_below(end[None], out[None])[0])
    leg = float((end - path[-2]) @ out)
    buried = deep > leg - aim.collar_mm
    if aim.opens and (buried or deep > max(2.0 * aim.wall_mm, SUNK_MM)):
        seat = lowest = -max(2.0 * aim.wall_mm, SUNK_MM)
        under = _upward(room, end + seat * out, out, aim.shoulder_mm)
    elif buried:
        raise CannotInsert(
            f"the light pipe has no straight way in: {aim.part} is solid behind the place",
            found=f"{show_mm(deep)} of plastic behind {show_point(triple(end))}, the pipe's last leg is {show_mm(leg)}",
            fix="put `from` in the hollow behind the wall, or give `open:` the side the way in is cut from",
        )
    else:
        seat, lowest, under = _inner_skin(room, aim, end, out, deep)
    if under < aim.wall_mm:
        raise DoesNotFit(
            f"the wall over the shoulder of the light pipe in {aim.part} would be too thin",
            found=f"{show_mm(max(under, 0.0))} at {show_point(triple(end))}, limit {show_mm(aim.wall_mm)}",
            fix="choose a place with a thicker wall, or a narrower `flange`",
        )
    return _Wall(seat, lowest, beyond, under)


def _inner_skin(room: SeatRoom, aim: PipeAim, end: Array, out: Array, deep: float) -> tuple[float, float, float]:
    """Heights of the inner skin under the shoulder: the nearest to the outside, the farthest, and plastic over it."""
    frame = np.stack([_level(out), np.cross(out, _level(out))])
    spots = end - 0.5 * deep * out + disc_points(aim.shoulder_mm) @ frame
    hits = room.scene.cast(spots, np.broadcast_to(-out, spots.shape).copy())
    met = hits.triangle >= 0
    leads_out = np.zeros(len(spots), dtype=bool)
    leads_out[met] = room.scene.normals[hits.triangle[met]] @ -out > 0.0
    height = -0.5 * deep - hits.distance_mm
    rise = float(height.max() - height.min()) if leads_out.all() else np.inf
    if rise > STEEPEST_MM:
        does = f"rises {show_mm(rise)}" if np.isfinite(rise) else "ends"
        raise DoesNotFit(
            f"the shoulder of the light pipe finds no seat inside {aim.part}",
            found=f"the inner skin {does} within {show_mm(2.0 * aim.shoulder_mm)} about "
            f"{show_point(triple(end - deep * out))}, at most {show_mm(STEEPEST_MM)}",
            fix="move `to` where the inside is flatter, or choose a smaller `section`",
        )
    lowest = float(height.min())
    seat = lowest if rise <= PLAIN_MM else float(height.max()) + BITE_MM + BITE_SHARE * rise
    return seat, lowest, _upward(room, end + max(seat, float(height.max())) * out, out, aim.shoulder_mm)


def _upward(room: SeatRoom, middle: Array, out: Array, radius_mm: float) -> float:
    """Least plastic from a disc to the outside along an axis, mm."""
    frame = np.stack([_level(out), np.cross(out, _level(out))])
    spots = middle - AT_SKIN_MM * out + disc_points(radius_mm) @ frame
    below = 2.0 * AT_SKIN_MM * out
    hits = room.scene.cast(spots + below, np.broadcast_to(out, spots.shape).copy())
    met = hits.triangle >= 0
    leads_out = np.zeros(len(spots), dtype=bool)
    leads_out[met] = room.scene.normals[hits.triangle[met]] @ out > 0.0
    return float(hits.distance_mm.min()) + AT_SKIN_MM if leads_out.all() else 0.0


def _refuse_small(aim: PipeAim) -> None:
    least = 2.0 * (min(aim.section.half_mm) + aim.play_mm)
    if least < aim.hole_mm:
        raise DoesNotFit(
            f"the bore of the light pipe in {aim.part} would close up",
            found=f"{show_mm(least)} with its play, the process keeps holes of {show_mm(aim.hole_mm)} open",
            fix=f"choose a `section` of at least {show_mm(aim.hole_mm - 2.0 * aim.play_mm)}",
        )


def _refuse_short(aim: PipeAim, shape: PipeShape) -> None:
    """A leg must hold its half of each bend, and the last one the shoulder before it reaches the wall."""
    legs = np.linalg.norm(np.diff(shape.path, axis=0), axis=1)
    bend, bends = max(aim.section.half_mm), len(legs) - 1
    for number, leg in enumerate(legs):
        last = number == bends
        need = bend * ((number > 0) + (not last)) + (aim.collar_mm - shape.seat_mm if last else 0.0)
        if leg < need:
            raise DoesNotFit(
                f"a leg of the light pipe in {aim.part} is too short",
                found=f"leg {number + 1} is {show_mm(float(leg))}, {show_mm(need)} for "
                + ("shoulder and wall" if last else "its bends"),
                fix="move `from` farther from the place, or choose a smaller `section`",
            )


def _refuse_beside(aim: PipeAim, shape: PipeShape) -> None:
    for item in aim.beside:
        away = min(_to_line(item.at_mm, a, b) for a, b in zip(shape.path[:-1], shape.path[1:], strict=True))
        if away < aim.mouth_mm + item.reach_mm:
            raise DoesNotFit(
                f"the light pipe in {aim.part} would run through {item.id}",
                found=f"its axis passes {show_mm(away)} from {item.id}, {show_mm(aim.mouth_mm + item.reach_mm)} needed",
                fix=f"move `from` or `to` away from {show_point(triple(item.at_mm))}",
            )


def _refuse_blocked(aim: PipeAim, shape: PipeShape, cut: Solid, back_mm: float) -> None:
    """Whatever the pipe meets while it is drawn back along its last leg stands in its way in, too."""
    try:
        met = intersect([cut, shape.way_in(back_mm, TOUCH_MM)])
    except EmptySolid:
        return
    if met.volume_mm3 < BLOCKED_MM3:
        return
    raise CannotInsert(
        f"the light pipe has no straight way into {aim.part}",
        found=f"pushed in along {axis_word(shape.out)}, it meets {show_mm3(met.volume_mm3)} of the part about "
        f"{show_point(triple(met.centre_mm))}",
        fix="move `from` where the inside is clear behind the place, or give `open:` the side the way in is cut from",
    )


def _columns(cutter: Solid, out: Array, radius_mm: float) -> int:
    """Rays across a cutter, a dozen over the bore's radius."""
    local = cutter.vertices @ np.stack([_level(out), np.cross(out, _level(out))]).T
    return int(np.clip(12.0 * float(np.ptp(local, axis=0).max()) / radius_mm, 96, 900))


def _to_line(point: Array, start: Array, end: Array) -> float:
    way = end - start
    share = float(np.clip((point - start) @ way / (way @ way), 0.0, 1.0))
    return float(np.linalg.norm(point - start - share * way))


def _level(out: Array) -> Array:
    """First direction across: level, along x where it can be."""
    hint = np.array([1.0, 0.0, 0.0]) if abs(out[0]) < 0.9 else np.array([0.0, 1.0, 0.0])
    return _unit(hint - out * (hint @ out))


def _unit(way: Array) -> Array:
    return np.asarray(way / np.linalg.norm(way))
