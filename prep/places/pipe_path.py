"""`pipe_paths`: the ways a light pipe may run from a lamp to a place on the outside; how a recipe says its section."""

from __future__ import annotations

import math
from typing import Annotated, Literal

import numpy as np

from prep.errors import DoesNotFit
from prep.geometry.light_pipe import Section
from prep.geometry.solid import Array
from prep.places.place import Place
from prep.units import LENGTH, TextForm, read_numbers, write_numbers

Bends = Literal["auto", "straight", "prism"]

MOST_SLANT_DEG = 30.0
"""Between the last leg and the way out of the skin: beyond it light that runs along the pipe is mostly sent back."""

SHINES_ALONG = 0.7
"""Cosine between a lamp's axis and a first leg that faces it."""

COAXIAL_MM = 0.05


def _read_section(value: object) -> Section:
    if isinstance(value, str) and " x " in value:
        return Section(*read_numbers(value.replace(" x ", ", "), LENGTH, 2))
    return Section(LENGTH.read(value))


def _write_section(section: Section) -> str:
    sides = (section.wide_mm,) if section.is_round else (section.wide_mm, section.tall_mm)
    return write_numbers(sides, LENGTH).replace(", ", " x ")


PipeSection = Annotated[
    Section,
    TextForm(
        _read_section, _write_section, "a diameter, or two sides", ("3 mm", "4 x 2 mm"), "mm", r"^.*\S.*$", held=Section
    ),
]
"""`3 mm` for a round pipe, `4 x 2 mm` for a flat one."""


def pipe_paths(
    start: Array, end: Place, bends: Bends, *, gap_mm: float, across_mm: float, shines: Array | None
) -> list[Array]:
    """Paths from the entry face by the corners to the outside, each (k, 3) mm; straight, then with one bend, then two.

    Parameters
    ----------
    start : (3,) mm
        Where the lamp shines from.
    gap_mm : from there to the entry face
    across_mm : widest size of the section; a leg between two corners is at least twice as long
    shines : (3,), optional
        The lamp's axis: a bent pipe begins with a leg along it.

    Raises
    ------
    DoesNotFit
        No path of the kind asked for: too slanted, too short, or beside the lamp's light.
    """
    found = []
    slant = _slant_deg(np.array(end.at_mm) - start, end)
    if bends != "prism" and slant <= MOST_SLANT_DEG:
        found.append(np.stack([start, np.array(end.at_mm)]))
    if bends != "straight":
        found += _bent(start, end, gap_mm + across_mm, 2.0 * across_mm, shines)
    found = [_from_entry(path, gap_mm) for path in found if np.linalg.norm(path[1] - path[0]) > gap_mm + COAXIAL_MM]
    if not found:
        rise = float((np.array(end.at_mm) - start) @ _last_way(end))
        aside = math.sqrt(max(float(np.sum((np.array(end.at_mm) - start) ** 2)) - rise * rise, 0.0))
        straight = f"straight it would leave {slant:.1f} deg off square, at most {MOST_SLANT_DEG:g} deg"
        bent = (
            f"bent it has {aside:.1f} mm aside and {rise:.1f} mm on, at least {2.0 * across_mm:.1f} mm and a lamp that "
            "shines along its first leg are needed"
        )
        raise DoesNotFit(
            "no light pipe runs from the lamp to the place",
            found="; ".join(([] if bends == "prism" else [straight]) + ([] if bends == "straight" else [bent])),
            fix="move `from` in under the place, farther from it"
            + (", or allow `bends: auto`" if bends == "straight" else ""),
        )
    return found


def _bent(start: Array, end: Place, first_mm: float, between_mm: float, shines: Array | None) -> list[Array]:
    """One bend where the lamp shines aside, two where it shines the way the light leaves; either where nobody says."""
    last = np.array(end.at_mm)
    out = _last_way(end)
    rise = float((last - start) @ out)
    aside = (last - start) - rise * out
    shift = float(np.linalg.norm(aside))
    if shift < between_mm or rise <= 0.0:
        return []
    aside /= shift
    found = []
    if shines is None or shines @ aside > SHINES_ALONG:
        found.append(np.stack([start, start + shift * aside, last]))
    if (shines is None or shines @ out > SHINES_ALONG) and rise > 2.0 * first_mm:
        corner = start + first_mm * out
        found.append(np.stack([start, corner, corner + shift * aside, last]))
    return found


def _last_way(end: Place) -> Array:
    """The axis of the frame that leads out at the place, or straight out where none is near."""
    outward = -np.array(end.inward)
    axis = np.zeros(3)
    row = int(np.argmax(np.abs(outward)))
    axis[row] = np.sign(outward[row])
    return axis if _slant_deg(axis, end) <= MOST_SLANT_DEG else outward


def _slant_deg(way: Array, end: Place) -> float:
    cosine = float(-np.array(end.inward) @ way) / max(float(np.linalg.norm(way)), 1e-12)
    return math.degrees(math.acos(max(-1.0, min(1.0, cosine))))


def _from_entry(path: Array, gap_mm: float) -> Array:
    way = (path[1] - path[0]) / np.linalg.norm(path[1] - path[0])
    return np.asarray(np.concatenate([[path[0] + gap_mm * way], path[1:]]))
