"""`Patch`: a region of a solid's skin, its edge run along edges of the triangles."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import igl
import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from prep.geometry.cut_by_solid import area_of
from prep.geometry.cut_skin import Bools, Rows, Skin, opposite
from prep.geometry.distance import Nearest
from prep.geometry.solid import Array, Indices


@dataclass(frozen=True, eq=False)
class Patch:
    """The whole skin of a solid, triangulated so that a region of it is whole triangles; the same shape, closed.

    Attributes
    ----------
    vertices : (n, 3) float64, mm
    triangles : (m, 3) int32, counter-clockwise seen from outside the material
    inside : (m,) bool, triangles of the region
    source : (m,) int32, triangle of the solid each came from
    hidden_mm2 : area that the words cover but that was left out, being no skin seen from outside
    """

    vertices: Array
    triangles: Indices
    inside: Bools
    source: Indices
    hidden_mm2: float = 0.0

    @staticmethod
    def of(skin: Skin, inside: Bools, hidden_mm2: float = 0.0) -> Patch:
        """A patch from a cut skin and the rows of it that are inside."""
        return Patch(
            skin.vertices, skin.triangles.astype(np.int32), inside, skin.source.astype(np.int32), float(hidden_mm2)
        )

    @cached_property
    def triangle_areas(self) -> Array:
        """Area of every triangle, (m,)."""
        return area_of(self.vertices, self.triangles.astype(np.int64))

    @property
    def area_mm2(self) -> float:
        """Area of the region."""
        return float(self.triangle_areas[self.inside].sum())

    @property
    def corners(self) -> Array:
        """Corners of the region's triangles, (k, 3, 3); made anew at each call."""
        return np.asarray(self.vertices[self.triangles[self.inside]])

    @cached_property
    def islands(self) -> tuple[Indices, ...]:
        """Connected pieces of the region, each as rows of `triangles`, largest area first."""
        return self._pieces(self.inside)

    @cached_property
    def rests(self) -> tuple[Indices, ...]:
        """Connected pieces of the skin outside the region, likewise; all but the largest may be enclosed by it."""
        return self._pieces(~self.inside)

    @cached_property
    def edge_sides(self) -> Indices:
        """Sides of the region's edge, (e, 2): vertices from and to, the region on the left seen from outside."""
        rows, sides = np.nonzero(self._edge)
        return np.stack([self.triangles[rows, sides], self.triangles[rows, (sides + 1) % 3]], axis=1)

    @cached_property
    def loops(self) -> tuple[Array, ...]:
        """The region's edge as closed lines, each (k, 3) mm without the first point again, longest first.

        The region lies on the left, seen from outside. Where two corners of the region touch at a point, each loop
        follows its own piece of surface.
        """
        edge, triangles = self._edge, self.triangles
        beside = self._beside
        left = {(int(row), int(side)) for row, side in zip(*np.nonzero(edge), strict=True)}
        found = []
        for start in sorted(left):
            if start not in left:
                continue
            line, here = [], start
            while here in left:
                left.discard(here)
                row, side = here
                line.append(int(triangles[row, side]))
                tip = int(triangles[row, (side + 1) % 3])
                side = (side + 1) % 3
                while not edge[row, side]:
                    row = int(beside[row, side])
                    side = int(np.flatnonzero(triangles[row] == tip)[0])
                here = (row, side)
            found.append(self.vertices[line])
        return tuple(sorted(found, key=lambda line: -_round_length(line)))

    @property
    def edge_length_mm(self) -> float:
        """Length of all loops together."""
        ends = self.vertices[self.edge_sides]
        return float(np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1).sum())

    def contains(self, points: Array) -> Bools:
        """Whether the nearest point of the skin to each of `points`, (k, 3) mm, is in the region; (k,)."""
        return np.asarray(self.inside[self._nearest.query(points).triangle])

    def edge_distance(self, points: Array) -> Array:
        """Distance in space from each of `points`, (k, 3) mm, to the region's edge; negative where `contains` holds."""
        queries = np.ascontiguousarray(points, dtype=np.float64)
        vertices, sides, tree = self._edge_tree
        squared = np.asarray(tree.squared_distance(vertices, sides, queries)[0])
        sign = np.where(self.contains(queries), -1.0, 1.0)
        return np.asarray(sign * np.sqrt(np.maximum(squared, 0.0)))

    @cached_property
    def _beside(self) -> Rows:
        return opposite(self.triangles)

    @cached_property
    def _edge(self) -> Bools:
        """Sides, (m, 3), of the region's triangles beyond which it ends."""
        return np.asarray(self.inside[:, None] & ~self.inside[self._beside])

    @cached_property
    def _nearest(self) -> Nearest:
        return Nearest(self.vertices, self.triangles)

    @cached_property
    def _edge_tree(self) -> tuple[Array, Indices, igl.AABB]:
        tree = igl.AABB()
        vertices, sides = np.ascontiguousarray(self.vertices), np.ascontiguousarray(self.edge_sides)
        tree.init(vertices, sides)
        return vertices, sides, tree

    def _pieces(self, chosen: Bools) -> tuple[Indices, ...]:
        return pieces_of(self._beside, chosen, self.triangle_areas)


def pieces_of(beside: Rows, chosen: Bools, areas: Array) -> tuple[Indices, ...]:
    """Chosen triangles by connected piece, rows ascending, largest area first.

    Parameters
    ----------
    beside : (m, 3), from `opposite`
    """
    one, two = np.repeat(np.arange(len(beside)), 3), beside.ravel()
    both = chosen[one] & chosen[two]
    graph = coo_matrix((np.ones(int(both.sum()), dtype=bool), (one[both], two[both])), shape=(len(beside),) * 2)
    label = connected_components(graph, directed=False)[1]
    rows = np.flatnonzero(chosen)
    if len(rows) == 0:
        return ()
    order = rows[np.argsort(label[rows], kind="stable")]
    pieces = np.split(order, np.flatnonzero(np.diff(label[order])) + 1)
    return tuple(piece.astype(np.int32) for piece in sorted(pieces, key=lambda piece: -float(areas[piece].sum())))


def _round_length(line: Array) -> float:
    return float(np.linalg.norm(np.roll(line, -1, axis=0) - line, axis=1).sum())
