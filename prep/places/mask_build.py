"""`MaskJob`: one connected mask parted along planes, keyed at its ears, and every piece swept out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from prep.errors import MaskTrapped
from prep.geometry.mask_fittings import PIN_OUT_MM, pin, socket, square_frame
from prep.geometry.mask_shell import pieces_of
from prep.geometry.open_sky import spread_points
from prep.geometry.patch import Patch
from prep.geometry.pull_path import SHARED_MM3, PullSamples, swept
from prep.geometry.solid import Array, Solid, shared_volume, subtract, unite
from prep.geometry.split_shell import Parting, part_at
from prep.places.mask_holds import Hold, HoldRoom
from prep.places.mask_parting import Apart, Plan, Whole, ways_apart
from prep.tables import ProcessRow

Bools = NDArray[np.bool_]

Keys = Literal["pins", "ears", "none"]
KEYS: tuple[Keys, ...] = ("pins", "ears", "none")
"""How pieces are keyed at a parting, best first: ears with pins, ears alone, nothing where either is in the way."""
PLANS = 5
"""Partings built and swept at most."""
WAYS_SWEPT = 4
CRUMB_MM3 = 3.0
PIN_LEAN = 0.6
"""Cosine between a piece's way and the parting's normal from which a pin can slide out of its socket."""
SKEW = 0.3
SPREAD = 200
"""Points that tell which samples a solid came from."""


@dataclass(frozen=True, eq=False)
class Loose:
    """A piece that has no name yet.

    Attributes
    ----------
    solid : as seated
    way : (3,) unit, along which it comes off
    chosen : (n,) bool, the samples it came from
    """

    solid: Solid
    way: Array
    chosen: Bools


def in_order(part: Solid, pieces: Sequence[Loose]) -> list[int] | None:
    """An order in which every piece comes off past the part and the pieces still seated; None where there is none."""
    left, order = list(range(len(pieces))), []
    while left:
        for row in left:
            others = [pieces[k].solid for k in left if k != row]
            if swept([part, *others], pieces[row].solid, pieces[row].way) <= SHARED_MM3:
                order.append(row)
                left.remove(row)
                break
        else:
            return None
    return order


def spoken(way: Array) -> str:
    """A direction in words of the recipe."""
    for axis, letter in enumerate("xyz"):
        if abs(way[axis]) > 1.0 - 1e-6:
            return f"{'+' if way[axis] > 0.0 else '-'}{letter}"
    return f"({way[0]:.2f}, {way[1]:.2f}, {way[2]:.2f})"


@dataclass(frozen=True, eq=False)
class MaskJob:
    """A connected mask and what is known of its ways out.

    Attributes
    ----------
    pull : (3,) unit, the way asked for, the first of the samples' ways; None where none is
    near_mm : how far from the mask the window's edge counts as its own
    """

    part: Solid
    mask: Solid
    patch: Patch
    samples: PullSamples
    process: ProcessRow
    pull: Array | None
    near_mm: float

    @cached_property
    def room(self) -> HoldRoom:
        """Where fittings find room."""
        return HoldRoom(self.part, self.mask, self.patch, *self.samples.even)

    def solve(self, planes: Sequence[Parting]) -> tuple[list[Loose], Plan]:
        """The pieces of the plan that, built and swept, has the fewest.

        Raises
        ------
        MaskTrapped
            None of the plans holds.
        """
        plans = ways_apart(self.mask, self.samples, planes, self.patch, self._near(), PLANS)
        for count in sorted({plan.count for plan in plans}):
            alike = [plan for plan in plans if plan.count == count]
            for keys in KEYS:
                built: list[tuple[list[Loose], Plan]] = []
                for plan in alike:
                    pieces = self._built(plan, keys)
                    built += [(pieces, plan)] if pieces else []
                    if pieces and len(pieces) <= count:
                        break
                if built:
                    return min(built, key=lambda one: len(one[0]))
        raise self._trapped()

    def notes_on(self, plan: Plan, pieces: Sequence[Loose]) -> list[str]:
        """What the shop has to know of how the mask was parted."""
        if isinstance(plan, Whole):
            return []
        eared = sum(piece.solid.volume_mm3 for piece in pieces) > self.mask.volume_mm3 + CRUMB_MM3
        held = "hold them by clips on the ears or a rubber band in their notches" if eared else "hold them by tape"
        notes = [f"parted into {len(pieces)} pieces, as it hooks on the part whole; {held}"]
        crossings, skew = plan.crosses
        if crossings:
            square = "square to it" if skew < SKEW else "at a slant"
            notes.append(f"the parting crosses the window's edge {crossings} times, {square}: touch up the line there")
        return notes

    def _near(self) -> Bools:
        """Sides of the window's edge that this mask lies at."""
        middle = self.patch.vertices[self.patch.edge_sides].mean(axis=1)
        distance = self.room.tree.query(middle)[0]
        return np.asarray(distance <= self.near_mm)

    def _built(self, plan: Plan, keys: Keys) -> list[Loose] | None:
        """The pieces of a plan; None where one of them meets the part or another piece."""
        pieces = self._parted(self.mask, plan, None, keys, ())
        if pieces is None or in_order(self.part, pieces) is None:
            return None
        return pieces

    def _parted(
        self, body: Solid, plan: Plan, toward: Array | None, keys: Keys, outer: tuple[Parting, ...]
    ) -> list[Loose] | None:
        """The pieces of a body that partings, (p,), already part from others."""
        if isinstance(plan, Whole):
            return self._taken_off(body, plan, toward)
        ears = [] if keys == "none" else self.room.ears_for(body, plan.parting)
        ears = [one for one in ears if not any(_crosses(parting, one.solid) for parting in outer)]
        above, below = part_at(unite([body, *(one.solid for one in ears)]), plan.parting)
        if above is None or below is None:
            return None
        normal = np.array(plan.parting.normal)
        within = (*outer, plan.parting)
        first = self._side(above, plan.above, normal, keys, within)
        second = self._side(below, plan.below, -normal, keys, within) if first else None
        if not first or not second:
            return None
        return self._keyed(first, second, ears, normal) if keys == "pins" else [*first, *second]

    def _side(
        self, body: Solid, plans: Sequence[Plan], toward: Array, keys: Keys, outer: tuple[Parting, ...]
    ) -> list[Loose] | None:
        """What one side of a parting becomes: each of its connected solids by the plan that its samples tell."""
        if len(plans) == 1:
            return self._parted(body, plans[0], toward, keys, outer)
        trees = [cKDTree(self.samples.points[plan.chosen]) for plan in plans]
        found: list[Loose] = []
        for solid in pieces_of(body):
            if solid.volume_mm3 < CRUMB_MM3 and found:
                continue
            points, _ = spread_points(solid.corners, SPREAD)
            near = np.array([tree.query(points)[0] for tree in trees]).argmin(axis=0)
            plan = plans[int(np.bincount(near, minlength=len(plans)).argmax())]
            pieces = self._parted(solid, plan, toward, keys, outer)
            if pieces is None:
                return None
            found += pieces
        return found

    def _taken_off(self, body: Solid, plan: Whole, toward: Array | None) -> list[Loose] | None:
        found: list[Loose] = []
        for solid in pieces_of(body):
            if solid.volume_mm3 < CRUMB_MM3 and found:
                continue
            way = self._way(solid, plan, toward)
            if way is None:
                return None
            found.append(Loose(solid, way, plan.chosen))
        return found

    def _way(self, solid: Solid, plan: Whole, toward: Array | None) -> Array | None:
        """A way out that holds when swept: the one asked for, else one that leaves the parting, else the best."""
        allowed = self.samples.free(plan.chosen) & plan.ways
        asked = self.pull is not None and bool(allowed[0])
        if toward is not None and not asked:
            leaving = allowed & (self.samples.ways @ toward >= PIN_LEAN)
            allowed = leaving if leaving.any() else allowed
        for turn in range(WAYS_SWEPT):
            if not allowed.any():
                return None
            k = 0 if asked and turn == 0 else self.samples.best(plan.chosen, allowed)
            if swept([self.part], solid, self.samples.ways[k]) <= SHARED_MM3:
                return np.asarray(self.samples.ways[k])
            allowed = allowed.copy()
            allowed[k] = False
        return None

    def _keyed(self, first: list[Loose], second: list[Loose], ears: Sequence[Hold], normal: Array) -> list[Loose]:
        """The pieces on both sides of a parting, pins on the lower and sockets in the upper."""
        radius = max(self.process.pin_limit_mm / 2.0, 0.9)
        fit = self.process.slide_fit_mm
        upper, lower = list(first), list(second)
        for one in ears:
            a = int(np.argmax([shared_volume(piece.solid, one.solid) for piece in upper]))
            b = int(np.argmax([shared_volume(piece.solid, one.solid) for piece in lower]))
            way = upper[a].way
            if way @ normal < PIN_LEAN:
                continue
            at = one.frame[:3, 3] + PIN_OUT_MM * one.frame[:3, 1]
            frame = square_frame(at, way, one.frame[:3, 0])
            upper[a] = replace(upper[a], solid=subtract(upper[a].solid, [socket(frame, radius, fit)]))
            lower[b] = replace(lower[b], solid=unite([lower[b].solid, pin(frame, radius)]))
        return [*upper, *lower]

    def _trapped(self) -> MaskTrapped:
        meets = self.samples.meets[: self.samples.spread]
        k = int(np.argmin(self.samples.meets.sum(axis=0)))
        rows = np.flatnonzero(self.samples.meets[:, k])
        at = np.median(self.samples.points[rows], axis=0) if len(rows) else self.mask.bounds_mm.mean(axis=0)
        return MaskTrapped(
            "the mask cannot come off: it hooks on the part along every way, whole and parted",
            found=f"along {spoken(self.samples.ways[k])}, where it hooks least, {100.0 * meets[:, k].mean():.0f} % of "
            f"it meets the part or fresh paint, about ({at[0]:.4g}, {at[1]:.4g}, {at[2]:.4g}) mm",
            fix="shorten `reach:` so that the mask ends before the undercut, or mask the region in two steps",
        )


def partings_of(plan: Plan) -> list[Parting]:
    """All planes of a plan, outermost first."""
    if isinstance(plan, Apart):
        return [plan.parting, *(one for side in (*plan.above, *plan.below) for one in partings_of(side))]
    return []


def _crosses(parting: Parting, solid: Solid) -> bool:
    """Whether a solid lies on both sides of a plane."""
    heights = parting.heights(solid.vertices)
    return bool(heights.min() < 0.0 < heights.max())
