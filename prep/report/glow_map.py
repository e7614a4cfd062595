"""`draw_glow`: the model in the dark: what its lamps make glow, windows outlined, leaks numbered."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from prep.contract import Window
from prep.contract.lit import Glow
from prep.geometry.solid import Array, Indices
from prep.places.light_leaks import LeakSpot, show_ratio
from prep.report.camera import Camera
from prep.report.palette import GLOW, INK, PAPER, encoded, linear
from prep.report.paper import FINE_PRINT, NOTE, TITLE, Paper, shortened
from prep.report.shading import Floats, Subject, shade
from prep.report.whole import write_whole
from prep.units import show_mm, show_percent

VIEWS = ((0.95, -1.5, 1.05), (-0.95, 1.5, -1.05))
WIDTH, HEIGHT, HEAD, FOOT, ROW = 780, 560, 50, 62, 24
MOST_NAMED = 12

STOPS = (0.001, 1.0, 1.0, 7.0, 50.0)
"""Luminance in limits at which the tints below stand; between them they are mixed by its logarithm."""
TINTS = ("#3c464d", "#66757d", "#a5562c", "#dd9a45", GLOW)
UNLIT = "#333b41"
LIT_INSIDE = "#c9c4b6"
KINDS = {"wall": "wall", "hollow": "wall of a hole or recess", "seam": "seam", "opening": "opening"}


def draw_glow(glow: Glow, path: Path, *, title: str) -> Path:
    """Write the whole model with all covers on from two opposite corners, tinted by luminance over that of the window.

    Skin in a lamp's own light, seen through an opening, has one pale tint: it is no wall that glows.
    """
    field = glow.light.field
    tints = glow_tints(glow)

    def paint(triangle: Indices, _: Floats) -> Floats:
        return np.asarray(tints[triangle], dtype=np.float32)

    subject = Subject(field.scene, paint, None)
    named = glow.shown.leaks[:MOST_NAMED]
    paper = Paper(2 * WIDTH, HEIGHT + ROW * max(1, -(-len(named) // 2)))
    paper.words((22, 33), shortened(title, WIDTH, TITLE), size=TITLE, bold=True)
    paper.words((paper.width - 22, 33), "with all covers on, from two opposite corners", level="right")
    for turn, view in enumerate(VIEWS):
        camera = Camera.fitted(field.solids, np.array(view), width=WIDTH, height=HEIGHT - HEAD - FOOT)
        paper.picture(shade(subject, camera), turn * WIDTH, HEAD)
        for window in glow.light.windows:
            _outline(paper, camera, subject, window, turn * WIDTH)
        for number, leak in enumerate(named, start=1):
            _number(paper, camera, subject, leak, number, turn * WIDTH)
        if turn == 0:
            paper.scale_bar(WIDTH - 26.0, HEIGHT - 22.0, camera.mm_per_pixel, 170.0)
            paper.axis_glyph(camera, (54.0, HEIGHT - 50.0))
    glow_legend(paper, glow.limit, 1.5 * WIDTH, HEIGHT - 30.0)
    _list(paper, glow, named)
    return write_whole(path, paper.png())


def glow_tints(glow: Glow) -> Floats:
    """Linear light of every triangle of the field's scene, (m, 3)."""
    field = glow.light.field
    cell = field.cells.of_triangle
    ratio = glow.shown.ratio[cell] / glow.limit
    light = np.array([linear(tint) for tint in TINTS])
    stops = np.log(np.array(STOPS))
    stops[1] -= 1e-9
    level = np.log(np.maximum(ratio, STOPS[0]))
    mixed = np.stack([np.interp(level, stops, light[:, channel]) for channel in range(3)], axis=1)
    mixed[ratio < STOPS[0]] = linear(UNLIT)
    seen = np.where(
        np.isfinite(glow.light.window_glow) & (glow.light.window_glow > 0.0), glow.light.window_glow, np.inf
    )
    aired = (field.aired[field.onto] / np.pi / seen).max(axis=1)[cell]
    inside = (aired > glow.limit) & (aired > glow.shown.ratio[cell])
    mixed[inside] = linear(LIT_INSIDE)
    return np.asarray(mixed, dtype=np.float32)


