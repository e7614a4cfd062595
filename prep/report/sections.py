"""`draw_section`: a true cut through a feature, dimensioned, as a drawing and as a picture."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from prep.contract import Item, View
from prep.geometry.solid import Array, Solid, slice_at
from prep.places.place import unit_of
from prep.report.camera import axes_seen_from
from prep.report.hardware import item_solid, item_tint, other_pole
from prep.report.palette import FAINT, INK, MATERIALS, METAL, NORTH, PAPER, SOUTH
from prep.report.paper import NOTE, TITLE, Paper, box, shortened, swatch
from prep.report.section_measures import Span, wall_beside
from prep.report.whole import write_whole
from prep.report.wording import place

WIDTH, HEIGHT = 900, 700
HEAD, FOOT, SIDE = 50, 62, 22
WALL_SHARE = 0.3
"""Walls thicker than this share of the width drawn are not dimensioned."""
HATCHES = ("//", "\\\\", "--", "||")
PALE = {"N": "#e9c3bb", "S": "#bccfdf", "": METAL}
POLE_INK = {"N": NORTH, "S": SOUTH, "": INK}


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


@dataclass(frozen=True, eq=False)
class Plane:
    """The plane of a section and where its places are on the sheet."""

    origin: Array
    right: Array
    up: Array
    normal: Array
    pixels_per_mm: float

    @classmethod
    def of(cls, view: View) -> Plane:
        """The plane of a view, z up where it can be."""
        right, up, normal = axes_seen_from(unit_of(view.normal))
        return cls(np.array(view.at_mm), right, up, normal, (WIDTH - 2 * SIDE) / view.span_mm)

    def cut(self, solid: Solid) -> list[Array]:
        """Outlines of the solid in the plane's axes, (k, 2) mm each."""
        return slice_at(solid, self.origin, self.normal, self.right)

    def flat(self, vector: Array) -> Array:
        """A direction as far as it lies in the plane, (2,)."""
        return np.array([vector @ self.right, vector @ self.up])

    def spot(self, place: Array) -> tuple[float, float]:
        """Where a place (2,) mm of the plane is on the sheet."""
        middle_row = HEAD + (HEIGHT - HEAD - FOOT) / 2.0
        return WIDTH / 2.0 + float(place[0]) * self.pixels_per_mm, middle_row - float(place[1]) * self.pixels_per_mm

    def spots(self, outline: Array) -> Array:
        """Where an outline (k, 2) mm is on the sheet, (k, 2)."""
        return np.array([self.spot(place) for place in outline])


def draw_section(
    view: View,
    parts: Mapping[str, Solid],
    items: Sequence[Item],
    picture: Path,
    drawing: Path,
) -> tuple[Path, Path]:
    """Write a section as PNG and as SVG.

    Parameters
    ----------
    parts : by name
        All finished parts; those the view does not name are shown pale.
    items : of the whole model
        The pole that faces out is drawn at the end an item's axis points to.
    """
    plane = Plane.of(view)
    paper = Paper(WIDTH, HEIGHT)
    frame = box(SIDE, HEAD, WIDTH - SIDE, HEIGHT - FOOT)
    paper.area([frame], fill="white", edge=FAINT, width=0.8, level=0.0)
    named = [name for name in (view.part, *view.with_parts) if name in parts]
    outlines = {name: plane.cut(solid) for name, solid in parts.items()}
    for name, rings in outlines.items():
        rank = named.index(name) if name in named else None
        paper.area(
            [plane.spots(ring) for ring in rings],
            fill="#efece4" if rank is None else MATERIALS[rank % len(MATERIALS)],
            edge=FAINT if rank is None else INK,
            width=0.8 if rank is None else 1.4,
            hatch=None if rank is None else HATCHES[rank % len(HATCHES)],
            within=frame,
        )
    cuts = cut_items(plane, items)
    for cut in cuts:
        _draw_item(paper, plane, cut, frame)
    for cut in cuts:
        for span in walls_of(cut, outlines.get(cut.item.part, []), WALL_SHARE * view.span_mm):
            if _inside(plane, frame, span):
                _draw_span(paper, plane, span, f"{span.length_mm:.2f}")
    for first, second in facing_pairs(cuts):
        _draw_gap(paper, plane, first, second)
    if not any(outlines.values()):
        paper.words((WIDTH / 2, HEIGHT / 2), "the plane meets no material here", level="center")
    _draw_locator(paper, plane, outlines)
    _draw_words(paper, view, named)
    paper.scale_bar(WIDTH - SIDE - 4.0, HEIGHT - 20.0, 1.0 / plane.pixels_per_mm, 170.0)
    return write_whole(picture, paper.png()), write_whole(drawing, paper.svg())


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
    least: dict[bool, Span] = {}
    for first, second in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        way = second - first
        length = float(np.linalg.norm(way))
        if length < 1e-6:
            continue
        flank = not cut.lies_in_plane or abs(float(way @ cut.axis)) > 0.7 * length
        span = wall_beside(outlines, (first, second), reach_mm=max(cut.item.radius_mm, 0.5), most_mm=most_mm)
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


