"""`mask_shell`: the shell that covers clean skin around a window, seated on the part, one solid a piece."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from prep.errors import EmptySolid, NothingToMask
from prep.geometry.mask_field import MaskField, MaskForm
from prep.geometry.mitre import mitred
from prep.geometry.offset_grid import iso_solid
from prep.geometry.open_sky import open_sky
from prep.geometry.patch import Patch
from prep.geometry.rays import RayScene
from prep.geometry.self_crossing import self_crossings
from prep.geometry.solid import Array, Solid, simplified, subtract, unite

FINE_SHARE = 1.0 / 3.0
"""Cell near the edge, as a share of the lip's thickness."""
COARSE_SHARE = 0.4
"""Cell behind the lip, as a share of the wall."""
SETTLED_SHARE = 0.04
"""How far off a vertex near the edge may lie before it is moved, as a share of the cell."""
OVERLAP = 2.0
FULLER = 0.1
"""How far the two stretches overlap, and how much fuller the coarse one is, in coarse cells: so they cross cleanly."""
DIP = 1.6
"""How deep the land reaches into the part before it is cut, in cells."""
FROM_SPRAY_DEG = 150.0
"""Skin turned farther than this from all of the window is not reached: the gun stands within 60 deg of square."""
SKY_RAYS, LEAST_SKY = 24, 0.05
"""Rays from each triangle, and the share of them that finds sky only through a seam."""
GRAIN_MM = 0.004
"""How far the shell may move where the grid's triangles are merged; the land is cut afterwards."""
CRUMB = 0.5
"""Least volume of a piece, in cubes of the lip's thickness."""
AT_EDGE = 0.5
"""A piece belongs to the mask if it comes as near the window's edge as the gap and this share of the land."""


@dataclass(frozen=True, eq=False)
class MaskShell:
    """A mask as it sits on the part.

    Attributes
    ----------
    pieces : connected solids, largest volume first
    crumbs : pieces left out because they come near no window's edge, or are too small to print
    crumbs_mm3 : their volume
    cells_mm : of the grid near the edge and behind it
    """

    pieces: tuple[Solid, ...]
    crumbs: int
    crumbs_mm3: float
    cells_mm: tuple[float, float]


def mask_shell(part: Solid, patch: Patch, form: MaskForm, covers: Sequence[Solid] = ()) -> MaskShell:
    """The mask that leaves a patch of a part open and covers the clean skin around it.

    Parameters
    ----------
    covers : parts that close a hollow part, so that its inside is known from its outside

    Raises
    ------
    NothingToMask
        No clean skin faces the spray.

    Notes
    -----
    Two stretches of one field, on a fine grid near the edge and a coarse one behind it, are united and cut with the
    part grown by the gap (`mitred`). So land and part share their facets, and the gap is exact where the part's faces
    are flat; the window's edge is off by a fraction of the fine cell, second order where skin and edge are smooth, and
    relief and outside are rounded at sharp edges of the part by up to half a coarse cell. Cost: a distance query a
    node, and two kernel operations.
    """
    turned = turned_away(patch)
    if covers:
        turned |= shut_in(patch, [part, *covers])
    if (patch.inside | turned).all():
        raise NothingToMask(
            "nothing that must stay clean faces the spray",
            found=f"all {int((~patch.inside).sum())} triangles outside the window look away from it by more than "
            f"{FROM_SPRAY_DEG:g} deg",
            fix="spray without a mask, or make the region smaller",
        )
    fine, coarse = FINE_SHARE * form.lip_mm, COARSE_SHARE * form.wall_mm
    field = MaskField(patch, turned, form, DIP * fine)
    parting = form.settled_mm + OVERLAP * coarse
    stretches = [_stretch(field, patch, 0.0, min(parting, form.reach_mm), fine, coarse)]
    if form.reach_mm > parting:
        stretches.append(_stretch(field, patch, parting - OVERLAP * coarse, form.reach_mm, coarse, coarse))
    bodies = [body for body in stretches if body is not None]
    if not bodies:
        raise NothingToMask(
            "no clean skin lies within reach of the window's edge",
            found=f"nothing within {form.reach_mm:g} mm that is a cell of {fine:.2f} mm wide",
            fix="give a larger `reach:`, or make the region smaller",
        )
    grown = mitred(part, form.gap_mm)
    cutters = [grown, part] if len(self_crossings(grown)) else [grown]
    whole = subtract(simplified(unite(bodies), GRAIN_MM), cutters)
    kept, dropped = _sorted_out(pieces_of(whole), patch, form.gap_mm + AT_EDGE * form.land_mm, CRUMB * form.lip_mm**3)
    return MaskShell(kept, len(dropped), sum(piece.volume_mm3 for piece in dropped), (fine, coarse))


