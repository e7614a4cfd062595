"""`LightField`: how much light every piece of skin of a model gets from its lamps, and how much it sends on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy.sparse
from numpy.typing import NDArray

from prep.geometry.light_paths import AirPaths, air_paths, sees, wall_paths
from prep.geometry.rays import RayScene
from prep.geometry.solid import Array, Solid
from prep.geometry.surface_cells import SurfaceCells, coarser, cut_fine, surface_cells
from prep.physics.lambert import illuminance
from prep.physics.transmission import Transmission
from prep.places.pane import Pane
from prep.places.place import Triple

MOST_CELLS = 60_000
"""Fine cells over all parts together; with the whole skin this sets the spacing."""

COARSE = 4.0
"""Fine spacings in a coarse one; light sent back and forth is smooth, straight light is not."""

GAP_MM = 3.0
"""Air narrower than this between two faces is cut into cells of its own, so that a seam's mouth is not its inside."""

TOUCH_MM = 0.05
"""Air narrower than this between two parts counts as contact (habit: glue, paint or a press fit closes it)."""

COAT_PASSES = 0.001
"""Share of light through a dark coat of full thickness (unverified; three coats of flat black stop a thin wall)."""

FAN = 64
"""Rays from each coarse cell."""

ROUNDS = 24
"""Times light goes back and forth; at a reflectance of 0.7 what is left out after that is under 0.02 %."""


@dataclass(frozen=True)
class Source:
    """A lamp as light: a point whose intensity falls off as the cosine to its axis, raised to an order.

    Attributes
    ----------
    at_mm, axis : place in the air, and unit direction of the strongest light
    order : power of the cosine
    candela : along the axis
    body_mm : radius of its body, which lies behind `at_mm` and fills the bore there; 0 for a bare point
    """

    at_mm: Triple
    axis: Triple
    order: float
    candela: float
    body_mm: float = 0.0


@dataclass(frozen=True)
class Plastic:
    """How a part meets light.

    Attributes
    ----------
    transmission : of its material
    reflectance : share of the light on its bare skin that goes back, evenly all round
    coat_reflectance : the same where its lit inside wears a dark coat; None where it wears none
    """

    transmission: Transmission
    reflectance: float
    coat_reflectance: float | None = None


@dataclass(frozen=True, eq=False)
class LightField:
    """The light on every piece of skin.

    Attributes
    ----------
    solids : tuple of Solid
        The parts with triangles small enough for cells, in their order; those of `scene`.
    plastics, sources, panes : what was asked about
    cells, coarse : SurfaceCells
        About `spacing_mm` large, and `COARSE` times that; the narrow air of seams and what lies about
        windows are cut finely in both.
    onto : (n,)
        Coarse cell of each fine one.
    falls : (c, l) float64, lux
        On every coarse cell from each lamp: straight, sent back by other skin, and what walls let through.
    scattered : (c, l) float64, lux
        The part of it that does not come straight.
    aired : (c, l) float64, lux
        What would fall if every wall were opaque: light that found its way through air alone.
    air : AirPaths
        From the coarse cells.
    reflects : (c,) float64
        Share of the light on every coarse cell that it sends back.
    coated, in_pane : (c,) bool
        Cells that wear a dark coat; cells before or behind a window.
    gap_mm : (m,) float64
        At every triangle of the scene, the air before it as far as a face that looks back; infinite where none does.
    """

    solids: tuple[Solid, ...]
    scene: RayScene
    plastics: tuple[Plastic, ...]
    sources: tuple[Source, ...]
    panes: tuple[Pane, ...]
    spacing_mm: float
    cells: SurfaceCells
    coarse: SurfaceCells
    onto: NDArray[np.int32]
    falls: Array
    scattered: Array
    aired: Array
    air: AirPaths
    reflects: Array
    coated: NDArray[np.bool_]
    in_pane: NDArray[np.bool_]
    gap_mm: Array

    @property
    def deepest_mm(self) -> float:
        """Material no path goes on beyond, mm: it passes a millionth of the light in the clearest of the parts."""
        return deepest(self.plastics)

    def falls_at(self, points: Array, triangle: NDArray[np.integer]) -> Array:
        """Light on points of the skin from each lamp, (n, l) lux: straight light exactly, the rest as on its cell."""
        cell = self.coarse.of_triangle[triangle]
        straight = straight_light(self.scene, self.sources, points, self.scene.normals[triangle])
        return np.asarray(straight + self.scattered[cell])

    def passes(self, length_mm: Array, triangle: NDArray[np.integer]) -> Array:
        """Share of light through paths of so much of each material that end on these triangles, (n,)."""
        passed = share_through(self.plastics, length_mm)
        return np.asarray(passed * np.where(self.coated[self.coarse.of_triangle[triangle]], COAT_PASSES, 1.0))


