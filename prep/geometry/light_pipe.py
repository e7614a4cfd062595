"""`PipeShape`: the shape of a light pipe, straight or with 45 degree mirrors, of its bore, and of its way in."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import manifold3d
import numpy as np
from numpy.typing import NDArray

from prep.geometry.lathe import outline_area, prism, sides_for, slot_outline
from prep.geometry.solid import Array, Solid, subtract, unite

ON_PLANE_MM = 1e-6
LOOKS_OUT = 0.5
"""Cosine to the exit leg above which a face beyond the shoulder is part of the exit face."""

TUBE_MM = 0.5
"""How much wider than the pipe is what is taken off beyond the skin."""

APART_MM = 0.01
"""By how much faces of a cut differ that would else lie in one another but for rounding."""


@dataclass(frozen=True)
class Section:
    """What a light pipe looks like cut across.

    Attributes
    ----------
    wide_mm : diameter of a round one; first side of a rectangle
    tall_mm : second side; 0 for a round one
    """

    wide_mm: float
    tall_mm: float = 0.0

    @property
    def half_mm(self) -> tuple[float, float]:
        """Half sizes along both sides."""
        return self.wide_mm / 2.0, (self.tall_mm or self.wide_mm) / 2.0

    @property
    def is_round(self) -> bool:
        """Whether it is round."""
        return self.tall_mm == 0.0

    def outline(self, grown_mm: float = 0.0) -> Array:
        """Corners counter-clockwise, (k, 2) mm: of the pipe itself on its circle, of anything grown outside it."""
        wide, tall = (half + grown_mm for half in self.half_mm)
        if not self.is_round:
            return np.array([[-wide, -tall], [wide, -tall], [wide, tall], [-wide, tall]])
        if grown_mm > 0.0:
            return slot_outline(wide, 0.0)
        angle = (np.arange(sides_for(wide)) + 0.5) * 2.0 * math.pi / sides_for(wide)
        return np.asarray(np.stack([np.cos(angle), np.sin(angle)], axis=1) * wide)

    @property
    def area_mm2(self) -> float:
        """Area of the pipe's own outline."""
        return outline_area(self.outline())


