"""`find_region`: from the words of a recipe to a patch of a part's skin."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Protocol

import numpy as np

from prep.errors import NoSuchRegion
from prep.geometry.cut_by_solid import area_of, cut_by_solid
from prep.geometry.cut_skin import Bools, Cut, Rows, Skin, cut_along, cut_half_spaces, opposite
from prep.geometry.distance import Nearest
from prep.geometry.open_sky import open_sky, spread_points
from prep.geometry.patch import Patch, pieces_of
from prep.geometry.rays import RayScene
from prep.geometry.smooth_skin import SMOOTH_DEG, corner_normals, corner_shares, smooth_patches
from prep.geometry.solid import Array, Indices, Solid
from prep.places.find import find_places
from prep.places.region_colour import cut_by_colour
from prep.places.region_wanted import CREASE_DEG, WITHIN_DEG, RegionWanted

LEAST_SKY = 0.02
"""Share of open sky below which skin is never seen from outside."""

HOLLOW_SHARE = 0.25
"""Skin with less than this share of the open sky of the region's freest piece lies in a hollow."""

LARGE_SHARE = 1e-3
"""Share of the region from which a smooth patch is looked at by itself."""

_OFF = 1e-5
"""Share of the diagonal by which a place is lifted off the skin to tell on which side of a crease it lies."""


class Skinned(Protocol):
    """What has a skin to find regions on: a part as it stands on the bench."""

    @property
    def solid(self) -> Solid:
        """The solid as it is now."""

    @property
    def original(self) -> Solid:
        """The solid as it was read."""

    @property
    def colours(self) -> tuple[str, ...] | None:
        """Of every triangle of `original`, "#rrggbb" or ""; None where the file has none."""


def find_region(
    part: Skinned, wanted: RegionWanted, bodies: Mapping[str, Solid], beside: Sequence[Solid] = ()
) -> Patch:
    """The patch of a part's skin that a recipe's words mean.

    Parameters
    ----------
    bodies : exported bodies by the path written in the recipe, in the part's frame
    beside : further solids that stand before the skin when it is asked what is seen from outside

    Raises
    ------
    NoSuchRegion
        The words cover no skin that is seen from outside, or all of it.
    NoColours
        A colour is asked for that the part's file does not have.
    NoSuchPlace
        The place of a `patch` is not on the part.

    Notes
    -----
    Exact for levels, boxes and bodies (a body flush with the skin is grown by `FLUSH` of its diagonal). `facing` is
    cut along the line where the smooth normal, linear over each triangle, reaches the angle; creases stay creases.
    `patch` and `colour` follow triangles.

    What is seen from outside is told by the mean share of open sky over up to 64 points, 64 rays a point. A smooth
    patch of the region's skin is left out where that is under `LEAST_SKY` (a sealed void, or a hollow that `beside`
    closes); patches under `LARGE_SHARE` of the region are taken together. A whole connected piece of the region is left
    out under `HOLLOW_SHARE` of that of the freest piece (the inner wall of a hollow body open on one side).
    """
    solid = part.solid
    skin = Skin.of(solid)
    marks: dict[int, Bools] = {}
    for leaf in sorted(wanted.leaves(), key=lambda one: one.solid is None):
        cut = _cut(part, skin, leaf, bodies)
        marks = {key: mark[cut.parent] for key, mark in marks.items()}
        skin, marks[id(leaf)] = cut.skin, cut.inside
    covered = _joined(wanted, marks)
    patches = smooth_patches(solid, SMOOTH_DEG)[skin.source]
    inside = _seen_from_outside(skin, covered, patches, [solid, *beside])
    areas = area_of(skin.vertices, skin.triangles)
    hidden = float(areas[covered & ~inside].sum())
    _has_an_edge(solid, wanted, float(areas[inside].sum()), hidden, float(areas.sum()))
    return Patch.of(skin, inside, hidden)


def _joined(wanted: RegionWanted, marks: Mapping[int, Bools]) -> Bools:
    if wanted.none_of is not None:
        return ~_joined(wanted.none_of, marks)
    if not wanted.joined:
        return marks[id(wanted)]
    join = np.logical_or if wanted.any_of is not None else np.logical_and
    return np.asarray(join.reduce([_joined(one, marks) for one in wanted.joined]))


