"""Items where a section cuts them: their outlines, the walls beside them, the gap to their partners."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from prep.contract import Item
from prep.geometry.solid import Array
from prep.places.place import unit_of
from prep.report.hardware import item_solid
from prep.report.section_measures import Span, room_beside, wall_beside
from prep.report.section_plane import Plane

SAMPLES_AROUND = 96
WIDEST = 12.0
"""A filling is drawn out to walls at most this many times its radius away."""


@dataclass(frozen=True, eq=False)
class CutItem:
    """An item where the plane cuts it.

    Attributes
    ----------
    outline : (k, 2) mm
        In the plane's axes.
    axis : (2,)
        The way out of the part as far as it lies in the plane; shorter than 1 where it leans out of it.
    """

    item: Item
    outline: Array
    axis: Array

    @property
    def middle(self) -> Array:
        """Middle of the bounds of the outline, (2,) mm."""
        return np.asarray((self.outline.min(axis=0) + self.outline.max(axis=0)) / 2.0)

    @property
    def lies_in_plane(self) -> bool:
        """Whether the cut runs along the axis, so that both ends are seen."""
        return float(np.linalg.norm(self.axis)) > 0.98


def cut_items(plane: Plane, items: Sequence[Item]) -> list[CutItem]:
    """The items the plane cuts, with their outlines there."""
    found = []
    for item in items:
        away = abs(float((np.array(item.at_mm) - plane.origin) @ plane.normal))
        if away > item.radius_mm + item.length_mm or (body := item_solid(item)) is None:
            continue
        found += [CutItem(item, ring, plane.flat(unit_of(item.axis))) for ring in plane.cut(body)]
    return found


def walls_of(cut: CutItem, outlines: Sequence[Array], most_mm: float) -> list[Span]:
    """The least wall beside an item and the least at its ends, each where there is one of at most `most_mm`."""
    ring = cut.outline
    ways = np.roll(ring, -1, axis=0) - ring
    lengths = np.linalg.norm(ways, axis=1)
    least: dict[bool, Span] = {}
    for first, way, length in zip(ring, ways, lengths, strict=True):
        if length < 1e-9 * lengths.sum():
            continue
        flank = not cut.lies_in_plane or abs(float(way @ cut.axis)) > 0.7 * length
        rays = max(1, round(SAMPLES_AROUND * length / lengths.sum()))
        reach = max(cut.item.radius_mm, 0.5)
        span = wall_beside(outlines, (first, first + way), reach_mm=reach, most_mm=most_mm, samples=rays)
        if span is not None and (flank not in least or span.length_mm < least[flank].length_mm):
            least[flank] = span
    return [least[flank] for flank in sorted(least)]


def facing_pairs(cuts: Sequence[CutItem]) -> list[tuple[CutItem, CutItem]]:
    """Items that name one another and are both cut along their axis, each pair once."""
    by_id = {cut.item.id: cut for cut in cuts if cut.lies_in_plane}
    return [
        (cut, by_id[other])
        for name, cut in by_id.items()
        if (other := cut.item.pairs_with) in by_id and other is not None and name < other
    ]


def filled(cut: CutItem, outlines: Sequence[Array]) -> CutItem:
    """A filling drawn out to the walls of its pocket at both sides; anything else as it is.

    The ledger knows a filling's height and the pocket's lesser width; how long a slotted pocket is, the section shows.
    """
    item = cut.item
    if item.kind not in {"ballast", "other"} or not cut.lies_in_plane or not outlines:
        return cut
    axis = cut.axis / np.linalg.norm(cut.axis)
    across = rightward(axis)
    sides = []
    for way in (-across, across):
        starts = [cut.middle + axis * item.length_mm * share for share in (-0.4, 0.0, 0.4)]
        rooms = [room_beside(outlines, start, way) for start in starts]
        least = min(rooms)
        sides.append(way * (least if item.radius_mm < least < WIDEST * item.radius_mm else item.radius_mm))
    half = axis * item.length_mm / 2.0
    ring = np.array([sides[0] - half, sides[1] - half, sides[1] + half, sides[0] + half]) + cut.middle
    turned = float(np.cross(np.append(across, 0.0), np.append(axis, 0.0))[2]) < 0.0
    return replace(cut, outline=ring[::-1] if turned else ring)


def walled_side(cut: CutItem, walls: Sequence[Span]) -> Array:
    """The side of an item, left or right as it lies on the sheet, on which its wall is dimensioned, (2,) unit."""
    across = rightward(cut.axis) if cut.lies_in_plane else np.array([1.0, 0.0])
    ways = [float((span.end - span.start) @ across) / max(span.length_mm, 1e-12) for span in walls]
    return -across if any(way < -0.7 for way in ways) else across


def half_of(outline: Array, middle: Array, way: Array) -> Array:
    """The part of a convex outline that lies on the side of `middle` towards `way`."""
    height = (outline - middle) @ way
    kept = []
    for k in range(len(outline)):
        after = (k + 1) % len(outline)
        if height[k] >= 0.0:
            kept.append(outline[k])
        if (height[k] >= 0.0) != (height[after] >= 0.0):
            share = height[k] / (height[k] - height[after])
            kept.append(outline[k] + share * (outline[after] - outline[k]))
    return np.array(kept)


def rightward(axis: Array) -> Array:
    """The direction across an axis that points to the right on the sheet, up where it cannot."""
    across: Array = np.array([axis[1], -axis[0]]) / np.linalg.norm(axis)
    return -across if (round(float(across[0]), 6), float(across[1])) < (0.0, 0.0) else across
