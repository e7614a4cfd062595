"""`draw_survey`: a part from six sides, square on, with rulers in mm and its flats numbered."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from prep.build.survey import FlatRecord
from prep.geometry.solid import Array, Solid
from prep.report.camera import Camera
from prep.report.palette import FAINT, INK, STONE, linear
from prep.report.paper import FINE_PRINT, NOTE, TITLE, Paper, round_length
from prep.report.shading import Subject, shade
from prep.report.whole import write_whole

SIDES = ("+z", "-z", "+x", "-x", "+y", "-y")
CELL, RULER, HEAD = 470, 46, 60
SQUARE = 0.94
"""Cosine between a flat's normal and the view within which it is seen square on."""


def draw_survey(solid: Solid, flats: Sequence[FlatRecord], path: Path, *, title: str) -> Path:
    """Write six views of a part, each with the coordinates along its edges and a number on every flat seen square on.

    The rulers count in the part's own frame, so that a place read off them can be written into a recipe.
    """
    paper = Paper(3 * CELL, HEAD + 2 * CELL)
    paper.words((22, 36), title, size=TITLE, bold=True)
    paper.words((paper.width - 22, 36), "rulers in mm, in the frame of the file; numbers are flats", level="right")
    subject = Subject.of([solid], [linear(STONE)])
    for turn, side in enumerate(SIDES):
        left, top = (turn % 3) * CELL, HEAD + (turn // 3) * CELL
        out = np.eye(3)["xyz".index(side[1])] * (1.0 if side[0] == "+" else -1.0)
        camera = Camera.fitted([solid], out, width=CELL - RULER, height=CELL - RULER - 30, margin=0.03)
        paper.picture(shade(subject, camera), left + RULER, top + 30)
        paper.words((left + RULER, top + 20), f"seen from {side}", size=NOTE, bold=True)
        _rulers(paper, camera, solid.bounds_mm, left + RULER, top + 30)
        for number, flat in enumerate(flats, start=1):
            spot = _seen(subject, camera, flat)
            if spot is not None:
                column, row = camera.pixels(spot[None])[0]
                at = (float(column) + left + RULER, float(row) + top + 30)
                paper.ring(at, 11.0, fill="white", width=1.0)
                paper.words((at[0], at[1] + 0.5), str(number), size=FINE_PRINT, level="center", height="center")
    return write_whole(path, paper.png())


def _seen(subject: Subject, camera: Camera, flat: FlatRecord) -> Array | None:
    """The middle of a flat, or else a point on it, whichever is in view; None where neither is, or it looks aside."""
    if np.array(flat.normal) @ camera.out < SQUARE:
        return None
    for spot in (np.array(flat.at_mm), np.array(flat.on_mm)):
        start = spot + camera.out * (2.0 * camera.reach_mm + subject.scene.diagonal_mm)
        far = float(subject.scene.cast(start[None], -camera.out[None]).distance_mm[0])
        if np.isfinite(far) and np.linalg.norm(start - far * camera.out - spot) < 0.02:
            return np.asarray(spot)
    return None


def _rulers(paper: Paper, camera: Camera, bounds_mm: Array, left: int, top: int) -> None:
    """Ticks with coordinates along the lower and the left edge of a view."""
    step = round_length(camera.mm_per_pixel * 90.0)
    for way, level in ((camera.right, True), (camera.up, False)):
        axis = int(np.argmax(np.abs(way)))
        low, high = bounds_mm[:, axis]
        name = "xyz"[axis]
        for count in range(int(np.ceil(low / step)), int(np.floor(high / step)) + 1):
            point = np.array(camera.middle)
            point[axis] = count * step
            column, row = camera.pixels(point[None])[0]
            text = f"{name} {count * step:g}" if count == int(np.ceil(low / step)) else f"{count * step:g}"
            if level:
                foot = top + camera.height
                paper.line([(column + left, foot), (column + left, foot - 8)], tint=INK, width=0.8)
                paper.line([(column + left, foot), (column + left, top)], tint=FAINT, width=0.3)
                paper.words((column + left, foot + 14), text, size=FINE_PRINT - 3, level="center")
            else:
                paper.line([(left, row + top), (left + 8, row + top)], tint=INK, width=0.8)
                paper.line([(left, row + top), (left + camera.width, row + top)], tint=FAINT, width=0.3)
                paper.words((left - 4, row + top), text, size=FINE_PRINT - 3, level="right", height="center")