def turned_away(patch: Patch) -> NDArray[np.bool_]:
    """Clean triangles, (m,), that look away from every triangle of the window by more than `FROM_SPRAY_DEG`."""
    a, b, c = (patch.vertices[patch.triangles[:, k]] for k in range(3))
    cross = np.cross(b - a, c - a)
    size = np.linalg.norm(cross, axis=1, keepdims=True)
    normal = np.divide(cross, size, out=np.zeros_like(cross), where=size > 0.0)
    turned = np.zeros(len(normal), dtype=bool)
    clean = np.flatnonzero(~patch.inside)
    window = np.unique(np.round(normal[patch.inside & (size[:, 0] > 0.0)], 2), axis=0)
    chord, _ = cKDTree(window).query(normal[clean])
    turned[clean] = chord > 2.0 * np.sin(np.radians(FROM_SPRAY_DEG) / 2.0)
    return turned


def shut_in(patch: Patch, solids: Sequence[Solid]) -> NDArray[np.bool_]:
    """Clean triangles, (m,), that have no open sky before them where these solids stand together."""
    clean = np.flatnonzero(~patch.inside & (patch.triangle_areas > 0.0))
    corners = patch.vertices[patch.triangles[clean]]
    cross = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals = cross / np.linalg.norm(cross, axis=1, keepdims=True)
    shut = np.zeros(len(patch.triangles), dtype=bool)
    shut[clean] = open_sky(RayScene(solids), corners.mean(axis=1), normals, SKY_RAYS) <= LEAST_SKY
    return shut


def pieces_of(solid: Solid) -> tuple[Solid, ...]:
    """Connected solids of one, largest volume first; voids sealed inside a piece are filled."""
    label, volumes = solid.shell_of_triangle, solid.shell_volumes_mm3
    found = []
    for shell in np.argsort(-volumes, kind="stable"):
        if volumes[shell] <= 0.0:
            break
        used, triangles = np.unique(solid.triangles[label == shell], return_inverse=True)
        found.append(Solid.of(solid.vertices[used], triangles.reshape(-1, 3)))
    return tuple(found)


def _stretch(
    field: MaskField, patch: Patch, from_mm: float, to_mm: float, cell_mm: float, coarse_mm: float
) -> Solid | None:
    """The mask between two distances from the edge, on one grid; None where there is none."""
    first = from_mm == 0.0
    begin = from_mm if not first else -np.inf
    fuller = 0.0 if first else FULLER * coarse_mm

    def value(points: Array) -> Array:
        return field.value(points, begin, to_mm, fuller)

    def near(points: Array, reach_mm: float) -> NDArray[np.bool_]:
        return field.near(points, reach_mm, from_mm, to_mm)

    edge = patch.vertices[patch.edge_sides]
    room = np.hypot(to_mm, field.form.top_mm) + field.form.top_mm
    low, high = edge.min(axis=(0, 1)) - room, edge.max(axis=(0, 1)) + room
    try:
        return iso_solid(value, near, low, high, cell_mm, SETTLED_SHARE * cell_mm if first else np.inf)
    except EmptySolid:
        return None


def _sorted_out(
    pieces: tuple[Solid, ...], patch: Patch, within_mm: float, least_mm3: float
) -> tuple[tuple[Solid, ...], list[Solid]]:
    """Pieces that come near the window's edge and can be printed, and those that are left out."""
    kept: list[Solid] = []
    dropped: list[Solid] = []
    for piece in pieces:
        mask = piece.volume_mm3 >= least_mm3 and np.abs(patch.edge_distance(piece.vertices)).min() <= within_mm
        (kept if mask else dropped).append(piece)
    return tuple(kept), dropped