def light_field(
    solids: Sequence[Solid],
    plastics: Sequence[Plastic],
    sources: Sequence[Source],
    panes: Sequence[Pane] = (),
    *,
    most_cells: int = MOST_CELLS,
) -> LightField:
    """The light on every piece of skin of some parts from the lamps among them.

    Parameters
    ----------
    solids, plastics : one of each for every part, in the assembly's frame
    sources : at least one
    panes : windows; their inner side wears no coat, and what they send out is not followed further
    most_cells : fine cells over all parts together

    Notes
    -----
    Every face sends light back evenly all round (a matt face), and every wall is a diffuser: light that falls on its
    inner side E lets the outer side send out E T, T the share measured on a step wedge for that thickness; walls behind
    one another, in one part or across parts, multiply. Straight light is exact for point lamps; what is sent back and
    forth is solved on the coarse cells (radiosity) with `FAN` rays a cell, so it carries their sampling error, a few
    per cent on a cell. Left out: gloss, clear parts that pass an image, light that creeps sideways inside a wall,
    colours. Reflectances are defaults that nobody has measured here.

    References
    ----------
    M. F. Cohen, J. R. Wallace, Radiosity and Realistic Image Synthesis (1993), chapters 2 and 4.
    """
    area = sum(solid.area_mm2 for solid in solids)
    spacing = float(np.sqrt(area / most_cells))
    fine = cut_fine(solids, 1.5 * spacing)
    scene = RayScene(fine)
    gap = air_before(scene)
    narrow = ((gap < GAP_MM) & (gap > TOUCH_MM)) | _about(panes, scene.vertices[scene.triangles].mean(axis=1))
    cells = surface_cells(scene, np.where(narrow, 0.999 * spacing, spacing))
    coarse = surface_cells(scene, np.where(narrow, 0.999 * spacing, COARSE * spacing))
    onto = coarser(cells, coarse)
    direct = _straight_on(scene, sources, cells, coarse, onto)
    air = air_paths(scene, coarse.point, coarse.normal, FAN)
    seen = _seen(air, coarse)
    in_pane = _about(panes, coarse.point)
    bare = np.array([plastic.reflectance for plastic in plastics])[coarse.solid]
    nothing = np.zeros(len(coarse))
    none = np.zeros(len(coarse), dtype=np.int64)
    reached = _settle(direct, seen, bare, nothing, none).sum(axis=1) > 0.0
    dark = np.array([np.nan if p.coat_reflectance is None else p.coat_reflectance for p in plastics])[coarse.solid]
    coated = reached & ~_about(panes, coarse.point, wider_mm=0.0) & np.isfinite(dark)
    reflects = np.where(coated, dark, bare)
    below = wall_paths(scene, coarse.point, -coarse.normal, coarse.solid, reach_mm=deepest(plastics), touch_mm=TOUCH_MM)
    behind = np.where(below.triangle >= 0, coarse.of_triangle[below.triangle], 0)
    through = share_through(plastics, below.length_mm)
    through = np.where((below.triangle < 0) | in_pane, 0.0, through)
    through = through * np.where(coated, COAT_PASSES, 1.0) * np.where(coated[behind], COAT_PASSES, 1.0)
    aired = _settle(direct, seen, reflects, nothing, none)
    falls = _settle(direct, seen, reflects, through, behind) if through.any() else aired
    return LightField(
        fine, scene, tuple(plastics), tuple(sources), tuple(panes), spacing, cells, coarse, onto,
        falls, falls - direct, aired, air, reflects, coated, in_pane, gap,
    )  # fmt: skip


