"""`divider`: a thin upright wall that parts the hollow of an open box, up to just under what covers it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import manifold3d
import numpy as np
from manifold3d import CrossSection, FillRule, JoinType

from prep.errors import EmptySolid, NoHollow
from prep.geometry.solid import Array, Solid, intersect, subtract

_HAIR_MM = 1e-3
"""By how much the wall overlaps what it touches, so that no crack is left where two outlines round apart."""

_SPECK_MM2 = 0.01
"""Pieces of an outline smaller than this are rounding."""

_MARGIN_MM = 1.0

_SLOT_TRIES = 12


@dataclass(frozen=True, eq=False)
class DividerPlane:
    """Where a divider stands.

    Attributes
    ----------
    origin : (3,) mm, in the air above the floor, in the wall's middle plane
    normal, up : (3,) unit, across the wall and to the open side
    low_mm, high_mm : ends from the origin along up x normal; infinite where the box itself ends it
    """

    origin: Array
    normal: Array
    up: Array
    low_mm: float
    high_mm: float

    @property
    def frame(self) -> Array:
        """Rows along, up, across, (3, 3): right-handed."""
        return np.stack([np.cross(self.up, self.normal), self.up, self.normal])


@dataclass(frozen=True, eq=False)
class DividerForm:
    """Sizes of a divider.

    Attributes
    ----------
    wall_mm : thickness
    play_mm : air left to every cover, and under the rim where nothing covers it
    embed_mm : how far it runs into floor and sides
    slot_mm : (wide, high) of the way for wires at the floor; zeros for none
    """

    wall_mm: float
    play_mm: float
    embed_mm: float
    slot_mm: tuple[float, float]


@dataclass(frozen=True, eq=False)
class Divider:
    """A divider, embedded where it touches the box.

    Attributes
    ----------
    solid : Solid
    handles : how many it adds once it is one with the box
    at_mm : (3,) on the floor below the plane's origin, in its middle plane
    long_mm, high_mm : of the wall in the air
    slotted : whether a way for wires was cut
    """

    solid: Solid
    handles: int
    at_mm: Array
    long_mm: float
    high_mm: float
    slotted: bool


def divider(host: Solid, covers: Sequence[Solid], plane: DividerPlane, form: DividerForm) -> Divider:
    r"""One wall between two cells, from side to side and from the floor to just under the covers.

    Raises
    ------
    NoHollow
        No air above the floor there, or air that runs out of the box below its rim.

    Notes
    -----
    All is done in the wall's own plane. The air is the shadow, across the wall, of a slab of its thickness less the
    box; what covers hold of that slab is taken away, grown by the play and drawn out toward the open side so that they
    still lift off. The piece of air above the origin is kept, less slivers thinner than twice the embedding; it is
    grown into the box's own material, never past it. Exact for straight walls; where the box curves through the slab,
    the shadow makes the wall reach its farther face.

    Drawing
    -------
    The wall in its plane::

        ==cover===============      play below the cover
        |+------------------+|
        ||                  ||      the wall ends inside side walls and floor
        |+------+   +-------+|
        +-------|   |--------+      slot for wires, down to the floor
        +--------------------+
    """
    low, high = _reach(host, covers, plane)
    air = _shadow(_less(_slab(plane, low, high, form.wall_mm), [host]), plane)
    held = _shadow(_within(_slab(plane, low, high, form.wall_mm + 2.0 * form.play_mm), covers), plane)
    blocked = _drawn_up(held.offset(form.play_mm, JoinType.Miter), high[1] - low[1] + 2.0 * form.play_mm)
    body = _shadow(_within(_slab(plane, low, high, form.wall_mm), [host]), plane)
    at = min(max(0.0, plane.low_mm), plane.high_mm)
    top = _rim(body + held, at, high[1]) - form.play_mm
    within = _rectangle((low[0], low[1]), (high[0], top))
    free = (air ^ within) - blocked
    half = form.wall_mm / 2.0
    strip = _rectangle((max(plane.low_mm - half, low[0]), low[1]), (min(plane.high_mm + half, high[0]), high[1]))
    thin = form.embed_mm
    free = (free ^ strip).offset(-thin, JoinType.Miter).offset(thin, JoinType.Miter)
    hollow = _above(free, at, form.wall_mm)
    left, bottom, right, above = hollow.bounds()
    if left < low[0] + _MARGIN_MM / 2.0 or right > high[0] - _MARGIN_MM / 2.0 or bottom < low[1] + _MARGIN_MM / 2.0:
        raise NoHollow(
            "a divider would run out of the box, which has no side or no floor there",
            found=f"the air of the hollow leads outside between {left:.1f} and {right:.1f} mm along the divider",
            fix="name the part that closes that side in `covers:`, or choose other places",
        )
    solid = within - air
    hollow = _filled(hollow, solid, 4.0 * form.embed_mm**2)
    wall = (hollow.offset(form.embed_mm, JoinType.Miter) ^ solid) + hollow.offset(_HAIR_MM, JoinType.Miter)
    wall = (wall ^ _rectangle((low[0], low[1]), (high[0], above))) - blocked
    floor = _floor(hollow, at, form.wall_mm)
    slot = _slot(hollow, at, form.slot_mm)
    if slot is not None:
        wall -= slot
    contact = (wall ^ solid).offset(-0.1 * form.embed_mm, JoinType.Miter)
    frame = np.column_stack([plane.frame.T, plane.origin - form.wall_mm / 2.0 * plane.normal])
    kernel = CrossSection.extrude(wall.simplify(_HAIR_MM / 10.0), form.wall_mm).transform(frame)
    mesh = kernel.to_mesh64()
    return Divider(
        solid=Solid.of(np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts)),
        handles=_euler(contact) - _euler(wall),
        at_mm=plane.origin + plane.frame[0] * at + plane.up * floor,
        long_mm=right - left,
        high_mm=above - floor,
        slotted=slot is not None,
    )


# --- outlines in the wall's plane ------------------------------------------------------------------


def _reach(host: Solid, covers: Sequence[Solid], plane: DividerPlane) -> tuple[Array, Array]:
    """Lowest and highest corner (2,) of box and covers in the plane's axes, with a margin."""
    sides, tops = plane.frame[0], plane.up
    along = (host.vertices - plane.origin) @ sides
    up = np.concatenate([(each.vertices - plane.origin) @ tops for each in (host, *covers)])
    low = np.array([along.min(), ((host.vertices - plane.origin) @ tops).min()]) - _MARGIN_MM
    return low, np.array([along.max(), up.max()]) + _MARGIN_MM


