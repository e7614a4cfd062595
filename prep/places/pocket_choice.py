"""`PocketChoice`: the pockets a part has room for, each way to fill them, and what each way would weigh."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from prep.geometry.pocket import Pocket, segment_distances
from prep.geometry.pocket_room import SPARE_MM, PocketForm, PocketRoom
from prep.geometry.solid import Array
from prep.physics.ballast_fill import Content, Filling, fillings, is_piece, least_radius
from prep.physics.cut_mass import PrintedIn, cut_mass
from prep.physics.pocket_plan import Option, Slope
from prep.tables import AdhesiveRow, BallastRow, ProcessRow

LEAST_DEPTH_MM = 1.5
LEAST_RADIUS_MM = 1.5
WIDEST_MM = 20.0
BRIDGE_MM = 12.5
"""Half of the widest ceiling an extruder bridges without support (common practice, no source)."""

MAGNET_DIAMETERS = 2.0
"""Ballast that magnets pull stays this far from their middles."""

NODES = 3
"""Depths between which mass and moment are taken to run straight, where they do not."""

APART_MM = 0.05
ROUNDS, SLOTS, PIECES = 10, 6, 16
"""Places kept of each round, slot and round for pieces."""

CLOSER = 2
SHORT_MM = 0.2
"""A pocket may turn out so much shallower, measured finely, before the plan is made again."""


@dataclass(frozen=True)
class PocketAim:
    """What pockets are to be cut for.

    Attributes
    ----------
    rows : ballast allowed; none to lighten only
    plug_mm : glue over ballast
    magnets : (n, 4) middle in mm and diameter of every magnet
    axis_free : whether the balance along the opening direction is left free
    face_down : whether the pockets' floors are printed as ceilings
    """

    process: ProcessRow
    wall_mm: float
    rows: tuple[BallastRow, ...]
    plug_mm: float
    glue: AdhesiveRow
    magnets: Array
    axis_free: bool
    face_down: bool

    @property
    def smallest_mm(self) -> float:
        """Radius of the smallest pocket."""
        return max(LEAST_RADIUS_MM, 0.75 * self.process.hole_limit_mm)

    @property
    def widest_mm(self) -> float:
        """Radius of the widest pocket."""
        return BRIDGE_MM if self.face_down and self.process.category == "material extrusion" else WIDEST_MM

    @property
    def web_mm(self) -> float:
        """Least material between two pockets."""
        return max(self.wall_mm, self.process.web_limit_mm) + SPARE_MM


@dataclass(frozen=True)
class PocketCut:
    """One pocket as it is cut: how it is filled, and how deep it goes."""

    pocket: Pocket
    filling: Filling
    depth_mm: float

    @property
    def content(self) -> Content:
        """What it holds."""
        return self.filling.content(self.pocket, self.depth_mm)

    @property
    def ballast_at(self) -> Array:
        """Middle of the ballast, (3,) mm."""
        return self.pocket.at(self.content.height_mm / 2.0 - self.depth_mm)

    @property
    def plug_at(self) -> Array:
        """Middle of the glue over the ballast, (3,) mm."""
        content = self.content
        return self.pocket.at(content.height_mm + content.plug_mm / 2.0 - self.depth_mm)


class PocketChoice:
    """Pockets and ways to fill them, ready to be planned with.

    Parameters
    ----------
    room : PocketRoom
    aim : PocketAim
    printed : PrintedIn
    about : (3,) mm
        Moments are taken about this point.
    """

    def __init__(self, room: PocketRoom, aim: PocketAim, printed: PrintedIn, about: Array) -> None:
        self.aim = aim
        self.room = room
        self.printed = printed
        self.about = about
        self.deepest_mm = room.deepest_mm
        self.empty = Filling(None, 0, LEAST_DEPTH_MM, 0.0, 0.0)
        self.beside_magnet: set[str] = set()
        self._closer = False
        self._look(1)

    def look_closer(self) -> bool:
        """Look at `CLOSER` times as many places, so that all rows change; no more than once."""
        if self._closer:
            return False
        self._closer = True
        self._look(CLOSER)
        return True

    def firm_up(self, options: Sequence[int], depths_mm: Array) -> bool:
        """Measure the pockets of a plan finely; whether one turned out too shallow for it, so that all rows changed."""
        planned = {self.options[j].pocket: (j, float(d)) for j, d in zip(options, depths_mm, strict=True)}
        chosen = sorted(planned.keys() - self._fine)
        self._fine |= set(chosen)
        short = False
        for k, found in zip(chosen, self.room.measured([self.pockets[k] for k in chosen], finely=True), strict=True):
            self.pockets[k] = found or replace(self.pockets[k], deepest_mm=0.0)
            option, depth = planned[k]
            _, filling = self.ways[self.options[option].filling]
            deepest = self.pockets[k].deepest_mm
            short |= deepest < filling.least_mm or deepest < depth - SHORT_MM
        if short:
            self._enter_all()
        return short

    def learn(self, cuts: Sequence[PocketCut]) -> None:
        """Let mass and moment run exactly through these depths from now on, so that all rows change."""
        for cut in cuts:
            self._known.setdefault((self.pockets.index(cut.pocket), cut.filling), set()).add(cut.depth_mm)
        self._enter_all()

    def _look(self, plenty: int) -> None:
        self.pockets = self.room.pockets(pocket_forms(self.room, self.aim, plenty))
        self.apart = _apart(self.pockets, self.aim.web_mm)
        self._fine: set[int] = set()
        self._known: dict[tuple[int, Filling], set[float]] = {}
        self._enter_all()

    def _enter_all(self) -> None:
        self.ways: list[tuple[int, Filling]] = []
        self.options: list[Option] = []
        for k in range(len(self.pockets)):
            self._enter(k)

    def _enter(self, k: int) -> None:
        for filling in self._fillings(self.pockets[k]):
            if filling.least_mm <= self.pockets[k].deepest_mm:
                self.ways.append((k, filling))
                self.options += self._options(k, len(self.ways) - 1, filling)

    def cut(self, option: int, depth_mm: float) -> PocketCut:
        """The pocket of an option at a depth."""
        k, filling = self.ways[self.options[option].filling]
        return PocketCut(self.pockets[k], filling, min(float(depth_mm), filling.deepest_mm(self.pockets[k])))

    def change(self, cuts: Sequence[PocketCut]) -> tuple[float, Array]:
        """What cuts and their fillings do to mass and moment, g and (3,) g mm, as estimated."""
        mass, moment = 0.0, np.zeros(3)
        for cut in cuts:
            masses, moments = self._at(cut.pocket, cut.filling, np.array([cut.depth_mm]))
            mass, moment = mass + float(masses[0]), moment + moments[0]
        return mass, moment

    def slope(self, cut: PocketCut) -> Slope:
        """How mass and moment answer to one cut's depth."""
        low, high = cut.filling.least_mm, cut.filling.deepest_mm(cut.pocket)
        ends = np.clip(np.array([cut.depth_mm - 0.5, cut.depth_mm + 0.5]), low, high)
        if ends[1] - ends[0] < 1e-3:
            ends = np.array([low, max(high, low + 1e-3)])
        masses, moments = self._at(cut.pocket, cut.filling, ends)
        span = ends[1] - ends[0]
        return Slope(low, high, float(masses[1] - masses[0]) / span, (moments[1] - moments[0]) / span)

    def _fillings(self, pocket: Pocket) -> list[Filling]:
        aim = self.aim
        piece = any(is_piece(row) and abs(pocket.radius_mm - self._least(row)) < 1e-9 for row in aim.rows)
        found = [] if piece and pocket.length_mm == 0.0 else [self.empty]
        for row in aim.rows:
            for filling in fillings(
                pocket,
                row,
                smallest_mm=aim.smallest_mm,
                fit_mm=aim.process.slide_fit_mm,
                plug_mm=aim.plug_mm,
                glue=aim.glue,
            ):
                if row.ferrous and self._near_magnet(pocket):
                    self.beside_magnet.add(row.name)
                else:
                    found.append(filling)
        return found

    def _least(self, row: BallastRow) -> float:
        return least_radius(row, self.aim.smallest_mm, self.aim.process.slide_fit_mm)

    def _near_magnet(self, pocket: Pocket) -> bool:
        if len(self.aim.magnets) == 0:
            return False
        away = pocket.distance_to(self.aim.magnets[:, :3], pocket.deepest_mm)
        return bool((away < MAGNET_DIAMETERS * self.aim.magnets[:, 3]).any())

    def _options(self, k: int, number: int, filling: Filling) -> list[Option]:
        pocket = self.pockets[k]
        ends = filling.least_mm, filling.deepest_mm(pocket)
        if filling.count or (self.printed.core is None and self.aim.axis_free):
            nodes = np.array(ends)
        else:
            known = [d for d in self._known.get((k, filling), ()) if ends[0] + APART_MM < d < ends[1] - APART_MM]
            nodes = np.array(sorted([*np.linspace(*ends, NODES), *known]))
        masses, moments = self._at(pocket, filling, nodes)
        volumes = pocket.area_mm2 * nodes + pocket.above_mm3
        return [
            Option(k, number, nodes[i : i + 2], masses[i : i + 2], moments[i : i + 2], volumes[i : i + 2])
            for i in range(len(nodes) - 1)
        ]

    def _at(self, pocket: Pocket, filling: Filling, depths: Array) -> tuple[Array, Array]:
        """Change of mass, (k,), and moment, (k, 3), at depths, print and filling together."""
        change = cut_mass(pocket, depths, self.printed, self.about)
        mass, moment = change.mass_g.copy(), change.moment_gmm.copy()
        for row, depth in enumerate(depths):
            cut = PocketCut(pocket, filling, float(depth))
            content = cut.content
            mass[row] += content.mass_g + content.glue_g
            below = content.mass_g + content.beside_g
            moment[row] += below * (cut.ballast_at - self.about) + content.plug_g * (cut.plug_at - self.about)
        return mass, moment


