"""Why there is no way for a wire, with the narrowest place found and what would pass there."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from prep.errors import NoWireRoute
from prep.geometry.solid import Array
from prep.geometry.wire_room import Along, WireEnd, WireRoom
from prep.geometry.wire_section import SIDES
from prep.units import show_mm, show_point

_HALVINGS = 12
_LOOK_MM = 0.2


def no_lead(room: WireRoom, stop: WireEnd, name: str) -> NoWireRoute:
    """Straight on from an end there is too little room, so that no channel can begin there."""
    at = np.arange(0.5 * room.reach_mm, 2.0 * room.need_mm, _LOOK_MM)
    points = stop.at_mm + at[:, None] * stop.into
    spare = room.spare(Along(points, at, np.full(len(at), np.inf)), stop, stop)
    worst = int(np.argmin(spare))
    return NoWireRoute(
        f"the wire has no room straight on from its {name}",
        where=f"at {_said(stop.at_mm)}",
        found=f"{show_mm(max(room.need_mm + float(spare[worst]), 0.0))} from the wire's middle to what it keeps clear "
        f"of, {show_mm(room.need_mm)} wanted, {show_mm(float(at[worst]))} on",
        fix=f"move the wire's {name} away from the outside and from other features, or turn it another way",
    )


def no_way(room: WireRoom, first: Array, last: Array) -> NoWireRoute:
    """Nowhere from one place to the other is a wide enough way: where the widest one is narrowest."""
    lowest = -room.need_mm
    source, target = (tuple(cell) for cell in room.grid.cells(np.stack([first, last])))
    if not _joined(room.margin >= lowest, source, target):
        return NoWireRoute(
            "the wire's two ends lie in parts of the solid that only air one sees, another part, or a feature joins",
            where=f"between {_said(first)} and {_said(last)}",
            found="no way of any width through material or hidden air",
            fix="name another place for `wire: {to: ...}`, or move the feature that lies between",
        )
    low, high = lowest, 0.0
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        low, high = (middle, high) if _joined(room.margin >= middle, source, target) else (low, middle)
    labels, _ = ndimage.label(room.margin >= low, np.ones((3, 3, 3)))
    ours = labels == labels[source]
    neck = np.argwhere(ours & (room.margin <= high + 1e-9))
    at = room.grid.low + (neck[len(neck) // 2] + 0.5) * room.grid.side
    width = room.section.width_mm + 2.0 * low * math.cos(math.pi / SIDES)
    wall = room.need_mm - room.reach_mm
    passes = [f"a wire {show_mm(width)} wide"] if width > 0.5 else []
    passes += [f"this one with a wall of {show_mm(wall + low)}"] if wall + low > 0.2 else []
    return NoWireRoute(
        "the part has no way wide enough for the wire",
        where=f"narrowest near {_said(at)}",
        found=f"{show_mm(room.need_mm + low)} from the wire's middle to what it keeps clear of, "
        f"{show_mm(room.need_mm)} wanted ({show_mm(room.section.width_mm)} wide, {show_mm(wall)} of wall)",
        fix=" or ".join([*(f"{p} would pass" for p in passes), "move what lies beside it"]),
    )


def no_bend(bend_mm: float, gentlest_mm: float, first: Array, last: Array) -> NoWireRoute:
    """There is a way, but it turns more sharply than the wire may."""
    found = f"{show_mm(gentlest_mm)} would pass" if gentlest_mm else "none of the ways is clear with bends"
    return NoWireRoute(
        f"the way for the wire turns more sharply than a radius of {show_mm(bend_mm)}",
        where=f"between {_said(first)} and {_said(last)}",
        found=f"bend radius {show_mm(bend_mm)} asked for; {found}",
        fix="ask for a smaller bend or a thinner wire, or move an end",
    )


def no_mouth(stop: WireEnd, name: str, inside: int, of: int, past_mm: float) -> NoWireRoute:
    """An end that does not open on air."""
    return NoWireRoute(
        f"the wire's {name} does not open on air: it would be a blind hole",
        where=f"at {_said(stop.at_mm)}",
        found=f"{inside} of {of} points of its mouth still in material {show_mm(past_mm)} before it",
        fix="put it on a face, and let it lead square into the material",
    )


def _joined(mask: NDArray[np.bool_], source: tuple[int, ...], target: tuple[int, ...]) -> bool:
    labels, _ = ndimage.label(mask, np.ones((3, 3, 3)))
    return bool(labels[source] > 0 and labels[source] == labels[target])


def _said(point: Array) -> str:
    x, y, z = (float(value) for value in point)
    return show_point((x, y, z))