def _slab(plane: DividerPlane, low: Array, high: Array, thick: float) -> Solid:
    """The part of space that a wall of that thickness may take."""
    block = manifold3d.Manifold.cube((high[0] - low[0], high[1] - low[1], thick))
    frame = plane.frame
    corner = plane.origin + frame[0] * low[0] + frame[1] * low[1] - frame[2] * thick / 2.0
    mesh = block.transform(np.column_stack([frame.T, corner])).to_mesh64()
    return Solid.of(np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts))


def _less(slab: Solid, solids: Sequence[Solid]) -> list[Solid]:
    try:
        return [subtract(slab, solids)]
    except EmptySolid:
        return []


def _within(slab: Solid, solids: Sequence[Solid]) -> list[Solid]:
    found = []
    for each in solids:
        try:
            found.append(intersect([slab, each]))
        except EmptySolid:
            continue
    return found


def _shadow(solids: Sequence[Solid], plane: DividerPlane) -> CrossSection:
    """Outline of solids seen along the normal, in the plane's axes."""
    shadow = CrossSection()
    matrix = np.column_stack([plane.frame, -(plane.frame @ plane.origin)])
    for each in solids:
        local = manifold3d.Manifold(
            manifold3d.Mesh64(
                np.ascontiguousarray(each.vertices @ matrix[:, :3].T + matrix[:, 3]),
                each.triangles.astype(np.uint64),
            )
        )
        shadow += local.project()
    return shadow


def _rectangle(low: Sequence[float], high: Sequence[float]) -> CrossSection:
    (left, bottom), (right, top) = low, high
    return CrossSection([np.array([(left, bottom), (right, bottom), (right, top), (left, top)])])