def straight_light(scene: RayScene, sources: Sequence[Source], points: Array, normals: Array) -> Array:
    """Light on points of the skin straight from each lamp, (n, l) lux; 0 where something stands between."""
    columns = []
    for source in sources:
        at, axis = np.array(source.at_mm), np.array(source.axis)
        lux = illuminance(points, normals, at[None], axis[None], source.order, source.candela)
        rows = np.flatnonzero(lux > 0.0)
        lux[rows] *= sees(scene, points[rows], normals[rows], at)
        columns.append(lux)
    return np.stack(columns, axis=1)


def share_through(plastics: Sequence[Plastic], length_mm: Array) -> Array:
    """Share of light through paths (n, s) mm, (n,): that of each part's material, multiplied; 0 for an endless path."""
    passed = np.ones(len(length_mm))
    for column, plastic in zip(length_mm.T, plastics, strict=True):
        curve = plastic.transmission
        passed *= np.where(column > 0.0, curve.surface * np.exp(-curve.per_mm * column), 1.0)
    return passed


def deepest(plastics: Sequence[Plastic]) -> float:
    """Material that passes a millionth of the light in the clearest of some plastics, mm."""
    return max(plastic.transmission.opaque_mm(1e-6) for plastic in plastics)


def air_before(scene: RayScene) -> Array:
    """At every triangle, how far along its normal a face looks back at it within 45 degrees, mm; infinite if none."""
    middle = scene.vertices[scene.triangles].mean(axis=1)
    hits = scene.cast(middle + 2e-6 * scene.diagonal_mm * scene.normals, scene.normals)
    met = np.flatnonzero(hits.triangle >= 0)
    facing = np.einsum("ij,ij->i", scene.normals[met], scene.normals[hits.triangle[met]]) < -0.7
    gap = np.full(len(middle), np.inf)
    gap[met[facing]] = hits.distance_mm[met[facing]]
    return gap


def _about(panes: Sequence[Pane], points: Array, wider_mm: float | None = None) -> NDArray[np.bool_]:
    """Whether points of the skin are a window's, before or behind its wall."""
    found = np.zeros(len(points), dtype=bool)
    for pane in panes:
        found |= pane.holds(points, inward_mm=pane.wall_mm + pane.halo_mm, wider_mm=wider_mm)
    return found


def _seen(air: AirPaths, coarse: SurfaceCells) -> scipy.sparse.csr_array:
    """Which share of what each coarse cell sees is each other cell, (c, c); rows add up to what does not leave."""
    count, fan = air.triangle.shape
    row, column = np.nonzero(air.triangle >= 0)
    cell = coarse.of_triangle[air.triangle[row, column]]
    return scipy.sparse.csr_array((np.full(len(row), 1.0 / fan), (row, cell)), shape=(count, count))


def _settle(
    direct: Array, seen: scipy.sparse.csr_array, reflects: Array, through: Array, behind: NDArray[np.integer]
) -> Array:
    """Light on every cell once it has gone back and forth, and through walls, `ROUNDS` times; (c, l)."""
    falls = direct
    for _ in range(ROUNDS):
        falls = direct + seen @ (reflects[:, None] * falls + through[:, None] * falls[behind])
    return np.asarray(falls)


def _straight_on(
    scene: RayScene,
    sources: Sequence[Source],
    cells: SurfaceCells,
    coarse: SurfaceCells,
    onto: NDArray[np.integer],
) -> Array:
    """Straight light on every coarse cell, the mean over fine cells in it; at its own point where none are."""
    straight = straight_light(scene, sources, cells.point, cells.normal)
    area = np.bincount(onto, cells.area_mm2, len(coarse))
    total = np.stack([np.bincount(onto, cells.area_mm2 * column, len(coarse)) for column in straight.T], axis=1)
    empty = np.flatnonzero(area == 0.0)
    mean = total / np.where(area == 0.0, 1.0, area)[:, None]
    mean[empty] = straight_light(scene, sources, coarse.point[empty], coarse.normal[empty])
    return np.asarray(mean)
