"""`Solid`: triangles that bound a volume, checked once at the door and never changed afterwards."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import manifold3d
import numpy as np
import scipy.sparse
from numpy.typing import NDArray

from prep.errors import EmptySolid, KernelRefused, NotASolid

Array = NDArray[np.float64]
Indices = NDArray[np.int32]

SLIVER_MM = 1e-3


@dataclass(frozen=True)
class Topology:
    """What a cut may not change by accident.

    Attributes
    ----------
    shells : int
        Connected surfaces, the walls of sealed voids included.
    genus : int
        Handles, summed over the shells: a through hole adds one, a blind pocket none.
    sealed_voids : int
        Shells whose inside is air.
    """

    shells: int
    genus: int
    sealed_voids: int


@dataclass(frozen=True, eq=False)
class Solid:
    """A closed, consistently wound surface in mm; the inside is where the winding number is positive.

    Make one with `Solid.of`, which reads the kernel's verdict and raises with its cause. Arrays are read-only.

    Attributes
    ----------
    vertices : (n, 3) float64, mm
    triangles : (m, 3) int32
        Counter-clockwise seen from outside the material.
    """

    vertices: Array
    triangles: Indices
    _kernel: manifold3d.Manifold = field(repr=False)

    @staticmethod
    def of(vertices: Array, triangles: NDArray[np.integer]) -> Solid:
        """The one door: a solid from vertices (n, 3) in mm and triangles (m, 3), or a fault with its cause.

        Raises
        ------
        EmptySolid
            No triangles.
        NotASolid
            Some edge is not shared by exactly two triangles that run it in opposite directions.
        KernelRefused
            Coordinates that are not finite, or a cause the kernel names.
        """
        v = np.array(vertices, dtype=np.float64, order="C")
        if len(triangles) == 0:
            raise EmptySolid("there are no triangles", found="0 triangles", fix="export the part again")
        if not np.isfinite(v).all():
            raise KernelRefused("coordinates are not finite", found="NaN or infinite coordinates")
        mesh = manifold3d.Mesh64(v, np.array(triangles, dtype=np.uint64, order="C"))
        kernel = manifold3d.Manifold(mesh)
        status = kernel.status()
        if status == manifold3d.Error.NotManifold:
            open_edges = count_open_edges(triangles)
            raise NotASolid(
                "the triangles do not close around a volume",
                found=f"{open_edges} open or badly shared edges in {len(triangles)} triangles",
                fix="export the part again as one closed body",
            )
        if status != manifold3d.Error.NoError:
            raise KernelRefused("the solid kernel refused the triangles", found=str(status).rpartition(".")[2])
        return _wrap(kernel)

    @cached_property
    def volume_mm3(self) -> float:
        """Volume enclosed, sealed voids taken out (divergence theorem about the middle of the bounds)."""
        return self._moments[0]

    @cached_property
    def centre_mm(self) -> Array:
        """Centroid of the volume, (3,)."""
        return self._moments[1]

    @cached_property
    def area_mm2(self) -> float:
        """Area of every shell, the walls of sealed voids included."""
        return float(self.triangle_areas.sum())

    @cached_property
    def bounds_mm(self) -> Array:
        """Lowest and highest corner, (2, 3)."""
        return np.array([self.vertices.min(axis=0), self.vertices.max(axis=0)])

    @property
    def extents_mm(self) -> Array:
        """Size along x, y and z, (3,)."""
        return np.asarray(self.bounds_mm[1] - self.bounds_mm[0])

    @property
    def diagonal_mm(self) -> float:
        """Length of the diagonal of the bounds."""
        return float(np.linalg.norm(self.extents_mm))

    @property
    def corners(self) -> Array:
        """Corners of every triangle, (m, 3, 3); made anew at each call."""
        return np.asarray(self.vertices[self.triangles])

    @cached_property
    def triangle_normals(self) -> Array:
        """Unit outward normals, (m, 3); zero for a triangle without area."""
        return _normals_and_areas(self.vertices, self.triangles)[0]

    @cached_property
    def triangle_areas(self) -> Array:
        """Areas, (m,)."""
        return _normals_and_areas(self.vertices, self.triangles)[1]

    @cached_property
    def slivers(self) -> NDArray[np.bool_]:
        """Triangles lower than `SLIVER_MM`, (m,): rounding alone may have turned their normals anyhow."""
        sides = np.linalg.norm(np.roll(self.corners, -1, axis=1) - self.corners, axis=2).max(axis=1)
        return np.asarray(2.0 * self.triangle_areas <= SLIVER_MM * sides)

    @cached_property
    def shell_of_triangle(self) -> Indices:
        """Which shell each triangle belongs to, (m,), counted from 0."""
        t = self.triangles
        n = len(self.vertices)
        rows = np.concatenate([t[:, 0], t[:, 1]])
        columns = np.concatenate([t[:, 1], t[:, 2]])
        graph = scipy.sparse.coo_matrix((np.ones(len(rows), dtype=bool), (rows, columns)), shape=(n, n))
        _, labels = scipy.sparse.csgraph.connected_components(graph, directed=False)
        _, dense = np.unique(labels[t[:, 0]], return_inverse=True)
        return np.asarray(dense, dtype=np.int32)

    @cached_property
    def shell_volumes_mm3(self) -> Array:
        """Signed volume of every shell: positive bodies, negative sealed voids."""
        middle = self.bounds_mm.mean(axis=0)
        a, b, c = (self.vertices[self.triangles[:, k]] - middle for k in range(3))
        six = np.einsum("ij,ij->i", a, np.cross(b, c))
        return np.bincount(self.shell_of_triangle, weights=six) / 6.0

    @cached_property
    def topology(self) -> Topology:
        """Shells, genus and sealed voids, counted on the triangles themselves (Euler's formula)."""
        volumes = self.shell_volumes_mm3
        shells = len(volumes)
        used = len(np.unique(self.triangles))
        euler = used - len(self.triangles) * 3 // 2 + len(self.triangles)
        return Topology(shells=shells, genus=shells - euler // 2, sealed_voids=int((volumes < 0).sum()))

    @cached_property
    def sha256(self) -> str:
        """Hash of the vertices and triangles as they stand."""
        digest = hashlib.sha256(self.vertices.tobytes())
        digest.update(self.triangles.tobytes())
        return digest.hexdigest()

    def moved(self, matrix: Array) -> Solid:
        """The solid under a rigid motion given as a (4, 4) or (3, 4) matrix acting on columns."""
        return _wrap(self._kernel.transform(np.asarray(matrix, dtype=np.float64)[:3, :4]))

    @cached_property
    def _moments(self) -> tuple[float, Array]:
        middle = self.bounds_mm.mean(axis=0)
        a, b, c = (self.vertices[self.triangles[:, k]] - middle for k in range(3))
        six = np.einsum("ij,ij->i", a, np.cross(b, c))
        total = float(six.sum())
        if total == 0.0:
            return 0.0, middle
        return total / 6.0, middle + (six[:, None] * (a + b + c)).sum(axis=0) / (4.0 * total)


def subtract(host: Solid, cutters: Sequence[Solid]) -> Solid:
    """The host less all cutters, in one kernel operation.

    Raises
    ------
    EmptySolid
        Nothing is left of the host.
    """
    if not cutters:
        return host
    return _combine([host, *cutters], manifold3d.OpType.Subtract)


def unite(solids: Sequence[Solid]) -> Solid:
    """All solids as one; where they overlap the material counts once."""
    return solids[0] if len(solids) == 1 else _combine(solids, manifold3d.OpType.Add)


def intersect(solids: Sequence[Solid]) -> Solid:
    """What all solids share.

    Raises
    ------
    EmptySolid
        They share nothing.
    """
    return solids[0] if len(solids) == 1 else _combine(solids, manifold3d.OpType.Intersect)


def shared_volume(a: Solid, b: Solid) -> float:
    """Volume two solids share, mm3; 0 where they only touch or are apart."""
    try:
        return intersect([a, b]).volume_mm3
    except EmptySolid:
        return 0.0


def slice_at(solid: Solid, origin: Array, normal: Array, along: Array) -> list[Array]:
    """Outlines where a plane cuts the solid.

    Parameters
    ----------
    origin : (3,) mm
        A point of the plane; the origin of the plane's own axes.
    normal, along : (3,)
        Unit normal, and the direction in the plane that becomes the first axis.

    Returns
    -------
    list of (k, 2) float64, mm
        Closed outlines in the plane's axes (along, normal x along); material to the left.
    """
    frame = np.stack([along, np.cross(normal, along), normal])
    matrix = np.hstack([frame, -(frame @ origin)[:, None]])
    section = solid._kernel.transform(matrix).slice(0.0)
    return [np.asarray(outline, dtype=np.float64) for outline in section.to_polygons()]


def refined(solid: Solid, longest_mm: float) -> Solid:
    """The same shape with every edge cut into pieces no longer than a length; new ones are at most twice as long."""
    return _wrap(solid._kernel.refine_to_length(longest_mm))


def simplified(solid: Solid, within_mm: float) -> Solid:
    """The same shape with fewer triangles: edges are collapsed where the surface moves by no more than a distance."""
    return _wrap(solid._kernel.simplify(within_mm))


def count_open_edges(triangles: NDArray[np.integer]) -> int:
    """Directed edges without exactly one partner running the other way."""
    t = np.asarray(triangles, dtype=np.int64)
    start = t.ravel()
    end = np.roll(t, -1, axis=1).ravel()
    size = int(t.max()) + 1 if len(t) else 1
    forward, counts = np.unique(start * size + end, return_counts=True)
    backward = np.unique(end * size + start)
    paired = np.isin(forward, backward, assume_unique=True) & (counts == 1)
    return int(counts[~paired].sum())


def _combine(solids: Sequence[Solid], operation: manifold3d.OpType) -> Solid:
    return _wrap(manifold3d.Manifold.batch_boolean([solid._kernel for solid in solids], operation))


def _wrap(kernel: manifold3d.Manifold) -> Solid:
    status = kernel.status()
    if status != manifold3d.Error.NoError:
        raise KernelRefused("the solid kernel refused the operation", found=str(status).rpartition(".")[2])
    if kernel.is_empty():
        raise EmptySolid("the operation left nothing", found="0 triangles")
    mesh = kernel.to_mesh64()
    vertices = np.asarray(mesh.vert_properties, dtype=np.float64)[:, :3]
    triangles = np.asarray(mesh.tri_verts, dtype=np.int32)
    vertices.flags.writeable = False
    triangles.flags.writeable = False
    return Solid(vertices, triangles, kernel)


def _normals_and_areas(vertices: Array, triangles: Indices) -> tuple[Array, Array]:
    a, b, c = (vertices[triangles[:, k]] for k in range(3))
    cross = np.cross(b - a, c - a)
    double = np.linalg.norm(cross, axis=1)
    with np.errstate(invalid="ignore", divide="ignore"):
        normals = np.where(double[:, None] > 0.0, cross / double[:, None], 0.0)
    return normals, double / 2.0


Progress = Callable[[str, float], None]
"""Told a phase and the share done, 0 to 1."""
