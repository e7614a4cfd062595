"""LEDs housed in drawn parts, and a gauge of their light walls that casts rays of its own."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fixtures.benches import bench_of
from fixtures.gauges import first_hits
from prep.build.verify import hold_to
from prep.contract import Bench, Outcome
from prep.geometry.solid import Solid
from prep.steps.house_led import HouseLed

WORDS = {"step": "house_led", "part": "p", "led": "round 5 mm white", "window": "0.9 mm", "open": "-z"}


@dataclass(frozen=True)
class Lit:
    """A part with its LEDs."""

    bench: Bench
    step: HouseLed
    outcome: Outcome

    @property
    def solid(self) -> Solid:
        """The finished part."""
        return self.outcome.solids["p"]


def lit(part: tuple, words: dict, process: str = "extrusion-0.4", wall_mm: float | None = None, **others) -> Lit:
    """House LEDs in a drawn part, and hold the step to its predictions as a build does."""
    bench = bench_of(process, wall_mm, p=Solid.of(*part), **{name: Solid.of(*mesh) for name, mesh in others.items()})
    step = HouseLed.model_validate(WORDS | words)
    outcome = step.apply(bench)
    hold_to(bench, outcome)
    return Lit(bench, step, outcome)


def light_wall(one: Lit, number: int = 0, count: int = 11) -> np.ndarray:
    """Thickness of the finished light wall along the skin's own normal, over all of one window, mm.

    From points of the outside straight in along their facet's normal to the next surface, every ray against every
    triangle about the window; rays that end outside the window's outline, on its side wall, take no part.
    """
    window = one.outcome.ledger.windows[number]
    out, across = np.array(window.out), np.array(window.across)
    up, middle = np.cross(out, across), np.array(window.at_mm)
    corners = one.solid.vertices[one.solid.triangles]
    reach = 2.0 * max(window.half_mm) + window.depth_mm + 6.0
    near = ((corners.min(axis=1) <= middle + reach) & (corners.max(axis=1) >= middle - reach)).all(axis=1)
    corners = corners[near]
    shares = (np.arange(count) + 0.5) / count * 2.0 - 1.0
    u, v = (np.ravel(each) for each in np.meshgrid(shares * window.half_mm[0], shares * window.half_mm[1]))
    kept = inside(window, u, v, 0.1)
    starts = middle + u[kept, None] * across + v[kept, None] * up + (window.depth_mm + 1.0) * out
    down, row = first_hits(corners, starts, np.tile(-out, (len(starts), 1)))
    normal = np.cross(corners[row, 1] - corners[row, 0], corners[row, 2] - corners[row, 0])
    normal /= np.linalg.norm(normal, axis=1)[:, None]
    skin = starts - down[:, None] * out
    thick, _ = first_hits(corners, skin, -normal, past=1e-6)
    thick = np.minimum(thick, 1e3)  # beside the chamber there may be nothing more within reach
    ends = skin - thick[:, None] * normal - middle
    within = inside(window, ends @ across, ends @ up, 0.1)
    assert within.sum() > 0.4 * count * count * np.pi / 4.0
    return thick[within]


def inside(window, u: np.ndarray, v: np.ndarray, off: float) -> np.ndarray:
    """Whether points of the window's plane lie within its outline by `off`."""
    half, corner = np.array(window.half_mm) - off, window.corner_mm or min(window.half_mm)
    corner = max(corner - off, 0.0)
    x, y = np.maximum(np.abs(u) - half[0] + corner, 0.0), np.maximum(np.abs(v) - half[1] + corner, 0.0)
    return (np.hypot(x, y) <= corner) & (np.abs(u) <= half[0]) & (np.abs(v) <= half[1])
