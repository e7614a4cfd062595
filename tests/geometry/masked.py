"""Parts with a window, and what a seated mask must hold, measured by hand on its triangles."""

from __future__ import annotations

import manifold3d
import numpy as np
import trimesh
from scipy.spatial import cKDTree

from prep.geometry.cut_skin import Skin, cut_half_spaces
from prep.geometry.mask_field import MaskForm
from prep.geometry.patch import Patch
from prep.geometry.solid import Solid
from tests.by_hand import nearest_by_hand

STRIDE = 3
"""Every third point of the land is measured: the slow way is slow."""

FORM = MaskForm(land_mm=1.2, gap_mm=0.05, relief_mm=0.8, lip_mm=0.8, wall_mm=1.6, reach_mm=4.0)


def kernel_solid(body):
    """A kernel's body through the project's door."""
    mesh = body.to_mesh64()
    return Solid.of(np.array(mesh.vert_properties)[:, :3], np.array(mesh.tri_verts))


def window(solid, *limits):
    """The patch of a solid inside half spaces (axis, level, side)."""
    cut = cut_half_spaces(Skin.of(solid), list(limits))
    return Patch.of(cut.skin, cut.inside)


def of_triangles(solid, inside):
    """The patch of whole triangles of a solid."""
    return Patch(solid.vertices, solid.triangles, inside, np.arange(len(inside), dtype=np.int32))


def dense_loops(patch, spacing=0.1):
    """Points along the window's edge, (n, 3)."""
    points = []
    for loop in patch.loops:
        for a, b in zip(loop, np.roll(loop, -1, axis=0), strict=True):
            count = max(1, int(np.ceil(np.linalg.norm(b - a) / spacing)))
            points.append(a + (b - a) * np.linspace(0.0, 1.0, count, endpoint=False)[:, None])
    return np.concatenate(points)


def land_gaps(pieces, solid, patch, form=FORM):
    """Distances to the part from all corners and middles of mask triangles on the inner part of the land."""
    edge = cKDTree(dense_loops(patch))
    found = []
    for piece in pieces:
        points = np.concatenate([piece.vertices, piece.corners.mean(axis=1)])
        away = edge.query(points)[0]
        points = points[(away > 0.2) & (away < form.land_mm - 0.15)][::STRIDE]
        gaps = nearest_by_hand(points, solid.corners, 1.0)
        found.append(gaps[gaps < form.gap_mm + 0.1])
    return np.concatenate(found)


def edge_misses(pieces, patch, form=FORM):
    """How far the mask's nearest point lies, along the skin, from each point of the window's edge."""
    points = dense_loops(patch, 0.5)
    near = np.min([_near(points, piece.corners) for piece in pieces], axis=0)
    return np.sqrt(np.maximum(near**2 - form.gap_mm**2, 0.0))


def _near(points, corners):
    """Distance to triangles, those first that come within 1 mm of any of the points."""
    far = cKDTree(points).query(corners.mean(axis=1))[0] > 1.0 + np.ptp(corners, axis=1).max()
    return nearest_by_hand(points, corners[~far], 1.0)


def shared_mm3(pieces, solid):
    """Volume that mask and part share, by the kernel itself."""
    bodies = [
        manifold3d.Manifold(manifold3d.Mesh64(np.array(one.vertices), one.triangles.astype(np.uint64)))
        for one in (*pieces, solid)
    ]
    return sum(abs((body ^ bodies[-1]).volume()) for body in bodies[:-1])


def is_one_clean_solid(piece):
    """Watertight, wound one way, in one piece, by another library."""
    mesh = trimesh.Trimesh(piece.vertices, piece.triangles, process=False)
    return mesh.is_watertight and mesh.is_winding_consistent and mesh.body_count == 1 and mesh.volume > 0.0
