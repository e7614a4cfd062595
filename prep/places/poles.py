"""`pole_pattern`: which way each magnet of a set faces, so that a part put on wrongly is pushed off."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from prep.geometry.solid import Array

Pole = Literal["N", "S"]
TURNS_DEG = (180.0, 90.0, 270.0, 120.0, 240.0)
MOST_SEARCHED = 12
SHORTEST_AXIS = 1e-3
"""A mean of seats' axes shorter than this has no direction: the seats look all ways."""


@dataclass(frozen=True)
class PolePattern:
    """Poles that face out of the first part, and what a wrong turn of the second does.

    Attributes
    ----------
    poles : one a place; the second part carries the other pole at each
    wrong_turns : turns in degrees about the middle that also bring magnet over magnet
    pushed_off : for each wrong turn, at how many of the places equal poles meet
    """

    poles: tuple[Pole, ...]
    wrong_turns: tuple[float, ...]
    pushed_off: tuple[int, ...]


def pole_pattern(points: Array, axis: Array, *, within_mm: float = 1.5) -> PolePattern:
    """The pattern under which every wrong turn meets most equal poles; among equals, as many N as S.

    Parameters
    ----------
    points : (n, 3) mm
    axis : (3,)
        Direction in which the second part is put on; its length says nothing. Without one, no turn is found.

    Notes
    -----
    Searches all patterns up to a swap of both poles, for at most `MOST_SEARCHED` magnets; beyond that poles alternate.
    """
    n = len(points)
    length = float(np.linalg.norm(axis))
    turns = []
    for degrees in TURNS_DEG if length > SHORTEST_AXIS else ():
        order = _carried(points, axis / length, math.radians(degrees), within_mm)
        if order is not None:
            turns.append((degrees, order))
    if n > MOST_SEARCHED or n < 2:
        signs = np.where(np.arange(n) % 2 == 0, 1, -1)
    else:
        best: tuple[tuple[int, int, int, int], tuple[int, ...]] | None = None
        for rest in itertools.product((1, -1), repeat=n - 1):
            pattern = np.array((1, *rest))
            pushed = [int((pattern != pattern[order]).sum()) for _, order in turns]
            switches = int((pattern != np.roll(pattern, 1)).sum())
            worth = (min(pushed, default=0), sum(pushed), -abs(int(pattern.sum())), switches)
            if best is None or worth > best[0]:
                best = (worth, tuple(int(sign) for sign in pattern))
        signs = np.array(best[1] if best else (1,) * n)
    return PolePattern(
        tuple("N" if sign > 0 else "S" for sign in signs),
        tuple(degrees for degrees, _ in turns),
        tuple(int((signs != signs[order]).sum()) for _, order in turns),
    )


def _carried(points: Array, axis: Array, angle: float, within_mm: float) -> NDArray[np.intp] | None:
    """Row each point is carried onto by a turn about the middle, or None if some point meets no other."""
    if len(points) < 2:
        return None
    middle = points.mean(axis=0)
    arm = points - middle
    along = (arm @ axis)[:, None] * axis
    flat = arm - along
    turned = along + flat * math.cos(angle) + np.cross(axis, flat) * math.sin(angle)
    apart = np.linalg.norm(turned[:, None] - arm[None], axis=2)
    order = apart.argmin(axis=1)
    if apart.min(axis=1).max() > within_mm or len(set(order.tolist())) < len(points):
        return None
    return np.asarray(order)
