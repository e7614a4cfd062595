"""`Pane`: a window as a region of the skin, in the window's own plane."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from prep.geometry.solid import Array
from prep.places.place import Triple


@dataclass(frozen=True)
class Pane:
    """A patch of the outside through which light is meant to show.

    Attributes
    ----------
    at_mm : its middle, on the outside
    out, across : unit directions, outward and along its first half size
    shape : "round", or "slot", a rectangle whose corners are rounded by `corner_mm`
    half_mm : half sizes along `across` and along out x across
    wall_mm : plastic in it; 0 where a clear insert fills it
    transmits : share of light through that
    depth_mm : how far along `out`, to either side, the skin still belongs to it
    lamps : which lamps it shows, by their number
    """

    at_mm: Triple
    out: Triple
    across: Triple
    shape: Literal["round", "slot"]
    half_mm: tuple[float, float]
    corner_mm: float
    wall_mm: float
    transmits: float
    depth_mm: float
    lamps: tuple[int, ...]

    @property
    def halo_mm(self) -> float:
        """How far around the outline a diffusing wall glows as well: its own thickness, half a mm at least."""
        return max(self.wall_mm, 0.5)

    @property
    def area_mm2(self) -> float:
        """Area of the outline."""
        first, second = self.half_mm
        if self.shape == "round":
            return float(np.pi * first * second)
        return 4.0 * first * second - (4.0 - float(np.pi)) * self.corner_mm**2

    def flat(self, points: Array) -> Array:
        """Points (n, 3) mm in the window's own axes: across, out x across, out; (n, 3)."""
        out, across = np.array(self.out), np.array(self.across)
        frame = np.stack([across, np.cross(out, across), out])
        return np.asarray((points - np.array(self.at_mm)) @ frame.T)

    def outlined(self, flat: Array, wider_mm: float = 0.0) -> NDArray[np.bool_]:
        """Whether places (n, 2 or more) in its own axes lie within the outline, widened all round."""
        first, second = (half + wider_mm for half in self.half_mm)
        if self.shape == "round":
            return np.asarray((flat[:, 0] / first) ** 2 + (flat[:, 1] / second) ** 2 <= 1.0)
        corner = min(self.corner_mm + wider_mm, first, second) if self.corner_mm + wider_mm > 0.0 else 0.0
        over = np.abs(flat[:, :2]) - np.array([first - corner, second - corner])
        return np.asarray(np.hypot(*np.maximum(over, 0.0).T) <= corner + 1e-9)

    def holds(self, points: Array, *, inward_mm: float = 0.0, wider_mm: float | None = None) -> NDArray[np.bool_]:
        """Whether points of the skin (n, 3) mm are the window's, to a depth, with its halo or `wider_mm` around it."""
        flat = self.flat(points)
        wider = self.halo_mm if wider_mm is None else wider_mm
        deep = self.depth_mm * (1.0 + max(wider, 0.0) / min(self.half_mm)) + 1e-6  # the skin slopes on beyond the edge
        level = (flat[:, 2] <= deep) & (flat[:, 2] >= -deep - inward_mm)
        return np.asarray(level & self.outlined(flat, wider))

    def edged(self, points: Array, ends: Array) -> NDArray[np.bool_]:
        """Whether slanted paths from skin beside the window (n, 3) end in the pocket below it: its soft edge."""
        start, end = self.flat(points), self.flat(ends)
        level = np.abs(start[:, 2]) <= self.depth_mm + self.halo_mm
        return np.asarray(level & self.outlined(start, 4.0 * self.halo_mm) & self.outlined(end, self.halo_mm))

    def lets_out(self, origins: Array, directions: Array) -> NDArray[np.bool_]:
        """Whether rays (n, 3) go out through the outline, (n,)."""
        out = np.array(self.out)
        slope = directions @ out
        with np.errstate(divide="ignore", invalid="ignore"):
            far = ((np.array(self.at_mm) - origins) @ out) / slope
        ahead = (slope > 1e-9) & (far > -self.depth_mm)
        spot = origins + np.where(ahead, far, 0.0)[:, None] * directions
        return np.asarray(ahead & self.outlined(self.flat(spot), self.halo_mm))

    def grid(self, across: int = 25) -> Array:
        """Points spread evenly over the outline, (k, 3) mm, in the plane of `at_mm`."""
        first, second = self.half_mm
        step = 2.0 * max(first, second) / across
        u, v = (_middles(half, max(1, round(2.0 * half / step))) for half in (first, second))
        flat = np.stack([each.ravel() for each in np.meshgrid(u, v, indexing="ij")], axis=1)
        flat = flat[self.outlined(flat)]
        out, axis = np.array(self.out), np.array(self.across)
        return np.asarray(np.array(self.at_mm) + flat[:, :1] * axis + flat[:, 1:] * np.cross(out, axis))


def _middles(half: float, count: int) -> Array:
    """The middles of equal pieces of the stretch from -half to half."""
    return np.asarray(((np.arange(count) + 0.5) / count * 2.0 - 1.0) * half)
