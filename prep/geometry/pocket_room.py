"""`PocketRoom`: where pockets may be sunk from a hidden face, and how deep, without breaking into any wall."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import scipy.ndimage
import scipy.spatial
from numpy.typing import NDArray

from prep.geometry.distance import Nearest
from prep.geometry.pocket import Pocket
from prep.geometry.rays import RayScene
from prep.geometry.seat_room import square_axes
from prep.geometry.solid import Array, Solid

ENTRY = 0.9
"""Least cosine between a face and the opening direction for a pocket to open on it (26 degrees); any other face is a
wall to keep away from."""

SPARE_MM = 0.05
"""Added to the wall, for what lies between the places that are measured."""

MOST_RISE_MM = 1.5
"""How much higher than the rim the skin may stand over a mouth; more would not take a level plug."""

LEAST_STEP_MM = 0.25
FINE_MM = (0.3, 0.3)
"""Between places on a pocket's outline, and on its floor."""

MOST_STEPS = 400
MOST_TRIED = 600
MOST_CELLS = 400


@dataclass(frozen=True)
class PocketForm:
    """A form in plan that is tried wherever it fits.

    Attributes
    ----------
    radius_mm, length_mm, turn_rad : as of `Pocket`
    least_mm : shallowest pocket of this form that is of use
    count : how many places to keep
    """

    radius_mm: float
    length_mm: float
    turn_rad: float
    least_mm: float
    count: int