def _drawn_up(outline: CrossSection, far: float) -> CrossSection:
    """What an outline sweeps on its way up."""
    swept = [outline]
    for ring in outline.to_polygons():
        for start, end in zip(ring, np.roll(ring, -1, axis=0), strict=True):
            ahead = np.array([0.0, far])
            quad = np.array([start, end, end + ahead, start + ahead])
            if abs(end[0] - start[0]) > 1e-9:
                swept.append(CrossSection([quad if end[0] > start[0] else quad[::-1]], FillRule.Positive))
    return CrossSection.batch_boolean(swept, manifold3d.OpType.Add)


def _rim(solid: CrossSection, at: float, top: float) -> float:
    """Height up to which there is material on both sides of a place; -inf where a side has none."""
    sides = [(-math.inf, at), (at, math.inf)]
    heights = []
    for left, right in sides:
        ends = (max(left, -1e6), min(right, 1e6))
        side = solid ^ _rectangle((ends[0], -1e6), (ends[1], 1e6))
        heights.append(-math.inf if side.is_empty() else side.bounds()[3])
    return min(*heights, top)


def _above(free: CrossSection, at: float, wide: float) -> CrossSection:
    """The piece of air whose top is highest over a place, above the origin."""
    strip = _rectangle((at - wide / 2.0, -1e6), (at + wide / 2.0, 1e6))
    best, highest = None, 0.0
    for piece in free.decompose():
        over = piece ^ strip
        if over.area() > _SPECK_MM2 and over.bounds()[3] > highest:
            best, highest = piece, over.bounds()[3]
    if best is None:
        raise NoHollow(
            "there is no hollow to divide between two cells",
            found="no air above the box's floor midway between them",
            fix="choose places on the floor of the hollow, and check `open:`",
        )
    return best


def _filled(hollow: CrossSection, solid: CrossSection, most_mm2: float) -> CrossSection:
    """The air with its small nooks, shut in between it and the box, that went with the slivers."""
    for ring in (hollow.offset(_HAIR_MM, JoinType.Miter) + solid).to_polygons():
        if -most_mm2 < _signed(ring) < 0.0:
            hollow += CrossSection([np.asarray(ring)[::-1]]).offset(2.0 * _HAIR_MM, JoinType.Miter)
    return hollow


def _floor(hollow: CrossSection, at: float, wide: float) -> float:
    """Height of the floor below a place."""
    return float((hollow ^ _rectangle((at - wide / 2.0, -1e6), (at + wide / 2.0, 1e6))).bounds()[1])


def _slot(hollow: CrossSection, at: float, size: tuple[float, float]) -> CrossSection | None:
    """A rectangle on the floor, as near to a place as the floor is flat and the air free; None for none asked.

    Raises
    ------
    NoHollow
        No such stretch of floor along the divider.
    """
    wide, high = size
    if wide <= 0.0 or high <= 0.0:
        return None
    left, _, right, _ = hollow.bounds()
    for step in range(2 * _SLOT_TRIES + 1):
        middle = at + (step + 1) // 2 * (1 if step % 2 else -1) * wide / 2.0
        if middle - wide < left or middle + wide > right:
            continue
        floor = _floor(hollow, middle, wide)
        over = _rectangle((middle - wide / 2.0, floor), (middle + wide / 2.0, floor + high))
        if (over ^ hollow).area() > over.area() - _SPECK_MM2 and over.bounds()[3] < hollow.bounds()[3] - wide / 2.0:
            return _rectangle((middle - wide / 2.0, floor - high), (middle + wide / 2.0, floor + high))
    raise NoHollow(
        "there is no room for the wires' slot at the foot of a divider",
        found=f"no flat floor for {wide:g} x {high:g} mm along its {right - left:.1f} mm",
        fix="give a smaller `wire_gap:`, or `wire_gap: 0 mm`",
    )


def _euler(outline: CrossSection) -> int:
    """Outer outlines less holes."""
    areas = [_signed(ring) for ring in outline.to_polygons()]
    return sum(1 if area > 0.0 else -1 for area in areas if abs(area) > _SPECK_MM2)


def _signed(ring: Array) -> float:
    x, y = np.asarray(ring).T
    return float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2.0
