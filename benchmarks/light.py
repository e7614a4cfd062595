"""Light: path samples against bare rays, and faults planted in shells: how many `light_leaks` finds.

The first part times, in one run and on one scene of 300 000 triangles, path samples and as many bare rays from the same
starting points along the same directions. A path sample is one stretch of a path of light: for light in air the choice
of its direction, the ray, and the cell it lands on; for light in plastic the way from the skin through all faces to the
first air, which is one ray a face, with the length in each material. The bare rays are those of the kernel itself, and
those of `RayScene.cast`, which works out each distance again in double precision. Then the whole leak ledger, with the
rays it casts in all.

The second part plants a thin spot, an open seam of 0.3 mm and a screw boss in each shell, and looks at the same shell
without them: a plant is missed unless a leak of its kind is named within its reach, a leak is false where nothing is
planted.

Run with ``python benchmarks/light.py [--samples 10000000] [--shells 300] [--first 0]``.
"""

from __future__ import annotations

import argparse
import sys
import time

import numpy as np
from manifold3d import Manifold

from fixtures.lit_shells import LIMIT, PLANTS, LitShell, curve, lit_shell, plastic, solid_of
from prep.geometry import light_paths
from prep.geometry.light_paths import CHUNK, air_paths, fan_directions, step_off, wall_paths
from prep.geometry.rays import RayScene
from prep.geometry.solid import Solid
from prep.geometry.surface_cells import surface_cells
from prep.places.light_field import TOUCH_MM, Source, light_field
from prep.places.light_leaks import LeakSpot, light_leaks
from prep.places.pane import Pane
from prep.places.window_light import window_glow

KINDS = {
    "thin spot": {"wall", "hollow"},
    "open seam": {"seam", "opening"},
    "screw boss": {"hollow", "wall"},
}
FAN = 32


def lumpy() -> tuple[Solid, Solid]:
    """A lumpy shell of 3 mm in two halves, 300 000 triangles together."""

    def skin(radius: float) -> Manifold:
        return Manifold.sphere(radius, 548).warp_batch(
            lambda p: p * (1.0 + 0.06 * np.sin(0.2 * p[:, :1]) * np.cos(0.15 * p[:, 1:2]))
        )

    lower, upper = (skin(40.0) - skin(37.0)).split_by_plane([0.0, 0.0, -1.0], 0.0)
    return solid_of(lower), solid_of(upper)


def bare(scene: RayScene, origins: np.ndarray, directions: np.ndarray) -> tuple[float, float]:
    """Seconds for rays by the kernel alone, and by `RayScene.cast`."""
    kernel = cast = 0.0
    for start in range(0, len(origins), CHUNK):
        part = slice(start, start + CHUNK)
        single = np.ascontiguousarray(origins[part] - scene._middle, dtype=np.float32)  # noqa: SLF001
        along = np.ascontiguousarray(directions[part], dtype=np.float32)
        begun = time.perf_counter()
        scene._scene.run(single, along, query="INTERSECT", output=True)  # noqa: SLF001
        kernel += time.perf_counter() - begun
        begun = time.perf_counter()
        scene.cast(origins[part], directions[part])
        cast += time.perf_counter() - begun
    return kernel, cast


