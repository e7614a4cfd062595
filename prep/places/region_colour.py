"""`cut_by_colour`: the skin that has the colour a region asks for."""

from __future__ import annotations

import numpy as np

from prep.errors import NoColours
from prep.geometry.cut_by_lines import borders, cut_by_lines
from prep.geometry.cut_skin import Bools, Cut, Skin
from prep.geometry.distance import Nearest
from prep.geometry.solid import Array, Solid
from prep.places.region_wanted import OFF_COLOUR, RegionWanted

ON_ORIGINAL = 1e-4
"""Share of the diagonal: skin farther than this from the original's has been made since, and has no colour."""

_SAME_SIDE = 0.9
_MOST_LISTED = 8


def cut_by_colour(
    skin: Skin, solid: Solid, original: Solid, colours: tuple[str, ...] | None, wanted: RegionWanted
) -> Cut:
    """The skin with the pieces marked that have a region's colour, from the colours of the solid it was made of.

    Notes
    -----
    A piece has the colour of the original's triangle nearest to its middle, if it lies on it and faces the same way.
    Where a step has joined flats of two colours into one triangle, it is first split along the border between them.

    Raises
    ------
    NoColours
        The file has none, or not this one.
    """
    if not colours or not any(colours):
        raise NoColours(
            "the part's file has no colours",
            found="a region asks for one by `colour:`",
            fix="export the part as 3MF with its faces coloured, or say the region by `between`, `box` or `patch`",
        )
    marked = wanted_colour(colours, original.triangle_areas, wanted)
    parent = np.arange(len(skin.triangles))
    if solid is original:
        return Cut(skin, parent, marked[skin.source])
    edges = borders(original.triangles.astype(np.int64), original.triangle_normals, marked.astype(np.int64), 180.0)
    nearest = Nearest.of(original)
    on = nearest.query(solid.corners.mean(axis=1)).distance_mm <= ON_ORIGINAL * original.diagonal_mm
    skin, parent = cut_by_lines(skin, on[skin.source], original.vertices[edges])
    found = nearest.query(skin.vertices[skin.triangles].mean(axis=1))
    facing = np.einsum("ij,ij->i", original.triangle_normals[found.triangle], solid.triangle_normals[skin.source])
    kept = (found.distance_mm <= ON_ORIGINAL * original.diagonal_mm) & (facing >= _SAME_SIDE)
    return Cut(skin, parent, kept & marked[found.triangle])


def wanted_colour(colours: tuple[str, ...], areas: Array, wanted: RegionWanted) -> Bools:
    """Triangles whose colour is that of a region's `colour`, within its tolerance.

    Parameters
    ----------
    colours, areas : of every triangle

    Raises
    ------
    NoColours
        None is; lists the colours there are, the nearest first.

    Notes
    -----
    How far apart two colours are is the distance of their three channels, black to white being 1.
    """
    names, label = np.unique(np.array(colours), return_inverse=True)
    asked = _channels(str(wanted.colour))
    off = np.array([np.linalg.norm(_channels(name) - asked) / 3.0**0.5 if name else np.inf for name in names])
    mark = np.asarray(off <= (OFF_COLOUR if wanted.tolerance is None else wanted.tolerance))
    if not mark.any():
        size = np.bincount(label, weights=areas)
        order = [k for k in np.argsort(off, kind="stable") if names[k]]
        listed = ", ".join(f"{names[k]} on {size[k]:.4g} mm2" for k in order[:_MOST_LISTED])
        more = f" and {len(order) - _MOST_LISTED} more" if len(order) > _MOST_LISTED else ""
        raise NoColours(
            f"no skin has the colour {wanted.colour}",
            found=f"{listed}{more}",
            fix=f'did you mean `colour: "{names[order[0]]}"`? It is {100.0 * off[order[0]]:.3g} % off',
        )
    return np.asarray(mark[label])


def _channels(colour: str) -> Array:
    return np.array([int(colour[k : k + 2], 16) for k in (1, 3, 5)]) / 255.0
