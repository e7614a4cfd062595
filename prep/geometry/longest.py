"""`check_longest`: the one stated dimension held against the one read."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from prep.errors import WrongUnit
from prep.geometry.raw_mesh import MILLIMETRES
from prep.geometry.solid import Array

_NEAR = 0.02
"""How far off, relative, a reading in another unit may be and still count as the likely one."""

_TRIED = ("inch", "cm", "m", "mm", "micron", "foot")
"""Units tried, the likeliest first; decides between equals."""


def check_longest(extents_mm: Array | Sequence[float], stated_mm: float, tolerance_mm: float, unit: str) -> None:
    """Hold the longest extent of a part against the one stated.

    Parameters
    ----------
    extents_mm : (3,) mm
        Size along x, y and z as read.
    stated_mm, tolerance_mm : float, mm
        The longest dimension stated, and how far off it may be.
    unit : str
        The unit in which the file was read, one of `MILLIMETRES`.

    Raises
    ------
    WrongUnit
        The longest extent is outside the tolerance. Both readings are named, and the unit that would explain it if
        any does within the tolerance or 2 %.
    """
    found = float(np.max(np.asarray(extents_mm)))
    if abs(found - stated_mm) <= tolerance_mm:
        return
    number = found / MILLIMETRES[unit]
    slack = max(tolerance_mm, _NEAR * stated_mm)
    readings = {word: number * MILLIMETRES[word] for word in _TRIED if word != unit}
    fitting = [word for word in readings if abs(readings[word] - stated_mm) <= slack]
    likely = min(fitting, key=lambda word: abs(readings[word] - stated_mm), default=None)
    read_as = f"{number:.6g} read as {unit} is {found:.6g} mm"
    if likely is None:
        raise WrongUnit(
            "the longest dimension is not the one stated, and no unit explains it",
            found=f"{read_as}, stated {stated_mm:.6g} ± {tolerance_mm:.3g} mm: {stated_mm / found:.4g} times it",
            fix="check `longest`, or whether this is the right file and the right revision",
        )
    raise WrongUnit(
        f"the longest dimension is not the one stated; the file looks as if it were in {likely}",
        found=f"{read_as}, read as {likely} it is {readings[likely]:.6g} mm; stated {stated_mm:.6g} ± "
        f"{tolerance_mm:.3g} mm",
        fix=f"write `unit: {likely}` if that is right, or correct `longest`",
    )
