"""`step_wedge`: a bar of wells with floors of graded thickness, one open window, and each thickness engraved beside."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from prep.geometry.lathe import prism
from prep.geometry.solid import Array, Solid, subtract

WELL_MM = 12.0
"""Across: larger than a phone's lens, small enough to print a floor without sagging."""

RIB_MM = 3.0
"""Between wells, against light from the next one."""

ABOVE_MM = 3.0
"""Of the ribs over the thickest floor."""

SEGMENTS = {
    "0": "abcdef", "1": "bc", "2": "abged", "3": "abgcd", "4": "fgbc",
    "5": "afgcd", "6": "afgedc", "7": "abc", "8": "abcdefg", "9": "abcdfg",
}  # fmt: skip
"""Strokes of each numeral: a top, b and c right, d bottom, e and f left, g middle."""


@dataclass(frozen=True)
class Well:
    """One place on the wedge to read.

    Attributes
    ----------
    code : what is engraved beside it
    thickness_mm : of its floor; 0 for the open window
    middle_mm : of the floor's underside, in the solid as it was made, (3,)
    """

    code: str
    thickness_mm: float
    middle_mm: tuple[float, float, float]


def step_wedge(
    steps_mm: Sequence[float], stroke_mm: float = 0.8, mark_mm: float = 0.6, *, standing: bool = False
) -> tuple[Solid, tuple[Well, ...]]:
    """A bar with one open window and a well for every step, in the positive octant with a corner at the origin.

    Parameters
    ----------
    steps_mm : (n,)
        Thickness of each floor.
    stroke_mm, mark_mm : float
        Width and depth of the engraved numerals.
    standing : bool
        Turned to be printed on its long side, floors upright; else flat on the bed, floors down.

    Returns
    -------
    Solid, wells
        The open window comes first, coded 0; then the steps in their order. Floors face -z, or +y when standing.

    Notes
    -----
    Exact: floors are planes. One shell, one handle (the open window).
    """
    height = max(steps_mm) + ABOVE_MM
    pitch = WELL_MM + RIB_MM
    margin = 8.0 * stroke_mm
    size = np.array([pitch * (len(steps_mm) + 1) + RIB_MM, margin + WELL_MM + RIB_MM, height])
    cutters, wells = [], []
    over = 0.1 * height
    for index, step in enumerate((0.0, *steps_mm)):
        left = RIB_MM + index * pitch
        code = code_of(step)
        floor = step or -over
        cutters.append(_box([left, margin, floor], [left + WELL_MM, margin + WELL_MM, height + over]))
        cutters += _numerals(code, left + WELL_MM / 2.0, margin / 2.0, stroke_mm, (height - mark_mm, height + over))
        wells.append((code, step, np.array([left + WELL_MM / 2.0, margin + WELL_MM / 2.0, 0.0])))
    solid = subtract(_box([0.0, 0.0, 0.0], size), cutters)
    turn = np.eye(4)
    if standing:
        turn[:3, :3] = [[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]]
        turn[1, 3] = height
        solid = solid.moved(turn)
    middles = [(turn[:3, :3] @ middle + turn[:3, 3]).tolist() for _, _, middle in wells]
    return solid, tuple(Well(code, step, (x, y, z)) for (code, step, _), (x, y, z) in zip(wells, middles, strict=True))


def code_of(thickness_mm: float) -> str:
    """A thickness as it is engraved: at most two decimals, no zeros at the end."""
    return f"{thickness_mm:.2f}".rstrip("0").rstrip(".")


def _numerals(code: str, x: float, y: float, stroke: float, levels: tuple[float, float]) -> list[Solid]:
    """Cutters of the strokes of a code, centred at (x, y), upright along y."""
    wide, tall, gap = 3.2 * stroke, 5.6 * stroke, stroke
    advance = [2.0 * gap if sign == "." else wide + gap for sign in code]
    left = x - (sum(advance) - gap) / 2.0
    low, half = y - tall / 2.0, (tall - stroke) / 2.0
    bars = {
        "a": (0.0, tall - stroke, wide, tall), "g": (0.0, half, wide, half + stroke), "d": (0.0, 0.0, wide, stroke),
        "f": (0.0, half, stroke, tall), "b": (wide - stroke, half, wide, tall),
        "e": (0.0, 0.0, stroke, half + stroke), "c": (wide - stroke, 0.0, wide, half + stroke),
    }  # fmt: skip
    cutters = []
    for sign, step in zip(code, advance, strict=True):
        boxes = [(0.0, 0.0, stroke, stroke)] if sign == "." else [bars[each] for each in SEGMENTS[sign]]
        for x0, y0, x1, y1 in boxes:
            cutters.append(_box([left + x0, low + y0, levels[0]], [left + x1, low + y1, levels[1]]))
        left += step
    return cutters


def _box(low: Sequence[float] | Array, high: Sequence[float] | Array) -> Solid:
    outline = np.array([[low[0], low[1]], [high[0], low[1]], [high[0], high[1]], [low[0], high[1]]])
    return prism(outline, low[2], high[2], np.eye(4))