class PocketRoom:
    """A part made ready to be asked where pockets fit.

    Parameters
    ----------
    solid : Solid
    out : (3,)
        Unit direction in which pockets open.
    wall_mm : float
        Least material to every face but those that look out within 26 degrees.
    uncut : Solid, optional
        The part before any step: where a step has cut, no pocket opens.
    kept_off : sequence of Solid
        Bought items in the part, kept away from like walls.
    seam : (n, 3) mm, optional
        Pockets open only beside these points (samples of a mating face).

    Notes
    -----
    A grid of rays along -out finds the skin; below each, steps no longer than the distance to the nearest wall find
    how deep the wall is kept. Error: between grid points none that matters, since every pocket handed out is measured
    again on its own outline and floor. Cost: about ten nearest-point queries a grid point.
    """

    def __init__(
        self,
        solid: Solid,
        out: Array,
        *,
        wall_mm: float,
        uncut: Solid | None = None,
        kept_off: Sequence[Solid] = (),
        seam: Array | None = None,
    ) -> None:
        self.solid = solid
        self.axes = _axes(out)
        self.wall_mm = wall_mm + SPARE_MM
        self.scene = RayScene([solid])
        self._uncut = RayScene([uncut]) if uncut is not None and uncut is not solid else None
        walls = solid.triangle_normals @ self.axes[2] < ENTRY
        vertices = [solid.vertices, *(item.vertices for item in kept_off)]
        starts = np.cumsum([0, *(len(v) for v in vertices)])
        triangles = [solid.triangles[walls], *(item.triangles for item in kept_off)]
        corners = np.concatenate([t + s for t, s in zip(triangles, starts, strict=False)])
        self._walls = Nearest(np.concatenate(vertices), np.ascontiguousarray(corners, dtype=np.int32))
        self._corners = self._walls.vertices[np.unique(corners)] @ self.axes.T
        self._seam = seam
        self._lay_grid()

    @property
    def deepest_mm(self) -> float:
        """Greatest depth at any one place of the skin; 0 where a wall is near everywhere."""
        depth = self.skin_mm - self.floor_mm
        return float(depth[np.isfinite(depth)].max(initial=0.0))

    def widest_mm(self, depth_mm: float) -> float:
        """Radius of about the widest round pocket of a depth."""
        deep = np.pad(self._depth() >= depth_mm, 1)
        return float(scipy.ndimage.distance_transform_edt(deep).max()) * self.pitch_mm

    def turn_rad(self, depth_mm: float) -> float:
        """Direction in plan in which the room of a depth is longest, from the first direction across."""
        u, v = np.nonzero(self._depth() >= depth_mm)
        if len(u) < 3:
            return 0.0
        spread = np.cov(np.stack([u, v]).astype(np.float64))
        if abs(spread[0, 1]) < 0.02 * (spread[0, 0] + spread[1, 1]):
            return 0.0
        return 0.5 * math.atan2(2.0 * spread[0, 1], spread[0, 0] - spread[1, 1])

    def pockets(self, forms: Sequence[PocketForm]) -> list[Pocket]:
        """Pockets of every form at spread-out places, each as deep as walls allow, shallower ones than useful left out.

        Notes
        -----
        Deterministic. Each depth holds at the corners of all walls and at places about 1 mm apart on the pocket;
        `measured` finely before cutting.
        """
        waiting = [self._spread(form) for form in forms]
        kept: list[list[Pocket]] = [[] for _ in forms]
        while any(waiting):
            batch = [(k, blank) for k, form in enumerate(forms) for blank in waiting[k][: form.count - len(kept[k])]]
            for (k, _), pocket in zip(batch, self.measured([blank for _, blank in batch]), strict=True):
                if pocket is not None and pocket.deepest_mm >= forms[k].least_mm:
                    kept[k].append(pocket)
            tried = np.bincount([k for k, _ in batch], minlength=len(forms))
            waiting = [
                blanks[int(n) :] if len(kept[k]) < forms[k].count else []
                for k, (blanks, n) in enumerate(zip(waiting, tried, strict=True))
            ]
        return [pocket for of_form in kept for pocket in of_form]

    def measured(self, blanks: Sequence[Pocket], *, finely: bool = False) -> list[Pocket | None]:
        """Each pocket with rim, crest and greatest depth found on its own outline; None where its mouth does not fit.

        Parameters
        ----------
        finely : bool
            At places 0.3 mm apart, as befits a pocket that will be cut; else about 1 mm, to choose among many.
        """
        if not blanks:
            return []
        points = [blank.plan_points(*(FINE_MM if finely else _coarse(blank.radius_mm))) for blank in blanks]
        plan = np.concatenate([part for pair in points for part in pair])
        skin = self._skin(plan)
        group = np.repeat(np.arange(len(blanks)), [len(rim) + len(within) for rim, within in points])
        fits = np.isfinite(np.bincount(group, weights=skin))
        good = fits[group]
        floors = np.full(len(plan), np.inf)
        floors[good] = self._sink(plan[good], skin[good], group[good])
        starts = np.searchsorted(group, np.arange(len(blanks) + 1))
        found: list[Pocket | None] = []
        for k, blank in enumerate(blanks):
            rows = slice(starts[k], starts[k + 1])
            if not fits[k]:
                found.append(None)
                continue
            low, high = float(skin[rows].min()), float(skin[rows].max())
            floor = max(float(floors[rows].max()), self._corner_floor(blank, low, high))
            above = float((skin[starts[k] + len(points[k][0]) : starts[k + 1]] - low).mean()) * blank.area_mm2
            measured = replace(blank, rim_mm=low, crest_mm=high, deepest_mm=low - floor, above_mm3=above)
            found.append(measured if floor < low and high - low <= MOST_RISE_MM else None)
        return found

    def _corner_floor(self, pocket: Pocket, rim: float, crest: float) -> float:
        """Lowest floor that keeps the wall to every corner of the walls' triangles; infinite where the mouth cannot."""
        near = self._corners
        reach = self.wall_mm + pocket.radius_mm + pocket.length_mm / 2.0
        near = near[(np.abs(near[:, :2] - pocket.middle) < reach).all(axis=1)]
        beside = np.maximum(pocket.beside(near[:, :2]), 0.0)
        level = near[:, 2]
        over = level > rim
        if (np.hypot(beside[over], np.maximum(level[over] - crest, 0.0)) < self.wall_mm).any():
            return math.inf
        close = ~over & (beside < self.wall_mm)
        below = level[close] + np.sqrt(self.wall_mm**2 - beside[close] ** 2)
        return float(below.max(initial=-math.inf))

    def _lay_grid(self) -> None:
        local = self.solid.vertices @ self.axes.T
        low, high = local.min(axis=0), local.max(axis=0)
        self._top = float(high[2]) + 1.0
        self.pitch_mm = max(0.8, float((high - low)[:2].max()) / 100.0)
        counts = np.ceil((high - low)[:2] / self.pitch_mm / 2.0).astype(int)
        middle = (low + high)[:2] / 2.0
        self.u = middle[0] + self.pitch_mm * np.arange(-counts[0], counts[0] + 1)
        self.v = middle[1] + self.pitch_mm * np.arange(-counts[1], counts[1] + 1)
        plan = np.stack(np.meshgrid(self.u, self.v, indexing="ij"), axis=-1).reshape(-1, 2)
        skin = self._skin(plan)
        if self._seam is not None:
            skin = np.where(self._beside_seam(plan), skin, np.nan)
        open_ = np.isfinite(skin)
        floor = np.full(len(plan), np.inf)
        floor[open_] = self._sink(plan[open_], skin[open_])
        self.skin_mm = skin.reshape(len(self.u), len(self.v))
        self.floor_mm = floor.reshape(self.skin_mm.shape)

    def _depth(self) -> Array:
        return np.asarray(np.nan_to_num(self.skin_mm - self.floor_mm, nan=0.0, neginf=0.0))

    def _beside_seam(self, plan: Array) -> NDArray[np.bool_]:
        tree = scipy.spatial.cKDTree(np.asarray(self._seam) @ self.axes[:2].T)
        return np.asarray(tree.query(plan)[0] <= 1.5 * self.pitch_mm)

    def _skin(self, plan: Array) -> Array:
        """Level of the skin over points in plan, (n,) mm; nan where a pocket may not open."""
        start = plan @ self.axes[:2] + self._top * self.axes[2]
        toward = np.broadcast_to(-self.axes[2], start.shape).copy()
        hits = self.scene.cast(start, toward)
        met = hits.triangle >= 0
        faces = np.zeros(len(plan), dtype=bool)
        faces[met] = self.scene.normals[hits.triangle[met]] @ self.axes[2] >= ENTRY
        if self._uncut is not None:
            before = self._uncut.cast(start, toward).distance_mm
            faces &= np.abs(np.where(met, hits.distance_mm, 0.0) - np.where(met, before, 0.0)) < 1e-3
        return np.where(faces, self._top - np.where(met, hits.distance_mm, 0.0), np.nan)

    def _sink(self, plan: Array, skin: Array, group: NDArray[np.intp] | None = None) -> Array:
        """Lowest level to which each column keeps the wall all the way from its skin, (n,); the skin's own if none.

        Columns of one group are followed only as far down as the highest floor found among them.
        """
        level = skin.copy()
        floor = skin.copy()
        going = np.arange(len(plan))
        stopped = np.zeros(len(plan), dtype=bool)
        shared = np.full(int(group.max()) + 1 if group is not None else 0, -np.inf)
        for _ in range(MOST_STEPS):
            room = self._room(plan[going], level[going])
            kept = room >= 0.0
            floor[going[kept]] = level[going[kept]]
            stopped[going[~kept]] = True
            if group is not None:
                np.maximum.at(shared, group[going[~kept]], level[going[~kept]])
            going, room = going[kept], room[kept]
            if group is not None:
                lower = level[going] > shared[group[going]]
                going, room = going[lower], room[lower]
            if len(going) == 0:
                break
            level[going] -= np.maximum(room, LEAST_STEP_MM)
        if group is not None:
            stopped &= floor > shared[group]
        floor[stopped] = self._between(plan[stopped], level[stopped], floor[stopped])
        return floor

    def _between(self, plan: Array, low: Array, high: Array) -> Array:
        """Halve the step between a level that is too near a wall and one that is not."""
        for _ in range(6):
            middle = (low + high) / 2.0
            kept = self._room(plan, middle) >= 0.0
            high = np.where(kept, middle, high)
            low = np.where(kept, low, middle)
        return high

    def _room(self, plan: Array, level: Array) -> Array:
        points = plan @ self.axes[:2] + level[:, None] * self.axes[2]
        return self._walls.query(points).distance_mm - self.wall_mm

    def _spread(self, form: PocketForm) -> list[Pocket]:
        """Pockets of a form at places far from one another, the deepest first; twice as many as wanted, unmeasured."""
        blank = Pocket(self.axes, np.zeros(2), form.radius_mm, form.length_mm, form.turn_rad)
        depth = np.pad(self._depth(), 1)
        inscribed = scipy.ndimage.distance_transform_edt(depth >= form.least_mm)[1:-1, 1:-1] * self.pitch_mm
        cells = np.column_stack(np.nonzero(inscribed >= form.radius_mm - 0.5 * self.pitch_mm))
        cells = cells[:: math.ceil(len(cells) / MOST_TRIED)] if len(cells) else cells
        half = math.ceil((form.radius_mm + form.length_mm / 2.0) / self.pitch_mm)
        steps = np.stack(np.meshgrid(*[np.arange(-half, half + 1)] * 2, indexing="ij"), axis=-1).reshape(-1, 2)
        steps = steps[blank.beside(np.asarray(steps, dtype=np.float64) * self.pitch_mm) <= 0.3 * self.pitch_mm]
        steps = steps[:: math.ceil(len(steps) / MOST_CELLS)]
        rows = cells[:, None] + steps
        within = ((rows >= 0) & (rows < self.skin_mm.shape)).all(axis=(1, 2))
        cells, rows = cells[within], rows[within]
        skin, floor = self.skin_mm[rows[..., 0], rows[..., 1]], self.floor_mm[rows[..., 0], rows[..., 1]]
        room = np.nan_to_num(skin.min(axis=1) - floor.max(axis=1), nan=-1.0, neginf=-1.0)
        useful = (room >= form.least_mm) & ~(skin.max(axis=1) - skin.min(axis=1) > MOST_RISE_MM)
        if not useful.any():
            return []
        plan = np.column_stack([self.u[cells[useful, 0]], self.v[cells[useful, 1]]])
        return [replace(blank, middle=plan[k]) for k in _far_apart(plan, room[useful], 2 * form.count)]


def _far_apart(plan: Array, worth: Array, count: int) -> list[int]:
    """Rows far from one another, begun with the one of most worth that is nearest to the middle of all."""
    share = np.sqrt(worth / worth.max())
    off = np.linalg.norm(plan - plan.mean(axis=0), axis=1)
    first = int(np.argmin(np.where(share > 0.98, off, np.inf)))
    chosen = [first]
    away = np.linalg.norm(plan - plan[first], axis=1)
    while len(chosen) < min(count, len(plan)):
        score = away * share
        best = int(np.argmax(score))
        if away[best] <= 0.0:
            break
        chosen.append(best)
        away = np.minimum(away, np.linalg.norm(plan - plan[best], axis=1))
    return chosen


def _coarse(radius_mm: float) -> tuple[float, float]:
    return max(0.8, radius_mm / 10.0), max(1.0, radius_mm / 5.0)


def _axes(out: Array) -> Array:
    """Rows: two directions across, and `out`, right-handed."""
    unit = np.asarray(out, dtype=np.float64) / np.linalg.norm(out)
    across, up = square_axes(unit[None])
    return np.stack([across[0], up[0], unit])
