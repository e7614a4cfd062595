"""`with_colours`: the colours of a file carried to the solid it was mended into."""

from __future__ import annotations

import numpy as np

from prep.geometry.cut_by_lines import borders, cut_by_lines
from prep.geometry.cut_skin import Bools, Rows, Skin
from prep.geometry.distance import Nearest
from prep.geometry.raw_mesh import RawMesh
from prep.geometry.solid import Array, Solid
from prep.geometry.weld import exact_weld

_CREASE_DEG = 1.0


def with_colours(raw: RawMesh, solid: Solid) -> tuple[Solid, tuple[str, ...] | None]:
    """The solid, and the colour of each of its triangles as "#rrggbb", "" where the file gives it none.

    Parameters
    ----------
    solid : what `raw` was mended into, in the file's frame

    Returns
    -------
    solid : Solid
        The same shape. Where uniting bodies has joined flats of two colours into one triangle, it is split along the
        border between them.
    colours : tuple of str, or None
        None where the file has no colours.

    Notes
    -----
    Each triangle takes the colour of the file's triangle nearest to its middle. Transparency is passed over, but a
    triangle that is wholly transparent has no colour.
    """
    if raw.triangle_colours is None:
        return solid, None
    first, welded = exact_weld(raw.vertices)
    vertices, triangles = raw.vertices[first], welded.astype(np.int64)[raw.triangles]
    a, b, c = (vertices[triangles[:, k]] for k in range(3))
    cross = np.cross(b - a, c - a)
    length = np.linalg.norm(cross, axis=1)
    whole = np.flatnonzero(length > 0.0)
    triangles, normals = triangles[whole], cross[whole] / length[whole, None]
    shades = raw.triangle_colours[whole]
    label = shades.astype(np.int64) @ (256 ** np.arange(4))
    new = ~_among(solid.corners, vertices[triangles])
    if new.any() and len(np.unique(label)) > 1:
        lines = vertices[borders(triangles, normals, label, _CREASE_DEG)]
        cut, _ = cut_by_lines(Skin.of(solid), new, lines)
        if len(cut.triangles) > len(solid.triangles):
            solid = Solid.of(cut.vertices, cut.triangles)
    nearest = Nearest(vertices, triangles.astype(np.int32)).query(solid.corners.mean(axis=1))
    picked = shades[nearest.triangle].tolist()
    return solid, tuple(f"#{red:02x}{green:02x}{blue:02x}" if alpha else "" for red, green, blue, alpha in picked)


def _among(corners: Array, others: Array) -> Bools:
    """Which triangles (m, 3, 3) stand among others, whatever corner they begin with."""
    both = np.concatenate([corners, others])
    _, label = exact_weld(both.reshape(-1, 3))
    rows: Rows = np.sort(label.reshape(-1, 3).astype(np.int64), axis=1)
    _, name = np.unique(rows, axis=0, return_inverse=True)
    name = name.ravel()
    return np.isin(name[: len(corners)], name[len(corners) :])
