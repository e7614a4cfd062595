"""`lit`: the parts of a bench under their own lamps, as the checks and the pictures of light see them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from prep.contract import Bench
from prep.contract.ledger import Film, Lamp, Window
from prep.geometry.solid import Array, Solid
from prep.physics.lambert import lambert_order
from prep.physics.lightness import lightness
from prep.physics.transmission import transmission_of
from prep.places.light_field import MOST_CELLS, LightField, Plastic, Source, light_field
from prep.places.light_leaks import GlowMap, light_leaks
from prep.places.pane import Pane
from prep.places.window_light import window_glow
from prep.tables import Tables

LEAK_LIMIT = 0.02
"""Luminance over that of the window above which a place that should be dark catches the eye (habit)."""

REFLECTANCE = 0.7
"""Of bare light-coloured plastic (unverified default)."""

DARK_REFLECTANCE = 0.05
"""Of black plastic and of a dark coat (unverified default)."""

DARK = 40.0
"""L* below which a coat counts as dark."""


@dataclass(frozen=True, eq=False)
class Lit:
    """Parts, lamps and windows, and the light between them.

    Attributes
    ----------
    names : of the parts, in the order of the field's solids
    lamps, windows : in the order of the field's sources and panes
    window_glow : (l,) cd/m2, luminance of each lamp's window
    verified : whether every part's transmission is the shop's own reading
    """

    names: tuple[str, ...]
    lamps: tuple[Lamp, ...]
    windows: tuple[Window, ...]
    field: LightField
    window_glow: Array
    verified: bool

    def leaks(self, limit: float, *, openings: bool = True) -> GlowMap:
        """What glows; see `light_leaks`."""
        return light_leaks(self.field, self.window_glow, limit=limit, openings=openings)


@dataclass(frozen=True, eq=False)
class Glow:
    """What glows with all covers on.

    Attributes
    ----------
    light, shown : the parts under their lamps, and what they show
    limit : share of the window's luminance above which a place is a leak
    """

    light: Lit
    shown: GlowMap
    limit: float


def glowing(bench: Bench, limit: float = LEAK_LIMIT, reflectance: float = REFLECTANCE) -> Glow:
    """What the lamps of a bench make glow with all covers on; the same question twice is worked out once."""
    light = lit(bench, reflectance=reflectance)
    return Glow(light, _shown(light.field, tuple(light.window_glow), limit), limit)


def lit(
    bench: Bench, *, parts: Sequence[str] = (), lamps: Sequence[Lamp] = (), reflectance: float = REFLECTANCE
) -> Lit:
    """The light of a bench's lamps on its parts; the same question twice is worked out once.

    Parameters
    ----------
    parts, lamps : only these, as with a cover off; default all
    reflectance : of bare plastic that is not black

    Raises
    ------
    NoTransmission
        Nobody has read how much light a part's material passes.
    BadReadings
        The readings of a part's material make no curve.
    """
    names = tuple(name for name in bench.parts if not parts or name in parts)
    shown = tuple(lamps) or bench.ledger.lamps
    windows = tuple(window for window in bench.ledger.windows if window.part in names)
    plastics = tuple(_plastic(bench, name, reflectance) for name in names)
    solids = tuple(bench.parts[name].solid for name in names)
    most = MOST_CELLS * (4 if bench.fine else 1)
    bodies = {item.id: item.radius_mm for item in bench.ledger.items if item.kind == "led"}
    radii = tuple(bodies.get(lamp.id, 0.0) for lamp in shown)
    field, glow = _worked_out(solids, plastics, shown, radii, windows, most)
    return Lit(names, shown, windows, field, glow, all(plastic.transmission.verified for plastic in plastics))


@lru_cache(maxsize=4)
def _shown(field: LightField, window_glow: tuple[float, ...], limit: float) -> GlowMap:
    glow = np.array([each if each > 0.0 else np.inf for each in window_glow])
    return light_leaks(field, glow, limit=limit)


@lru_cache(maxsize=4)
def _worked_out(
    solids: tuple[Solid, ...],
    plastics: tuple[Plastic, ...],
    lamps: tuple[Lamp, ...],
    radii: tuple[float, ...],
    windows: tuple[Window, ...],
    most_cells: int,
) -> tuple[LightField, Array]:
    sources = [
        Source(lamp.at_mm, lamp.axis, lambert_order(lamp.half_angle_deg), lamp.intensity_cd, radius)
        for lamp, radius in zip(lamps, radii, strict=True)
    ]
    panes = [_pane(window, lamps) for window in windows]
    field = light_field(solids, plastics, sources, panes, most_cells=most_cells)
    return field, window_glow(field)


def _plastic(bench: Bench, name: str, reflectance: float) -> Plastic:
    material = bench.parts[name].material.name
    back = DARK_REFLECTANCE if "black" in material.split() else reflectance
    coats = [film for film in bench.ledger.films if film.part == name and film.inside]
    dark = any(_is_dark(film, bench.tables) for film in coats)
    return Plastic(transmission_of(bench.tables, material), back, DARK_REFLECTANCE if dark else None)


def _is_dark(film: Film, tables: Tables) -> bool:
    colour = tables.paints.get(film.coat).colour
    return bool(colour) and lightness(colour) < DARK


def _pane(window: Window, lamps: Sequence[Lamp]) -> Pane:
    return Pane(
        window.at_mm,
        window.out,
        window.across,
        window.shape,
        window.half_mm,
        window.corner_mm,
        window.wall_mm,
        window.transmits,
        window.depth_mm,
        tuple(number for number, lamp in enumerate(lamps) if lamp.window == window.id),
    )