def glow_legend(paper: Paper, limit: float, middle: float, row: float) -> None:
    """Draw the key to the tints, centred on a place; words and a line mark the limit, beside the tints."""
    cells = (
        (0.03, "less"),
        (0.4, ""),
        (1.5, f"limit {show_percent(limit)}"),
        (7.0, ""),
        (50.0, "as bright as a window"),
    )
    side = 74.0
    left = middle - side * (len(cells) + 1.0) / 2.0
    light = np.array([linear(tint) for tint in TINTS])
    stops = np.log(np.array(STOPS))
    stops[1] -= 1e-9
    for turn, (share, says) in enumerate(cells):
        mixed = np.array([[np.interp(np.log(share), stops, light[:, channel]) for channel in range(3)]])
        start = left + turn * side
        _swatch(paper, start, row, side, encoded(np.asarray(mixed, dtype=np.float32))[0])
        if says:
            paper.words((start, row + 22), says, size=FINE_PRINT)
    edge = left + 2.0 * side
    paper.line([(edge, row - 14), (edge, row + 8)], width=2.0)
    start = left + 5.7 * side
    _swatch(paper, start + side, row, side / 2.0, encoded(linear(LIT_INSIDE)))
    paper.words((start + 1.6 * side, row + 3), "lit inside", size=FINE_PRINT)


def _swatch(paper: Paper, start: float, row: float, side: float, code: NDArray[np.uint8]) -> None:
    box = np.array([[start, row - 10], [start + side, row - 10], [start + side, row + 4], [start, row + 4]])
    paper.area([box], fill="#" + "".join(f"{int(value):02x}" for value in code), edge=PAPER, width=0.6)


def _outline(paper: Paper, camera: Camera, subject: Subject, window: Window, left: int) -> None:
    """A window's outline where its middle is in view, with its id."""
    out, across = np.array(window.out), np.array(window.across)
    middle = np.array(window.at_mm)
    if not _in_view(subject, camera, middle + 0.02 * out):
        return
    turn = np.linspace(0.0, 2.0 * np.pi, 73)
    flat = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    if window.shape == "slot":
        flat = flat / np.abs(flat).max(axis=1)[:, None]
    around = middle + flat[:, :1] * window.half_mm[0] * across + flat[:, 1:] * window.half_mm[1] * np.cross(out, across)
    spots = camera.pixels(around) + np.array([left, HEAD])
    paper.line(spots, tint=PAPER, width=3.4)
    paper.line(spots, tint=INK, width=1.6, dashed=True)
    column, row = spots[int(np.argmin(spots[:, 1]))]
    paper.words((float(column), float(row) - 8.0), window.id, size=FINE_PRINT, bold=True, level="center", halo=True)


def _number(paper: Paper, camera: Camera, subject: Subject, leak: LeakSpot, number: int, left: int) -> None:
    """A leak's number beside its place; dashed where the place is behind the model."""
    spot = camera.pixels(np.array([leak.at_mm]))[0] + np.array([left, HEAD])
    near = _in_view(subject, camera, np.array(leak.at_mm))
    at = (float(spot[0]), float(spot[1]))
    if near:
        paper.ring(at, 4.0, edge=PAPER, fill=INK, width=1.4)
        paper.line([at, (at[0] + 15.0, at[1] - 15.0)], tint=PAPER, width=2.2)
        paper.ring((at[0] + 21.0, at[1] - 21.0), 11.0, fill="white", width=1.2)
        paper.words((at[0] + 21.0, at[1] - 20.5), str(number), size=NOTE, bold=True, level="center", height="center")
    else:
        paper.ring(at, 11.0, edge=PAPER, width=1.2, dashed=True)
        paper.words((at[0], at[1] + 0.5), str(number), size=FINE_PRINT, tint=PAPER, level="center", height="center")


def _in_view(subject: Subject, camera: Camera, spot: Array) -> bool:
    """Whether nothing stands before a place of the skin, a fiftieth of the model aside."""
    start = spot + camera.out * (2.0 * camera.reach_mm + subject.scene.diagonal_mm)
    far = float(subject.scene.cast(start[None], -camera.out[None]).distance_mm[0])
    behind = float(np.linalg.norm(start - spot)) - far
    return not np.isfinite(far) or behind < 0.02 * subject.scene.diagonal_mm


def _list(paper: Paper, glow: Glow, named: Sequence[LeakSpot]) -> None:
    if not named:
        says = f"nothing outside the windows shows more than {show_percent(glow.limit)} of a window's luminance"
        paper.words((22, HEIGHT + 12.0), says)
        return
    for number, leak in enumerate(named, start=1):
        turn, line = (number - 1) % 2, (number - 1) // 2
        size = f"{show_mm(leak.wide_mm)} open" if leak.kind in {"seam", "opening"} else f"{show_mm(leak.wall_mm)} thick"
        says = (
            f"{number}  {glow.light.names[leak.part]}: {KINDS[leak.kind]}, {size}, {show_ratio(leak.ratio)} its window"
        )
        if number == len(named) and len(glow.shown.leaks) > len(named):
            says += f"; and {len(glow.shown.leaks) - len(named)} more"
        paper.words((22 + turn * WIDTH, HEIGHT + 12.0 + ROW * line), shortened(says, WIDTH - 40.0, NOTE))