def _cut(part: Skinned, skin: Skin, leaf: RegionWanted, bodies: Mapping[str, Solid]) -> Cut:
    """The skin cut by one form, its pieces in the form marked."""
    if leaf.solid is not None:
        return cut_by_solid(skin, bodies[leaf.solid])
    if leaf.between is not None:
        low, high = sorted(leaf.between, key=lambda level: level.at_mm)
        axis = "xyz".index(low.axis)
        return cut_half_spaces(skin, [(axis, low.at_mm, 1.0), (axis, high.at_mm, -1.0)])
    if leaf.box is not None:
        least, most = np.sort(np.array(leaf.box), axis=0)
        limits = [(axis, float(least[axis]), 1.0) for axis in range(3)]
        return cut_half_spaces(skin, limits + [(axis, float(most[axis]), -1.0) for axis in range(3)])
    if leaf.facing is not None:
        lean = corner_normals(part.solid) @ np.array(leaf.facing)
        return cut_along(skin, corner_shares(part.solid, skin, lean) - np.cos(np.radians(leaf.within or WITHIN_DEG)))
    if leaf.patch is not None:
        return Cut(skin, np.arange(len(skin.triangles)), _patch(part.solid, leaf)[skin.source])
    return cut_by_colour(skin, part.solid, part.original, part.colours, leaf)


def _patch(solid: Solid, leaf: RegionWanted) -> Bools:
    """Triangles of the smooth patches around every place of a leaf."""
    label = smooth_patches(solid, leaf.crease or CREASE_DEG)
    nearest = Nearest.of(solid)
    places = find_places(solid, [leaf.patch] if leaf.patch is not None else [])
    lifted = np.array([np.array(place.at_mm) - _OFF * solid.diagonal_mm * np.array(place.inward) for place in places])
    return np.isin(label, label[nearest.query(lifted).triangle])


def _seen_from_outside(skin: Skin, covered: Bools, patches: Rows, solids: Sequence[Solid]) -> Bools:
    """What is covered, less the skin that is not seen from outside.

    Parameters
    ----------
    patches : (m,), the smooth patch each triangle belongs to
    """
    areas = area_of(skin.vertices, skin.triangles)
    pieces = pieces_of(opposite(skin.triangles), covered, areas)
    if not pieces:
        return covered
    scene = RayScene(solids)
    least = LARGE_SHARE * float(areas[covered].sum())
    inside = covered.copy()
    sky = np.zeros(len(pieces))
    for number, piece in enumerate(pieces):
        named, label = np.unique(patches[piece], return_inverse=True)
        size = np.bincount(label, weights=areas[piece])
        label = np.where(size >= least, np.arange(len(named)), len(named))[label]
        for one in np.unique(label):
            rows = piece[label == one]
            share = _sky(scene, skin, rows, areas)
            sky[number] += share * areas[rows].sum() / max(areas[piece].sum(), np.finfo(float).tiny)
            inside[rows] = inside[rows] & (share >= LEAST_SKY)
    for piece, keep in zip(pieces, (sky >= HOLLOW_SHARE * sky.max()).tolist(), strict=True):
        inside[piece] = inside[piece] & keep
    return inside


def _sky(scene: RayScene, skin: Skin, rows: Indices, areas: Array) -> float:
    """Mean share of open sky over some triangles; 0 where they have no area."""
    if areas[rows].sum() <= 0.0:
        return 0.0
    points, normals = spread_points(skin.vertices[skin.triangles[rows]], int(np.clip(4 * len(rows), 16, 64)))
    return float(open_sky(scene, points, normals).mean())


def _has_an_edge(solid: Solid, wanted: RegionWanted, area: float, hidden: float, whole: float) -> None:
    x, y, z = solid.bounds_mm.T.tolist()
    spans = f"the part spans x {x[0]:.4g} to {x[1]:.4g}, y {y[0]:.4g} to {y[1]:.4g}, z {z[0]:.4g} to {z[1]:.4g} mm"
    if area <= 0.0:
        unseen = f", and {hidden:.4g} mm2 that is not seen from outside" if hidden > 0.0 else ""
        raise NoSuchRegion(
            "the region covers no skin",
            found=f"{wanted.says()}: 0 of {whole:.4g} mm2{unseen}; {spans}",
            fix="move or widen the region until it reaches the part's outer skin",
        )
    if area + hidden >= (1.0 - 1e-9) * whole:
        raise NoSuchRegion(
            "the region covers the whole skin, so nothing is left beside it",
            found=f"{wanted.says()}: {area:.4g} of {whole - hidden:.4g} mm2; {spans}",
            fix="make the region smaller, or join it with `not:`",
        )
