"""`light_wall_of`: how thick the light wall is, snapped to what the process lays down, and what light it passes."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from prep.errors import DoesNotFit, UnknownRow
from prep.geometry.solid import Array
from prep.physics.fresnel import slab_transmission
from prep.physics.transmission import transmission_of
from prep.places.led_wanted import WindowWanted
from prep.tables import ProcessRow, Tables

INSERT_MM = 1.5
"""Thickness of a clear insert, if the recipe does not say."""

STANDS_DEG = 15.0
"""A wall leaning less than this from upright is made of beads side by side; one lying as flat, of whole layers."""


@dataclass(frozen=True)
class WindowWall:
    """The wall or insert a window is filled with.

    Attributes
    ----------
    wall_mm, asked_mm : as made, and as asked before it was snapped
    passes, asked_passes : share of the light through either, 0 to 1
    snapped : "2 beads", "6 layers", or why it was not snapped
    count : of beads or layers; 0 where it was not snapped
    verified : whether the shop measured the curve
    says : how the light was found, in words
    """

    wall_mm: float
    asked_mm: float
    passes: float
    asked_passes: float
    snapped: str
    count: int
    verified: bool
    says: str


def window_wall(
    wanted: WindowWanted, material: str, tables: Tables, process: ProcessRow, out: Array, up: Array
) -> WindowWall:
    """Thickness and light of a window.

    Parameters
    ----------
    material : of the part
    out, up : (3,) unit
        Out of the skin at the window's middle, and the build direction.

    Raises
    ------
    DoesNotFit
        The wall would be thinner than the process prints.
    NoTransmission, WindowTooBright
        Nobody measured the material, or it passes less however thin.
    UnknownRow
        The insert's material is not clear.
    """
    if wanted.insert is not None:
        return _insert(wanted, wanted.insert, tables)
    curve = transmission_of(tables, material)
    asked = wanted.wall if wanted.wall is not None else curve.thickness_for(wanted.transmit or 0.0)
    wall, snapped, count = _snapped(asked, process, out, up)
    if wall < process.wall_limit_mm - 1e-9:
        raise DoesNotFit(
            "the light wall would be thinner than the process prints",
            found=f"{wall:.2f} mm ({snapped}), limit {process.wall_limit_mm:g} mm",
            fix=f"ask for {process.wall_limit_mm:g} mm or more, or for an insert",
        )
    beyond = curve.beyond(wall)
    return WindowWall(
        wall_mm=wall,
        asked_mm=asked,
        passes=curve.share(wall),
        asked_passes=curve.share(asked),
        snapped=snapped,
        count=count,
        verified=curve.verified and not beyond,
        says=beyond or curve.says,
    )


def _snapped(asked: float, process: ProcessRow, out: Array, up: Array) -> tuple[float, str, int]:
    """The nearest whole number of beads or layers that the process prints, and that number in words."""
    lean = math.degrees(math.asin(float(np.clip(abs(out @ up), 0.0, 1.0))))
    if process.bead_mm > 0.0 and lean <= STANDS_DEG:
        step, word = process.bead_mm, "bead"
    elif lean >= 90.0 - STANDS_DEG:
        step, word = process.layer_mm, "layer"
    elif process.bead_mm > 0.0:
        return asked, f"not snapped: it leans {lean:.0f} deg, across beads and layers", 0
    else:
        return asked, "not snapped: the process lays no beads", 0
    count = max(1, round(asked / step))
    if count * step < process.wall_limit_mm <= asked:
        count = math.ceil(process.wall_limit_mm / step - 1e-9)
    return count * step, f"{count} {word}{'' if count == 1 else 's'}", count


def _insert(wanted: WindowWanted, name: str, tables: Tables) -> WindowWall:
    row = tables.materials.get(name)
    if row.index <= 0.0:
        clear = [one.name for one in tables.materials.rows if one.index > 0.0]
        raise UnknownRow(
            f"{name} is not a clear material",
            found=f"no index in row `{name}` of the materials table",
            fix=f"choose one of: {', '.join(clear)}",
        )
    thick = wanted.thick or INSERT_MM
    passes = slab_transmission(row.index) * (1.0 - row.absorption_per_mm) ** thick
    says = f"clear slab of index {row.index:g}, {row.absorption_per_mm:.2%} lost in each mm"
    return WindowWall(thick, thick, passes, passes, "an insert", 0, row.status != "unverified default", says)
