"""Shaded pictures: a part, a part before and after, the map of its items, its walls, and the model taken apart."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from prep.contract import Item
from prep.geometry.rays import RayScene
from prep.geometry.solid import Array, Indices, Solid
from prep.report.camera import Camera
from prep.report.changed import changed_triangles
from prep.report.hardware import has_own_shape, item_solid, item_tint, leading
from prep.report.palette import CHANGED, FAINT, MATERIALS, MOSS, ROSE, SLATE, STONE, linear
from prep.report.paper import NOTE, TITLE, Paper, shortened, swatch
from prep.report.shading import Floats, Subject, shade
from prep.report.wall_tints import wall_legend, wall_tints
from prep.report.whole import write_whole

CORNER = (0.95, -1.5, 1.05)
"""From where a part is seen unless another corner shows more of what was done."""
WIDTH, HEIGHT = 900, 700
HEAD, FOOT = 50, 62


def draw_part(
    solid: Solid,
    path: Path,
    *,
    direction: Sequence[float] = CORNER,
    tint: str = STONE,
    changed: NDArray[np.bool_] | None = None,
    title: str = "",
    note: str = "",
) -> Path:
    """Write a picture of one solid.

    Parameters
    ----------
    direction : (3,)
        From the solid to the eye.
    changed : (m,) bool, optional
        Triangles shown in the tint of what a step made.
    """
    camera = _camera([solid], direction, WIDTH, HEIGHT)
    paper = Paper(WIDTH, HEIGHT)
    paper.picture(shade(Subject.of([solid], [_painted(tint, changed)]), camera), 0, HEAD)
    _caption(paper, title, note)
    _foot(paper, camera, WIDTH)
    return write_whole(path, paper.png())


def draw_pair(before: Solid, after: Solid, path: Path, *, title: str, tint: str = STONE) -> Path:
    """Write a part as it came and as it is finished, side by side, one view and one scale; what is new is tinted."""
    changed = changed_triangles(before, after)
    finished = Subject.of([after], [_painted(tint, changed)])
    direction = most_telling(after, finished.scene, changed)
    camera = _camera([before, after], direction, WIDTH - 120, HEIGHT)
    paper = Paper(2 * camera.width, HEIGHT)
    paper.picture(shade(finished, camera), camera.width, HEAD)
    del finished  # two large parts are not held ready for rays at once
    paper.picture(shade(Subject.of([before], [linear(tint)]), camera), 0, HEAD)
    paper.line([(camera.width, HEAD + 10), (camera.width, HEIGHT - 12)], tint=FAINT, width=0.8)
    _caption(paper, f"{title}: as exported", "")
    paper.words((camera.width + 22, 33), "finished", size=TITLE, bold=True)
    paper.area([swatch(camera.width + 142, 18, 16.0)], fill=CHANGED, width=0.9)
    paper.words((camera.width + 166, 33), "cut or added by a step")
    _foot(paper, camera, 2 * camera.width)
    return write_whole(path, paper.png())


def draw_map(solid: Solid, items: Sequence[Item], out: Array, path: Path, *, title: str, tint: str = STONE) -> Path:
    """Write a part as the person sees who puts its items in: square on, every item with its letter and pole."""
    held = [(body, linear(item_tint(item))) for item in items if has_own_shape(item) and (body := item_solid(item))]
    bodies, tints = [body for body, _ in held], [tint_of for _, tint_of in held]
    camera = _camera([solid], out, WIDTH, HEIGHT, margin=0.12)
    paper = Paper(WIDTH, HEIGHT)
    paper.picture(shade(Subject.of([solid, *bodies], [linear(tint), *tints]), camera), 0, HEAD)
    _caption(paper, title, "seen along its items")
    middle = np.array([WIDTH / 2.0, camera.height / 2.0])
    named = leading(items)
    for item, spot in zip(named, camera.pixels(np.array([item.at_mm for item in named])), strict=True):
        radius = max(item.radius_mm / camera.mm_per_pixel, 5.0) if has_own_shape(item) else 5.0
        away = spot - middle
        reach = float(np.hypot(*away))
        away = away / reach if reach > 1.0 else np.array([0.0, -1.0])
        at = (float(spot[0]), float(spot[1]) + HEAD)
        paper.ring(at, radius, fill="none" if has_own_shape(item) else "white", width=1.3)
        if item.pole_out:
            paper.ring(at, 12.5, fill="white", width=1.0)
            paper.words((at[0], at[1] + 0.5), item.pole_out, size=NOTE, bold=True, level="center", height="center")
        start, end = spot + away * radius, spot + away * (radius + 22.0)
        paper.line([(start[0], start[1] + HEAD), (end[0], end[1] + HEAD)], width=1.0)
        right = away[0] >= 0.0
        paper.words(
            (float(end[0]) + (4 if right else -4), float(end[1]) + HEAD),
            item.id,
            size=19,
            bold=True,
            level="left" if right else "right",
            height="center",
            halo=True,
        )
    _foot(paper, camera, WIDTH)
    if any(item.pole_out for item in items):
        paper.words((130, HEIGHT - 20), "N, S: the pole that faces you")
    return write_whole(path, paper.png())


def draw_lift(solid: Solid, pieces: Sequence[Solid], shifts: Array, path: Path, *, title: str) -> Path:
    """Write the pieces that sit on a part while it is painted: seated, and beside it lifted off, one view, one scale.

    Parameters
    ----------
    shifts : (n, 3) mm, how far each piece is lifted
    """
    moved = []
    for piece, shift in zip(pieces, shifts, strict=True):
        matrix = np.eye(4)
        matrix[:3, 3] = shift
        moved.append(piece.moved(matrix))
    tints = [linear(STONE), *(linear(tint) for tint in _repeated((SLATE, MOSS, ROSE), len(pieces)))]
    camera = _camera([solid, *pieces, *moved], CORNER, WIDTH - 120, HEIGHT)
    paper = Paper(2 * camera.width, HEIGHT)
    paper.picture(shade(Subject.of([solid, *pieces], tints), camera), 0, HEAD)
    paper.picture(shade(Subject.of([solid, *moved], tints), camera), camera.width, HEAD)
    paper.line([(camera.width, HEAD + 10), (camera.width, HEIGHT - 12)], tint=FAINT, width=0.8)
    _caption(paper, f"{title}: seated", "")
    paper.words((camera.width + 22, 33), "lifted off", size=TITLE, bold=True)
    _foot(paper, camera, 2 * camera.width)
    return write_whole(path, paper.png())


def draw_model(parts: Mapping[str, Solid], items: Sequence[Item], path: Path, *, title: str) -> Path:
    """Write all parts with their items, taken apart along the direction in which they follow one another."""
    shifts = apart({name: solid.bounds_mm for name, solid in parts.items()})
    solids: list[Solid] = []
    tints: list[Floats] = []
    for (name, solid), tint in zip(parts.items(), _repeated(MATERIALS, len(parts)), strict=True):
        matrix = np.eye(4)
        matrix[:3, 3] = shifts[name]
        own = [item for item in items if item.part == name and has_own_shape(item)]
        held = [(body, item_tint(item)) for item in own if (body := item_solid(item))]
        solids += [solid.moved(matrix), *(body.moved(matrix) for body, _ in held)]
        tints += [linear(tint), *(linear(shade_of) for _, shade_of in held)]
    camera = _camera(solids, CORNER, WIDTH + 200, HEIGHT + 60)
    paper = Paper(WIDTH + 200, HEIGHT + 60)
    paper.picture(shade(Subject.of(solids, tints), camera), 0, HEAD)
    _caption(paper, title, "parts moved apart along one axis" if len(parts) > 1 else "")
    for (name, solid), tint in zip(parts.items(), _repeated(MATERIALS, len(parts)), strict=True):
        corners = camera.pixels(solid.vertices + shifts[name])
        right = float(corners[:, 0].max()) + 10.0
        row = float(corners[:, 1].mean()) + HEAD
        paper.area([swatch(right, row - 8, 16.0)], fill=tint, width=0.9, level=18.0)
        paper.words((right + 24, row), shortened(name, paper.width - right - 24, NOTE), height="center", halo=True)
    _foot(paper, camera, paper.width)
    return write_whole(path, paper.png())


def draw_walls(solid: Solid, thickness_mm: Array, limit_mm: float, path: Path, *, title: str) -> Path:
    """Write the wall thickness over a part from two opposite corners, with its key.

    Parameters
    ----------
    thickness_mm : (n,)
        At every vertex; NaN where there is no wall to measure.
    limit_mm : float
        The least wall of the process.
    """
    corners = np.asarray(thickness_mm, dtype=np.float64)[solid.triangles]

    def paint(triangle: Indices, share: Floats) -> Floats:
        three = corners[triangle]
        mixed = three[:, 0] * (1.0 - share.sum(axis=1)) + (three[:, 1:] * share).sum(axis=1)
        return wall_tints(mixed, limit_mm)

    subject = Subject.painted([solid], paint)
    views = [np.array(CORNER), -np.array(CORNER)]
    cameras = [_camera([solid], view, WIDTH - 120, HEIGHT) for view in views]
    paper = Paper(2 * cameras[0].width, HEIGHT)
    for turn, camera in enumerate(cameras):
        paper.picture(shade(subject, camera), turn * camera.width, HEAD)
    _caption(paper, title, "wall thickness, from two opposite corners")
    _foot(paper, cameras[0], cameras[0].width)
    wall_legend(paper, limit_mm, 1.5 * cameras[0].width, HEIGHT - 26.0)
    return write_whole(path, paper.png())


def most_telling(after: Solid, scene: RayScene, changed: NDArray[np.bool_]) -> Array:
    """The corner, of eight, that shows most of what changed; the usual one unless another shows a quarter more."""
    usual = np.array(CORNER)
    if not changed.any():
        return usual
    signs = [(x, y, z) for z in (1, -1) for y in (1, -1) for x in (1, -1)]
    candidates = [usual * np.array(sign) for sign in signs]
    counts = []
    for direction in candidates:
        camera = Camera.fitted([after], direction, width=120, height=90)
        rows, columns = np.mgrid[0:90, 0:120]
        origins = camera.origins(columns.ravel() + 0.5, rows.ravel() + 0.5)
        hits = scene.cast(origins, np.broadcast_to(-camera.out, origins.shape))
        counts.append(int(changed[hits.triangle[hits.triangle >= 0]].sum()))
    best = int(np.argmax(counts))
    return candidates[best] if counts[best] > 1.25 * counts[0] else usual


def apart(bounds: Mapping[str, Array]) -> dict[str, Array]:
    """How far each part moves so that no two overlap along the axis on which their middles differ most.

    Parameters
    ----------
    bounds : by name, (2, 3) mm

    Returns
    -------
    by name, (3,) mm
    """
    middles = np.array([box.mean(axis=0) for box in bounds.values()])
    axis = int(np.argmax(np.round(np.ptp(middles, axis=0), 6) + np.array([0.0, 0.0, 1e-9])))
    gap = 0.22 * float(max(np.linalg.norm(box[1] - box[0]) for box in bounds.values()))
    shifts = {name: np.zeros(3) for name in bounds}
    reached = -np.inf
    for name in sorted(bounds, key=lambda name: (float(bounds[name][:, axis].mean()), name)):
        low, high = (float(value) for value in bounds[name][:, axis])
        move = max(0.0, reached + gap - low) if np.isfinite(reached) else 0.0
        shifts[name][axis] = move
        reached = high + move
    return shifts


def _camera(
    solids: Sequence[Solid], direction: Sequence[float] | Array, width: int, height: int, margin: float = 0.05
) -> Camera:
    return Camera.fitted(solids, np.asarray(direction), width=width, height=height - HEAD - FOOT, margin=margin)


def _painted(tint: str, changed: NDArray[np.bool_] | None) -> Floats:
    if changed is None:
        return linear(tint)
    return np.asarray(np.where(changed[:, None], linear(CHANGED), linear(tint)), dtype=np.float32)


def _caption(paper: Paper, title: str, note: str) -> None:
    paper.words((22, 33), shortened(title, paper.width - 44 - 0.6 * NOTE * len(note)), size=TITLE, bold=True)
    if note:
        paper.words((paper.width - 22, 33), note, level="right")


def _foot(paper: Paper, camera: Camera, width: int) -> None:
    paper.scale_bar(width - 26.0, paper.height - 22.0, camera.mm_per_pixel, 170.0)
    paper.axis_glyph(camera, (54.0, paper.height - 50.0))


def _repeated(tints: Sequence[str], count: int) -> list[str]:
    return [tints[k % len(tints)] for k in range(count)]
