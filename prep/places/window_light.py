"""`window_light`: the light on the inner side of a window, and how bright the window looks from outside."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from prep.geometry.light_paths import wall_paths
from prep.geometry.solid import Array
from prep.physics.lambert import MM2_PER_M2, flux_of
from prep.places.light_field import TOUCH_MM, LightField, straight_light
from prep.places.pane import Pane


@dataclass(frozen=True, eq=False)
class WindowLight:
    """A window as it is lit.

    Attributes
    ----------
    at_mm : (k, 3) float64
        Places of the outside, evenly over the outline; those where light comes through plastic.
    inner_mm : (k, 3) float64
        Below each, along the skin's normal, on the inner side.
    wall_mm : (k,) float64
        Plastic between them.
    falls, straight : (k, l) float64, lux
        On the inner side, from each lamp: all of it, and the part that comes straight.
    glows : (l,) float64, cd/m2
        Luminance of the outside with each lamp alone: the median over the outline.
    """

    at_mm: Array
    inner_mm: Array
    wall_mm: Array
    falls: Array
    straight: Array
    glows: Array


def window_light(field: LightField, pane: Pane, *, across: int = 25) -> WindowLight:
    """Light on and through one window.

    Parameters
    ----------
    across : places along the window's longer side

    Notes
    -----
    Luminance is light on the inner side times the share of the wall there over pi: a wall that scatters looks alike
    from all sides. A window without plastic, filled with a clear insert that is no part of the model, looks as
    bright as `transmits` of all the lamp's light spread over its area would. Straight light is exact; the rest as in
    `light_field`.
    """
    scene, out = field.scene, np.array(pane.out)
    grid = pane.grid(across)
    hits = scene.cast(grid + (pane.depth_mm + 1e-3) * out, np.broadcast_to(-out, grid.shape))
    on = np.isfinite(hits.distance_mm) & (hits.distance_mm <= 2.0 * pane.depth_mm + 2e-3)
    at = grid[on] + (pane.depth_mm + 1e-3 - hits.distance_mm[on])[:, None] * out
    face = hits.triangle[on]
    ways = wall_paths(
        scene, at, -scene.normals[face], scene.solid_of_triangle[face], reach_mm=field.deepest_mm, touch_mm=TOUCH_MM
    )
    through = ways.triangle >= 0
    end, behind, length = ways.end_mm[through], ways.triangle[through], ways.length_mm[through]
    straight = straight_light(scene, field.sources, end, scene.normals[behind])
    falls = straight + field.scattered[field.coarse.of_triangle[behind]]
    if pane.wall_mm > 0.0 and len(end):
        glows = np.median(falls * field.passes(length, behind)[:, None], axis=0) / np.pi
    elif pane.wall_mm > 0.0:
        glows = np.zeros(len(field.sources))
    else:
        flux = np.array([flux_of(source.order, source.candela) for source in field.sources])
        glows = pane.transmits * flux * MM2_PER_M2 / (pane.area_mm2 * np.pi)
    return WindowLight(at[through], end, length.sum(axis=1), falls, straight, glows)


def window_glow(field: LightField) -> Array:
    """How bright its windows look with each lamp alone, (l,) cd/m2: the median over those it shows in, else over all.

    0 where there is no window, or none that its light reaches.
    """
    found = [window_light(field, pane).glows for pane in field.panes]
    glow = np.zeros(len(field.sources))
    for lamp in range(len(field.sources)):
        own = [each[lamp] for each, pane in zip(found, field.panes, strict=True) if lamp in pane.lamps]
        shown = own or [each[lamp] for each in found]
        glow[lamp] = float(np.median(shown)) if shown else 0.0
    return glow