def paths(samples: int) -> None:
    """Print path samples against bare rays."""
    solids = lumpy()
    scene = RayScene(solids)
    print(f"{len(scene.triangles)} triangles, {samples} samples; seconds, and how many times the bare rays")
    cells = surface_cells(scene, 1.0)
    inner = np.flatnonzero(np.einsum("ij,ij->i", cells.point, cells.normal) < 0.0)
    inner = inner[np.arange(samples // FAN) % len(inner)]
    points, normals = cells.point[inner], cells.normal[inner]

    kernel = cast = own = 0.0
    step = CHUNK // FAN
    for start in range(0, len(points), step):
        part = slice(start, start + step)
        begun = time.perf_counter()
        found = air_paths(scene, points[part], normals[part], FAN, seed=start)
        landed = cells.of_triangle[found.triangle]
        own += time.perf_counter() - begun
        way = fan_directions(normals[part], FAN, seed=start).reshape(-1, 3)
        origin = np.repeat(points[part] + step_off(scene) * normals[part], FAN, axis=0)
        seconds = bare(scene, origin, way)
        kernel, cast = kernel + seconds[0], cast + seconds[1]
    del landed
    told("in air", own, kernel, cast)

    kernel = cast = own = 0.0
    outer = np.flatnonzero(np.einsum("ij,ij->i", cells.point, cells.normal) > 0.0)
    reach = curve().opaque_mm(1e-6)
    for start in range(0, samples, CHUNK):
        rows = outer[(start + np.arange(min(CHUNK, samples - start))) % len(outer)]
        point, way = cells.point[rows], -cells.normal[rows]
        begun = time.perf_counter()
        wall_paths(scene, point, way, cells.solid[rows], reach_mm=reach, touch_mm=TOUCH_MM)
        own += time.perf_counter() - begun
        seconds = bare(scene, point + step_off(scene) * way, way)
        kernel, cast = kernel + seconds[0], cast + seconds[1]
    told("through walls, two parts", own, kernel, cast)
    ledger(solids)


def ledger(solids: tuple[Solid, Solid]) -> None:
    """Print the whole leak ledger against bare rays as many as it casts."""
    counted = 0
    cast = RayScene.cast

    def counting(scene: RayScene, origins: np.ndarray, directions: np.ndarray) -> light_paths.Hits:
        nonlocal counted
        counted += len(origins)
        return cast(scene, origins, directions)

    RayScene.cast = counting  # type: ignore[method-assign]
    begun = time.perf_counter()
    pane = Pane((0.0, 0.0, 40.0), (0.0, 0.0, 1.0), (1.0, 0.0, 0.0), "round", (5.0, 5.0), 0.0, 3.0, 0.1, 6.0, (0,))
    source = Source((0.0, 0.0, 0.0), (0.0, 0.0, 1.0), 1.0, 1.0)
    field = light_field(solids, [plastic()] * 2, [source], [pane], most_cells=600_000)
    found = light_leaks(field, window_glow(field), limit=LIMIT)
    own = time.perf_counter() - begun
    RayScene.cast = cast  # type: ignore[method-assign]
    rng = np.random.default_rng(0)
    way = rng.normal(size=(min(counted, 1 << 22), 3))
    way /= np.linalg.norm(way, axis=1)[:, None]
    seconds = np.array(bare(field.scene, np.zeros_like(way), way)) * counted / len(way)
    print(f"{counted} rays for {len(field.cells)} cells, {len(found.leaks)} leaks")
    told("whole ledger", own, *seconds)


def told(what: str, own: float, kernel: float, cast: float) -> None:
    """One line of the first part."""
    print(
        f"{what:26s} {own:7.2f} s; kernel {kernel:7.2f} s, {own / kernel:.2f} x; cast {cast:7.2f} s, {own / cast:.2f} x"
    )


def leaks_of(shell: LitShell) -> tuple[LeakSpot, ...]:
    """What leaks of a shell."""
    field = shell.field()
    return light_leaks(field, window_glow(field), limit=LIMIT).leaks


def shells(count: int, first: int) -> None:
    """Print every miss and every false leak, then the count."""
    missed = false = beside = 0
    begun = time.perf_counter()
    for seed in range(first, first + count):
        for leak in leaks_of(lit_shell(seed)):
            false += 1
            print(f"false: shell {seed}, {leak}")
        shell = lit_shell(seed, *PLANTS)
        named: set[LeakSpot] = set()
        leaks = leaks_of(shell)
        for plant, place in shell.at_mm.items():
            reach = shell.reach_mm[plant] + 1.0
            near = {
                leak
                for leak in leaks
                if leak.kind in KINDS[plant] and np.linalg.norm(np.array(leak.at_mm) - place) <= reach
            }
            named |= near
            if not near:
                missed += 1
                print(f"missed: shell {seed}, {plant} at {place.round(1)}; named {leaks}")
        for leak in set(leaks) - named:
            beside += 1
            print(f"beside the plants: shell {seed}, {leak}")
        if (seed + 1 - first) % 25 == 0:
            print(f"{seed + 1 - first} shells done", file=sys.stderr, flush=True)
    print(
        f"{count} shells, {len(PLANTS) * count} planted: {missed} missed; {false} false on clean shells, "
        f"{beside} beside the plants; {time.perf_counter() - begun:.0f} s"
    )


if __name__ == "__main__":
    asked = argparse.ArgumentParser()
    asked.add_argument("--samples", type=int, default=10_000_000)
    asked.add_argument("--shells", type=int, default=300)
    asked.add_argument("--first", type=int, default=0)
    given = asked.parse_args()
    if given.samples:
        paths(given.samples)
    if given.shells:
        shells(given.shells, given.first)