def _draw_item(paper: Paper, plane: Plane, cut: CutItem, frame: Array) -> None:
    item = cut.item
    pole = item.pole_out or ""
    middle = cut.middle
    if item.kind == "magnet" and pole and cut.lies_in_plane:
        for letter, side in ((pole, 1.0), (other_pole(pole), -1.0)):
            half = _half(cut.outline, middle, cut.axis * side)
            paper.area([plane.spots(half)], fill=PALE[letter], edge=POLE_INK[letter], level=6.0, within=frame)
            beside = -0.66 * item.radius_mm * _rightward(cut.axis)
            spot = plane.spot(middle + cut.axis * side * item.length_mm / 4.0 + beside)
            paper.words(spot, letter, size=21, bold=True, tint=POLE_INK[letter], level="center", height="center")
    else:
        paper.area([plane.spots(cut.outline)], fill=item_tint(item), level=6.0, within=frame)
    column, row = plane.spot(middle)
    paper.words((column, row), item.id, size=19, bold=True, level="center", height="center", halo=True)


def _rightward(axis: Array) -> Array:
    """The direction across an axis that points to the right on the sheet, up where it cannot."""
    across = np.array([axis[1], -axis[0]])
    return -across if (round(float(across[0]), 6), float(across[1])) < (0.0, 0.0) else across


def _half(outline: Array, middle: Array, way: Array) -> Array:
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


def _draw_span(paper: Paper, plane: Plane, span: Span, says: str) -> None:
    start, end = np.array(plane.spot(span.start)), np.array(plane.spot(span.end))
    length = float(np.linalg.norm(end - start))
    way = (end - start) / max(length, 1e-9)
    if length >= 30.0:
        paper.arrow((start[0], start[1]), (end[0], end[1]), both=True)
    else:
        tail, head = start - way * 20.0, end + way * 20.0
        paper.arrow((tail[0], tail[1]), (start[0], start[1]))
        paper.arrow((head[0], head[1]), (end[0], end[1]))
    level = abs(way[0]) > 0.5
    spot = (start + end) / 2.0 + (np.array([0.0, -15.0]) if level else np.array([10.0, 0.0]))
    paper.words((spot[0], spot[1]), says, level="center" if level else "left", height="center", halo=True)


def _draw_gap(paper: Paper, plane: Plane, first: CutItem, second: CutItem) -> None:
    axis = first.axis / np.linalg.norm(first.axis)
    start = first.middle + axis * first.item.length_mm / 2.0 + 0.6 * first.item.radius_mm * _rightward(axis)
    away = float((second.middle - first.middle) @ axis)
    gap = away - (first.item.length_mm + second.item.length_mm) / 2.0
    end = start + axis * gap
    a, b = np.array(plane.spot(start)), np.array(plane.spot(end))
    way = np.array([axis[0], -axis[1]])
    tail, head = a - way * 24.0, b + way * 24.0
    paper.arrow((tail[0], tail[1]), (a[0], a[1]))
    paper.arrow((head[0], head[1]), (b[0], b[1]))
    spot = head + way * 12.0
    paper.words((spot[0], spot[1]), f"gap {gap:.2f}", level="center", height="center", halo=True)


def _inside(plane: Plane, frame: Array, span: Span) -> bool:
    spots = np.array([plane.spot(span.start), plane.spot(span.end)])
    return bool((spots > frame.min(axis=0)).all() and (spots < frame.max(axis=0)).all())


def _draw_locator(paper: Paper, plane: Plane, outlines: Mapping[str, Sequence[Array]]) -> None:
    """The whole section small in a corner, with the window that is drawn large."""
    rings = [ring for part in outlines.values() for ring in part]
    window = np.array([WIDTH - 2 * SIDE, HEIGHT - HEAD - FOOT]) / plane.pixels_per_mm
    if not rings:
        return
    corners = np.concatenate(rings)
    low, high = corners.min(axis=0), corners.max(axis=0)
    if (high - low < 1.15 * window).all():
        return
    inset = np.array([170.0, 116.0])
    scale = float(((inset - 20.0) / np.maximum(high - low, 1e-9)).min())
    left, bottom = SIDE + 8.0, HEIGHT - FOOT - 8.0
    paper.area([box(left, bottom - inset[1], left + inset[0], bottom)], fill=PAPER, edge=FAINT, width=0.8, level=16.0)
    centre = np.array([left, bottom]) + inset * np.array([0.5, -0.5])

    def small(places: Array) -> Array:
        return np.asarray(centre + (places - (low + high) / 2.0) * scale * np.array([1.0, -1.0]))

    for part in outlines.values():
        paper.area([small(ring) for ring in part], fill="#d6d2c8", edge=INK, width=0.5, level=17.0)
    half = window / 2.0
    view = small(np.array([[-half[0], -half[1]], [half[0], -half[1]], [half[0], half[1]], [-half[0], half[1]]]))
    edge = box(left, bottom - inset[1], left + inset[0], bottom)
    paper.area([view], fill="none", edge=NORTH, width=1.3, level=18.0, within=edge)


def _draw_words(paper: Paper, view: View, named: Sequence[str]) -> None:
    at = place(view.at_mm)
    paper.words((SIDE, 33), shortened(view.title, WIDTH - 3 * SIDE - 0.62 * NOTE * len(at)), size=TITLE, bold=True)
    paper.words((WIDTH - SIDE, 33), at, level="right")
    column = float(SIDE)
    for rank, name in enumerate(named):
        tint, hatch = MATERIALS[rank % len(MATERIALS)], HATCHES[rank % len(HATCHES)]
        says = shortened(name, 600.0 / len(named), NOTE)
        paper.area([swatch(column, HEIGHT - 36.0, 20.0)], fill=tint, hatch=hatch, width=0.9)
        paper.words((column + 28.0, HEIGHT - 20.0), says)
        column += 56.0 + 0.6 * NOTE * len(says)