@dataclass(frozen=True, eq=False)
class PipeShape:
    """A pipe along a path of straight legs that meet square, a flat mirror at 45 degrees outside each corner.

    Attributes
    ----------
    path : (k, 3) mm
        Middle of the entry face, corners, and the place on the outside where the light leaves.
    across : (3,)
        Unit direction of the section's first side at the exit, square to the last leg.
    collar_mm : thickness of the shoulder along the last leg
    flange_mm : how far the shoulder stands out beyond the section
    seat_mm : height of the shoulder's bearing face along the last leg, from its end; negative
    """

    section: Section
    path: Array
    across: Array
    collar_mm: float
    flange_mm: float
    seat_mm: float

    @property
    def ways(self) -> Array:
        """Unit directions of the legs, (k - 1, 3)."""
        step = np.diff(self.path, axis=0)
        return np.asarray(step / np.linalg.norm(step, axis=1)[:, None])

    @property
    def out(self) -> Array:
        """Unit direction of the last leg, (3,)."""
        return np.asarray(self.ways[-1])

    @property
    def length_mm(self) -> float:
        """Length of the path."""
        return float(np.linalg.norm(np.diff(self.path, axis=0), axis=1).sum())

    @property
    def mirror_normals(self) -> Array:
        """Unit normals out of the mirrors, (k - 2, 3)."""
        ways = self.ways
        step = ways[:-1] - ways[1:]
        return np.asarray(step / np.linalg.norm(step, axis=1)[:, None])

    @property
    def frame(self) -> Array:
        """(4, 4) from the last leg's axes (across, out x across, out), its end as the origin, to the part's."""
        matrix = np.eye(4)
        matrix[:3, 0] = self.across
        matrix[:3, 1] = np.cross(self.out, self.across)
        matrix[:3, 2] = self.out
        matrix[:3, 3] = self.path[-1]
        return matrix

    def legs(self, grown_mm: float, beyond_mm: float, before_mm: float) -> list[Solid]:
        """One convex solid a leg, from the entry on; two that meet share the mirror as a face.

        Parameters
        ----------
        grown_mm : on every side, behind the mirrors too
        beyond_mm, before_mm : how far the last leg runs past the path's end, and the first begins before it
        """
        outline = self.section.outline(grown_mm)
        frame = self.frame
        ring = frame[:3, 3] + outline @ frame[:3, :2].T + beyond_mm * self.out
        ways, planes = self.ways, self.mirror_normals
        behind = grown_mm * math.sqrt(2.0)  # along a leg, to a plane that far behind its mirror
        apart = APART_MM if grown_mm > 0.0 else 0.0
        found: list[Solid] = []
        for leg in range(len(ways) - 1, -1, -1):
            way = ways[leg]
            point = self.path[leg] if leg > 0 else self.path[0] - before_mm * way
            normal = planes[leg - 1] if leg > 0 else way
            start = ring + (((point - ring) @ normal) / float(way @ normal))[:, None] * way
            high = ring + (behind + apart) * way if found else ring
            low = start - behind * way if leg > 0 else start
            found.append(_between(low, high, way))
            ring = start
        return found[::-1]

    def collar(self, low_mm: float, high_mm: float, grown_mm: float = 0.0) -> Solid:
        """A plate as wide as the shoulder, between two heights along the last leg."""
        return prism(self.section.outline(self.flange_mm + grown_mm), low_mm, high_mm, self.frame)

    def pipe(self, skin: Solid, beyond_mm: float, proud_mm: float) -> Solid:
        """The pipe with its shoulder, its end trimmed along the outside it leaves by.

        Parameters
        ----------
        skin : Solid
            The part as it was before the bore: material all round the last of the pipe.
        beyond_mm : how far past the path's end any of the outside may lie
        proud_mm : how far the end stands out, along the last leg; negative for below the skin
        """
        legs = self.legs(0.0, beyond_mm, 0.0)
        body = unite([*legs, self.collar(self.seat_mm - self.collar_mm, self.seat_mm)])
        shift = np.eye(4)
        shift[:3, 3] = proud_mm * self.out
        low = self.seat_mm + 0.1 * abs(self.seat_mm)
        tube = prism(self.section.outline(TUBE_MM), low, beyond_mm + 1.0, self.frame)
        return subtract(body, [subtract(tube, [skin.moved(shift)])])

    def bore(self, play_mm: float, beyond_mm: float, before_mm: float, face_mm: float) -> Solid:
        """What is cut for the pipe: it and its play all round, and a flat for the shoulder where the skin is not one.

        Parameters
        ----------
        face_mm : height along the last leg at which the cut for the shoulder begins; 0 or more for none
        """
        pieces = self.legs(play_mm, beyond_mm, before_mm)
        if face_mm < self.seat_mm:
            pieces.append(self.collar(face_mm, self.seat_mm, play_mm))
        return unite(pieces)

    def way_in(self, back_mm: float, off_mm: float) -> Solid:
        """All that the pipe passes through while it is drawn back along its last leg from one distance to another."""
        pieces = [*self.legs(0.0, 0.0, 0.0), self.collar(self.seat_mm - self.collar_mm, self.seat_mm)]
        return unite([swept(piece, -off_mm * self.out, -back_mm * self.out) for piece in pieces])

    def trench(self, back_mm: float, play_mm: float, before_mm: float) -> list[Solid]:
        """What is cut beside the bore so that the pipe can be drawn back by a distance, its play all round.

        Behind the shoulder nothing of the last leg is wider than it; of the other legs it is what they pass through.
        """
        aside = self.legs(play_mm + APART_MM, 0.0, before_mm + APART_MM)[:-1]
        shoulder = self.collar(self.seat_mm - back_mm, self.seat_mm, play_mm)
        return [shoulder, *(swept(leg, np.zeros(3), -back_mm * self.out) for leg in aside)]

    def faces(self, pipe: Solid) -> dict[str, NDArray[np.intp]]:
        """Rows of the finished pipe's triangles by what they are: entry, exit and every mirror."""
        normals, middles = pipe.triangle_normals, pipe.corners.mean(axis=1)
        height = (middles - self.path[-1]) @ self.out
        found = {
            "entry": _on_plane(pipe, self.path[0], -self.ways[0]),
            "exit": np.flatnonzero((normals @ self.out > LOOKS_OUT) & (height > self.seat_mm + ON_PLANE_MM)),
        }
        for number, (corner, normal) in enumerate(zip(self.path[1:-1], self.mirror_normals, strict=True), start=1):
            found[f"mirror {number}"] = _on_plane(pipe, corner, normal)
        return found


def swept(convex: Solid, start: Array, end: Array) -> Solid:
    """All points that a convex solid covers on its straight way from one shift (3,) to another."""
    points = np.concatenate([convex.vertices + start, convex.vertices + end])
    hull = manifold3d.Manifold.hull_points(points).to_mesh64()
    return Solid.of(np.asarray(hull.vert_properties)[:, :3], np.asarray(hull.tri_verts))


def face_area(solid: Solid, rows: NDArray[np.intp] | Sequence[int]) -> float:
    """Area of some of a solid's triangles, mm2."""
    return float(solid.triangle_areas[rows].sum())


def _on_plane(solid: Solid, point: Array, normal: Array) -> NDArray[np.intp]:
    off = np.abs((solid.corners - point) @ normal).max(axis=1)
    return np.flatnonzero((off < ON_PLANE_MM) & (solid.triangle_normals @ normal > 0.999))


def _between(low: Array, high: Array, way: Array) -> Solid:
    """The solid between two outlines whose corners pair up along a direction, either way round."""
    turn = np.cross(np.roll(high, -1, axis=0) - high, np.roll(high, -2, axis=0) - np.roll(high, -1, axis=0))
    if float(turn.sum(axis=0) @ way) < 0.0:
        low, high = (np.roll(ring[::-1], 1, axis=0) for ring in (low, high))  # one fan for both legs at a mirror
    n = len(low)
    here = np.arange(n)
    after = (here + 1) % n
    fan = np.stack([np.zeros(n - 2, dtype=np.intp), here[1:-1], here[2:]], axis=1)
    sides = [np.stack([here, after, after + n], axis=1), np.stack([here, after + n, here + n], axis=1)]
    return Solid.of(np.concatenate([low, high]), np.concatenate([fan[:, ::-1], fan + n, *sides]))
