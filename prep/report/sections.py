"""`draw_section`: a true cut through a feature, dimensioned, as a drawing and as a picture."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np

from prep.contract import Item, View
from prep.geometry.solid import Array, Solid
from prep.report.hardware import item_tint, leading, other_pole
from prep.report.palette import FAINT, INK, MATERIALS, METAL, NORTH, PAPER, SOUTH
from prep.report.paper import NOTE, TITLE, Level, Paper, box, shortened, swatch
from prep.report.section_items import CutItem, cut_items, facing_pairs, filled, half_of, walled_side, walls_of
from prep.report.section_measures import Span
from prep.report.section_plane import FOOT, HEAD, HEIGHT, SIDE, WIDTH, Plane
from prep.report.whole import write_whole
from prep.report.wording import place

WALL_SHARE = 0.3
"""Walls thicker than this share of the width drawn are not dimensioned."""
HATCHES = ("//", "\\\\", "--", "||")
PALE = {"N": "#e9c3bb", "S": "#bccfdf", "": METAL}
POLE_INK = {"N": NORTH, "S": SOUTH, "": INK}


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
    cuts = [filled(cut, outlines.get(cut.item.part, [])) for cut in cut_items(plane, items)]
    named_items = {item.id for item in leading(items)}
    spans = [
        walls_of(cut, outlines.get(cut.item.part, []), WALL_SHARE * view.span_mm) if cut.item.id in named_items else []
        for cut in cuts
    ]
    walls_by_id = {cut.item.id: walls for cut, walls in zip(cuts, spans, strict=True)}
    sides = {cut.item.id: walled_side(cut, walls) for cut, walls in zip(cuts, spans, strict=True)}
    pairs = facing_pairs(cuts)
    sides |= {second.item.id: sides[first.item.id] for first, second in pairs}
    for cut in cuts:
        _draw_item(paper, plane, cut, frame, sides[cut.item.id])
    for cut, walls in zip(cuts, spans, strict=True):
        for span in walls:
            if _inside(plane, frame, span):
                _draw_span(paper, plane, span, above=plane.spot(cut.middle)[1] <= plane.spot(span.start)[1])
    for first, second in pairs:
        beside = -sides[first.item.id]
        both = walls_by_id[first.item.id] + walls_by_id[second.item.id]
        _draw_gap(paper, plane, first, second, beside, _reach(both, first.middle, beside))
    if not any(outlines.values()):
        paper.words((WIDTH / 2, HEIGHT / 2), "the plane meets no material here", level="center")
    _draw_locator(paper, plane, outlines)
    _draw_words(paper, view, named)
    paper.scale_bar(WIDTH - SIDE - 4.0, HEIGHT - 20.0, 1.0 / plane.pixels_per_mm, 170.0)
    return write_whole(picture, paper.png()), write_whole(drawing, paper.svg())


def _draw_item(paper: Paper, plane: Plane, cut: CutItem, frame: Array, letters: Array) -> None:
    item = cut.item
    pole = item.pole_out or ""
    if item.kind == "magnet" and pole and cut.lies_in_plane:
        for letter, side in ((pole, 1.0), (other_pole(pole), -1.0)):
            half = half_of(cut.outline, cut.middle, cut.axis * side)
            paper.area([plane.spots(half)], fill=PALE[letter], edge=POLE_INK[letter], level=6.0, within=frame)
            along = cut.axis * side * item.length_mm / 4.0
            spot = plane.spot(cut.middle + along + 0.66 * item.radius_mm * letters)
            paper.words(spot, letter, size=21, bold=True, tint=POLE_INK[letter], level="center", height="center")
    else:
        paper.area([plane.spots(cut.outline)], fill=item_tint(item), level=6.0, within=frame)
    paper.words(plane.spot(cut.middle), item.id, size=19, bold=True, level="center", height="center", halo=True)


def _draw_span(paper: Paper, plane: Plane, span: Span, *, above: bool) -> None:
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
    spot = (start + end) / 2.0 + (np.array([0.0, -16.0 if above else 16.0]) if level else np.array([10.0, 0.0]))
    paper.words(
        (spot[0], spot[1]), f"{span.length_mm:.2f}", level="center" if level else "left", height="center", halo=True
    )


def _draw_gap(paper: Paper, plane: Plane, first: CutItem, second: CutItem, beside: Array, clear_mm: float) -> None:
    axis = first.axis / np.linalg.norm(first.axis)
    start = first.middle + axis * first.item.length_mm / 2.0 + 0.72 * first.item.radius_mm * beside
    away = float((second.middle - first.middle) @ axis)
    gap = away - (first.item.length_mm + second.item.length_mm) / 2.0
    a, b = np.array(plane.spot(start)), np.array(plane.spot(start + axis * gap))
    way, right = np.array([axis[0], -axis[1]]), np.array([beside[0], -beside[1]])
    for end, from_side in ((a, -way), (b, way)):
        tail = end + from_side * 24.0
        paper.arrow((tail[0], tail[1]), (end[0], end[1]))
    middle = (a + b) / 2.0
    from_arrow = max(first.item.radius_mm, clear_mm) - 0.72 * first.item.radius_mm
    label = middle + right * (from_arrow * plane.pixels_per_mm + 10.0)
    paper.line([(middle[0], middle[1]), (label[0], label[1])], width=0.8)
    level: Level = "center" if abs(right[0]) < 0.5 else "left" if right[0] > 0.0 else "right"
    paper.words((label[0], label[1]), f"gap {gap:.2f}", level=level, height="center", halo=True)


def _reach(walls: Sequence[Span], middle: Array, beside: Array) -> float:
    """How far walls dimensioned on one side reach from the middle, mm; 0 where none is."""
    there = [span for span in walls if float((span.end - span.start) @ beside) > 0.7 * span.length_mm]
    return max((float((span.end - middle) @ beside) for span in there), default=0.0)


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