def pocket_forms(room: PocketRoom, aim: PocketAim, plenty: int = 1) -> list[PocketForm]:
    """The forms worth trying on a part: rounds and slots from the smallest to the widest it has room for, and rounds
    for each kind of piece.
    """
    widest = min(room.widest_mm(2.0 * LEAST_DEPTH_MM), aim.widest_mm)
    turn = room.turn_rad(2.0 * LEAST_DEPTH_MM)
    poured = [least_radius(row, aim.smallest_mm, 0.0) for row in aim.rows if not is_piece(row)]
    radii = _between(aim.smallest_mm, widest, 4) + [
        r for least in sorted(set(poured)) for r in _between(least, widest, 4)
    ]
    radii = _distinct(radii)
    forms = [PocketForm(radius, 0.0, 0.0, LEAST_DEPTH_MM, ROUNDS * plenty) for radius in radii]
    slot_radii = _distinct([r for least in {aim.smallest_mm, *poured} for r in _between(least, 0.8 * widest, 3)])
    forms += [
        PocketForm(radius, radius * share, turn + quarter * math.pi / 4.0, LEAST_DEPTH_MM, SLOTS * plenty)
        for radius in slot_radii[-5:]
        for share in (2.0, 5.0)
        for quarter in range(4)
    ]
    for row in aim.rows:
        if is_piece(row):
            radius = least_radius(row, aim.smallest_mm, aim.process.slide_fit_mm)
            forms.append(PocketForm(radius, 0.0, 0.0, aim.plug_mm + row.thickness_mm, PIECES * plenty))
    return forms


def _between(low: float, high: float, count: int) -> list[float]:
    return [float(r) for r in np.geomspace(low, high, count)] if high > low else ([low] if high > 0.9 * low else [])


def _distinct(values: list[float]) -> list[float]:
    kept: list[float] = []
    for value in sorted(values):
        if not kept or value > 1.08 * kept[-1]:
            kept.append(value)
    return kept


def _apart(pockets: Sequence[Pocket], web_mm: float) -> NDArray[np.bool_]:
    """Whether each two pockets leave a web between them, (p, p)."""
    n = len(pockets)
    ends = np.array([pocket.ends for pocket in pockets]).reshape(n, 2, 2)
    radius = np.array([pocket.radius_mm for pocket in pockets])
    a, b = np.triu_indices(n, 1)
    apart = np.zeros((n, n), dtype=bool)
    apart[a, b] = segment_distances(ends[a], ends[b]) - radius[a] - radius[b] >= web_mm
    return np.asarray(apart | apart.T)
