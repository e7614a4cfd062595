"""`cut_by_solid`: a skin split where another body's surface runs through it."""

from __future__ import annotations

import manifold3d
import numpy as np
from scipy.spatial import cKDTree

from prep.errors import KernelRefused
from prep.geometry.cut_skin import Cut, Rows, Skin
from prep.geometry.distance import Nearest
from prep.geometry.edges import Edges, is_closed
from prep.geometry.sampling import sample_surface
from prep.geometry.solid import Array, Solid
from prep.geometry.weld import exact_weld

FLUSH = 1e-4
"""Share of the body's diagonal: skin within this of the body's own counts as inside it."""

_ROUNDING = 1e-12
"""Share of the diagonal by which the two halves may place one point apart."""

_ALONG = 0.99
"""Cosine between two skins that lie on one another."""


def cut_by_solid(skin: Skin, body: Solid) -> Cut:
    """Split a skin along another body's surface; inside are the pieces within the body.

    A body that is flush with the skin somewhere is first grown by `FLUSH` of its diagonal, so that skin lying on it is
    inside; the line then runs that much beside its true place.

    Raises
    ------
    KernelRefused
        The two halves of the cut do not join again.

    Notes
    -----
    The kernel splits the host by the body in one operation, so both halves hold the same new vertices; of either half
    the triangles that stem from the host are kept. Exact but for the kernel's rounding and for `FLUSH`.
    """
    host = Solid.of(skin.vertices, skin.triangles)
    grown = FLUSH * body.diagonal_mm
    for cutter in [_grown(body, grown), _grown(body, 2.0 * grown)] if is_flush(host, body, grown) else [body]:
        cut = _split(skin, cutter)
        if cut is not None:
            return cut
    raise KernelRefused(
        "the body could not be marked off on the part's skin",
        found="the two halves of the skin do not join along the cut",
        fix="export the body a little larger than the skin it marks",
    )


def is_flush(host: Solid, body: Solid, within_mm: float) -> bool:
    """Whether the two skins lie on one another somewhere, facing the same way or face to face."""
    samples = sample_surface(body, body.diagonal_mm / 50.0)
    found = Nearest.of(host).query(samples.point)
    along = np.abs(np.einsum("ij,ij->i", host.triangle_normals[found.triangle], samples.normal))
    return bool(((found.distance_mm <= within_mm) & (along >= _ALONG)).any())


def _split(skin: Skin, body: Solid) -> Cut | None:
    """The cut, or None where what the kernel hands back does not close."""
    own = manifold3d.Manifold.reserve_ids(1)
    count = len(skin.triangles)
    mesh = manifold3d.Mesh64(
        np.array(skin.vertices, order="C"),
        skin.triangles.astype(np.uint64),
        run_index=np.array([0, 3 * count], dtype=np.uint64),
        run_original_id=np.array([own], dtype=np.uint32),
        face_id=np.arange(count, dtype=np.uint64),
    )
    vertices, triangles, parents, inside = [], [], [], []
    begin = 0
    for half, within in zip(manifold3d.Manifold(mesh).split(body._kernel), (True, False), strict=True):
        made = half.to_mesh64()
        runs = np.asarray(made.run_index).astype(np.int64) // 3
        rows = _rows_of(runs, np.asarray(made.run_original_id), own)
        points = np.asarray(made.vert_properties, dtype=np.float64)[:, :3]
        vertices.append(points)
        triangles.append(np.asarray(made.tri_verts).astype(np.int64)[rows] + begin)
        parents.append(np.asarray(made.face_id).astype(np.int64)[rows])
        inside.append(np.full(len(rows), within))
        begin += len(points)
    first, welded = exact_weld(np.concatenate(vertices))
    points = np.concatenate(vertices)[first]
    joined = _along_the_cut(points, welded.astype(np.int64)[np.concatenate(triangles)])
    if not is_closed(joined) or not _same_area(skin, points, joined):
        return None
    parent = np.concatenate(parents)
    return Cut(Skin(points, joined, skin.source[parent]), parent, np.concatenate(inside))


def _along_the_cut(points: Array, triangles: Rows) -> Rows:
    """Triangles with the ends of open edges made one where they differ by rounding only, as the halves may."""
    edges = Edges.of(triangles)
    ends = np.unique(edges.ends[edges.is_open])
    tree = cKDTree(points[ends])
    pairs = tree.query_pairs(_ROUNDING * float(np.linalg.norm(np.ptp(points, axis=0))), output_type="ndarray")
    name = np.arange(len(points))
    name[ends[pairs.max(axis=1)]] = ends[pairs.min(axis=1)]
    return np.asarray(name[triangles])


def _rows_of(runs: Rows, ids: Array, own: int) -> Rows:
    """Triangles of the runs that stem from one original."""
    pieces = [np.arange(runs[k], runs[k + 1]) for k in range(len(ids)) if ids[k] == own]
    return np.concatenate([np.empty(0, dtype=np.int64), *pieces])


def _same_area(skin: Skin, vertices: Array, triangles: Rows) -> bool:
    before, after = area_of(skin.vertices, skin.triangles), area_of(vertices, triangles)
    return bool(abs(after.sum() - before.sum()) <= 1e-9 * before.sum())


def area_of(vertices: Array, triangles: Rows) -> Array:
    """Area of every triangle, (m,)."""
    a, b, c = (vertices[triangles[:, k]] for k in range(3))
    return np.asarray(np.linalg.norm(np.cross(b - a, c - a), axis=1) / 2.0)


def _grown(body: Solid, by_mm: float) -> Solid:
    """The body with every vertex moved outward, so that flat faces move by a length."""
    normals = body.triangle_normals
    corners = body.corners
    total = np.zeros_like(body.vertices)
    for k in range(3):
        one = corners[:, (k + 1) % 3] - corners[:, k]
        two = corners[:, (k + 2) % 3] - corners[:, k]
        size = np.linalg.norm(one, axis=1) * np.linalg.norm(two, axis=1)
        cosine = np.einsum("ij,ij->i", one, two) / np.maximum(size, np.finfo(float).tiny)
        np.add.at(total, body.triangles[:, k], normals * np.arccos(np.clip(cosine, -1.0, 1.0))[:, None])
    length = np.linalg.norm(total, axis=1, keepdims=True)
    outward = np.divide(total, length, out=np.zeros_like(total), where=length > 0.0)
    slope = np.full(len(outward), 1.0)
    for k in range(3):
        np.minimum.at(slope, body.triangles[:, k], np.einsum("ij,ij->i", outward[body.triangles[:, k]], normals))
    return Solid.of(body.vertices + outward * (by_mm / np.maximum(slope, 0.3))[:, None], body.triangles)
