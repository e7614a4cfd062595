"""Thin spots planted at random in curved shells: how many `wall_thickness` finds, and how near.

Each shell of 2.6 mm gets twelve plants, well apart, of four kinds: a dimple from inside, a pocket cut too deep, a slot
beside a hole, two pockets that share a web. The thickness each should read is taken from how it was cut, or for the
first two from dense points of the cutter against the outer skin, by a library the measurement does not use for it.
A plant counts as missed unless some thin spot lies within the resolution of it and reads within 2 %.

Run with ``python benchmarks/planted_walls.py [shells] [first seed]``; with 86 shells it plants about a thousand.
"""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass

import igl
import manifold3d
import numpy as np
from manifold3d import Manifold

from prep.geometry.solid import Solid
from prep.geometry.wall_thickness import wall_thickness

RADIUS, WALL, LIMIT = 30.0, 2.6, 0.8
PLANTS = 12
SEGMENTS = (64, 100, 200, 400, 100, 200, 400, 1000)


@dataclass(frozen=True)
class Plant:
    """One cutter, the middle of the thin place it leaves, how far from there it may lie, and its thickness."""

    cutter: Manifold
    at: np.ndarray
    within: float
    thickness: float


def skin(segments: int, radius: float) -> Manifold:
    """A sphere with gentle bulges."""
    return Manifold.sphere(radius, segments).warp_batch(
        lambda p: p * (1 + 0.03 * np.sin(4 * p[:, :1] / radius) * np.cos(3 * p[:, 1:2] / radius))
    )


def outside(direction: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The point of the outer skin in a direction, and its normal."""

    def point(d: np.ndarray) -> np.ndarray:
        d = d / np.linalg.norm(d)
        return RADIUS * d * (1 + 0.03 * np.sin(4 * d[0]) * np.cos(3 * d[1]))

    x = np.cross(direction, np.eye(3)[np.argmin(np.abs(direction))])
    y = np.cross(direction, x)
    here = point(direction)
    normal = np.cross(point(direction + 1e-4 * x) - here, point(direction + 1e-4 * y) - here)
    return here, normal / np.linalg.norm(normal)


def plant(rng: np.random.Generator, kind: int) -> Plant:
    """One plant at a random place, of a random size."""
    direction = rng.normal(size=3)
    at, normal = outside(direction / np.linalg.norm(direction))
    x = np.cross(normal, rng.normal(size=3))
    x /= np.linalg.norm(x)
    frame = np.hstack([np.stack([x, np.cross(normal, x), normal], axis=1), at[:, None]])
    thin = rng.uniform(0.1, 0.65)
    if kind == 0:
        radius = rng.uniform(0.9, 4.0)
        return Plant(Manifold.sphere(radius, 48).translate([0, 0, -thin - radius]).transform(frame), at, 0.0, thin)
    if kind == 1:
        radius = rng.uniform(0.9, 3.0)
        drill = Manifold.cylinder(WALL + 4, radius, radius, 40).translate([0, 0, -WALL - 4 - thin])
        return Plant(drill.transform(frame), at, radius, thin)
    if kind == 2:
        hole = Manifold.cylinder(20, 1.2, 1.2, 32, True).translate([-1.2 - thin / 2, 0, 0])
        width = rng.uniform(1, 2)
        slot = Manifold.cube([width, rng.uniform(2, 5), 20], True).translate([(width + thin) / 2, 0, 0])
        return Plant((hole + slot).transform(frame), at, WALL, thin)
    long, deep = rng.uniform(1.5, 4.0), rng.uniform(1.2, WALL - 0.8)
    pockets = [Manifold.cube([2, long, 2 * deep], True).translate([s * (1 + thin / 2), 0, 0]) for s in (1, -1)]
    return Plant((pockets[0] + pockets[1]).transform(frame), at, float(np.hypot(long / 2, deep)), thin)


def measured(plant: Plant, outer: Manifold) -> float:
    """How near the cutter comes to the outer skin's own facets."""
    mesh, skin_mesh = plant.cutter.to_mesh64(), outer.to_mesh64()
    vertices, triangles = np.array(skin_mesh.vert_properties)[:, :3], np.array(skin_mesh.tri_verts).astype(np.int64)
    corners = np.array(mesh.vert_properties)[:, :3][np.array(mesh.tri_verts)]
    at_corners = igl.signed_distance(corners.reshape(-1, 3), vertices, triangles)[0].reshape(-1, 3)
    a, b, c = corners[np.argsort(-at_corners.max(axis=1))[:40]].transpose(1, 0, 2)  # those that come nearest the skin
    shares = np.array([(i, j) for i in range(13) for j in range(13 - i)]) / 12
    points = np.concatenate([a + (b - a) * u + (c - a) * v for u, v in shares])
    return float(-igl.signed_distance(points, vertices, triangles)[0].max())


def shell(seed: int) -> tuple[Solid, list[Plant]]:
    """A shell with its plants; those that break through by chance are left out of the count."""
    rng = np.random.default_rng(seed)
    plants: list[Plant] = []
    while len(plants) < PLANTS:
        new = plant(rng, len(plants) % 4)
        if all(np.linalg.norm(new.at - old.at) > 14.0 for old in plants):
            plants.append(new)
    segments = SEGMENTS[seed % len(SEGMENTS)]
    outer = skin(segments, RADIUS)
    cutters = [plant.cutter for plant in plants]
    body = Manifold.batch_boolean([outer, skin(segments, RADIUS - WALL), *cutters], manifold3d.OpType.Subtract)
    true = [
        Plant(p.cutter, p.at, p.within, measured(p, outer) if row % 4 < 2 else p.thickness)
        for row, p in enumerate(plants)
    ]
    mesh = body.to_mesh64()
    solid = Solid.of(np.array(mesh.vert_properties)[:, :3], np.array(mesh.tri_verts))
    return solid, [plant for plant in true if plant.thickness > 0.02]


def main(shells: int, first: int) -> None:
    """Print every miss, then the count."""
    planted = missed = 0
    worst = seconds = 0.0
    for seed in range(first, first + shells):
        solid, plants = shell(seed)
        start = time.perf_counter()
        found = wall_thickness(solid, limit_mm=LIMIT)
        seconds += time.perf_counter() - start
        walls = [spot for spot in found.thin_spots if "edge" not in spot.kind]
        for one in plants:
            planted += 1
            near = [
                abs(spot.thickness_mm / one.thickness - 1.0)
                for spot in walls
                if min(np.linalg.norm(end - one.at) for end in (spot.at_mm, spot.opposite_mm)) - one.within
                < found.resolution_mm
            ]
            error = min(near, default=np.inf)
            if error > 0.02:
                missed += 1
                size = len(solid.triangles)
                print(f"missed: shell {seed}, {size} triangles, {one.thickness:.3f} mm at {one.at.round(1)}")
            else:
                worst = max(worst, error)
    print(f"{planted} planted in {shells} shells, {missed} missed; worst thickness {worst:.2%} off; {seconds:.0f} s")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 86, int(sys.argv[2]) if len(sys.argv) > 2 else 0)
