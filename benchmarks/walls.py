"""How fast and how large `wall_thickness` is, beside the bare kernel calls it makes and beside another library.

Prints, for one closed shell of about 650 000 triangles:

- wall time against the bare time of building the ray scene and the tree, casting the same number of rays and making
  the same number of nearest-point queries;
- samples a second against trimesh's two thickness methods run one after the other on a share of the samples;
- peak memory against that of the bare calls, each in a process of its own.

Run with ``python benchmarks/walls.py``; a spacing and a ring count can be given.
"""

from __future__ import annotations

import importlib.util
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import manifold3d
import numpy as np
import trimesh

from prep.geometry.distance import Nearest
from prep.geometry.rays import RayScene
from prep.geometry.solid import Solid
from prep.geometry.wall_thickness import wall_thickness

LIMIT_MM = 1.2


def shell(rings: int) -> Solid:
    """A 2 mm shell of about rings^2 triangles, bulged so that no two facets are alike."""
    outer = _bulged(rings, 50.0)
    inner = _bulged(rings, 48.0)
    mesh = (outer - inner).to_mesh64()
    return Solid.of(np.array(mesh.vert_properties)[:, :3], np.array(mesh.tri_verts))


def _bulged(rings: int, radius: float) -> manifold3d.Manifold:
    def bulge(points: np.ndarray) -> np.ndarray:
        return points * (1.0 + 0.05 * np.sin(4.0 * points[:, :1] / 50.0) * np.cos(3.0 * points[:, 1:2] / 50.0))

    return manifold3d.Manifold.sphere(radius, rings).warp_batch(bulge)


def bare(solid: Solid, point: np.ndarray, normal: np.ndarray, rays: int, queries: int) -> float:
    """Seconds for the kernel calls alone."""
    start = time.perf_counter()
    scene = RayScene([solid])
    nearest = Nearest.of(solid)
    for low in range(0, rays, 1 << 17):
        rows = np.arange(low, min(low + (1 << 17), rays)) % len(point)
        scene.cast(point[rows] - 1e-4 * normal[rows], -normal[rows])
    for low in range(0, queries, 1 << 17):
        rows = np.arange(low, min(low + (1 << 17), queries)) % len(point)
        nearest.query(point[rows] - normal[rows])
    return time.perf_counter() - start


class Counted:
    """Counts the rays and queries that go through the two kernels."""

    def __init__(self) -> None:
        self.rays = 0
        self.queries = 0
        cast, query = RayScene.cast, Nearest.query

        def counted_cast(scene: RayScene, origins: np.ndarray, directions: np.ndarray):
            self.rays += len(origins)
            return cast(scene, origins, directions)

        def counted_query(nearest: Nearest, points: np.ndarray):
            self.queries += len(points)
            return query(nearest, points)

        self._kept = cast, query
        RayScene.cast, Nearest.query = counted_cast, counted_query  # type: ignore[method-assign]

    def stop(self) -> None:
        """Put the kernels back."""
        RayScene.cast, Nearest.query = self._kept  # type: ignore[method-assign]


def peak_mib() -> float:
    """Largest resident size of this process so far; where /proc is missing, counted from its parent's size."""
    status = Path("/proc/self/status")
    if status.exists():
        return next(float(line.split()[1]) for line in status.read_text().splitlines() if "VmHWM" in line) / 1024.0
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def other_library(solid: Solid, point: np.ndarray, normal: np.ndarray) -> float:
    """Samples a second of trimesh's ray and largest-sphere thickness, one after the other, warm."""
    mesh = trimesh.Trimesh(solid.vertices, solid.triangles, process=False)
    few = np.random.default_rng(1).permutation(len(point))[:4000]
    trimesh.proximity.thickness(mesh, point[few[:50]], exterior=False, normals=normal[few[:50]], method="max_sphere")
    start = time.perf_counter()
    for method in ("ray", "max_sphere"):
        trimesh.proximity.thickness(mesh, point[few], exterior=False, normals=normal[few], method=method)
    return len(few) / (time.perf_counter() - start)


def main(rings: int, spacing_mm: float) -> None:
    """Print the figures."""
    solid = shell(rings)
    counted = Counted()
    found = wall_thickness(solid, spacing_mm=spacing_mm, limit_mm=LIMIT_MM)
    counted.stop()
    samples = len(found.point)
    print(f"{len(solid.triangles)} triangles, {samples} samples, {counted.rays} rays, {counted.queries} queries")
    ours, theirs = [], []
    for _ in range(3):
        fresh = [Solid.of(solid.vertices, solid.triangles) for _ in range(2)]  # nothing computed beforehand in either
        theirs.append(bare(fresh[0], found.point, found.normal, counted.rays, counted.queries))
        start = time.perf_counter()
        wall_thickness(fresh[1], spacing_mm=spacing_mm, limit_mm=LIMIT_MM)
        ours.append(time.perf_counter() - start)
    ratio = min(ours) / min(theirs)
    print(f"wall_thickness {min(ours):.2f} s, bare calls {min(theirs):.2f} s: ratio {ratio:.2f} (at most 2.5)")
    rate = samples / min(ours)
    if importlib.util.find_spec("rtree") is None:
        print(f"{rate:.0f} samples/s; trimesh's methods need rtree, which is not installed")
    else:
        other = other_library(solid, found.point, found.normal)
        print(f"{rate:.0f} samples/s, trimesh {other:.0f}: {rate / other:.1f} times (at least 10)")
    with tempfile.TemporaryDirectory() as folder:
        mesh = Path(folder) / "shell.npz"
        np.savez(mesh, vertices=solid.vertices, triangles=solid.triangles, point=found.point, normal=found.normal)
        whole, kernels = (in_own_process(kind, mesh, spacing_mm) for kind in ("whole", "bare"))
    print(f"peak memory {whole:.0f} MiB, bare {kernels:.0f} MiB: ratio {whole / kernels:.2f} (at most 1.5)")


def in_own_process(kind: str, mesh: Path, spacing_mm: float) -> float:
    """Peak MiB of a process that does one of the two on the mesh kept in a file."""
    command = [sys.executable, __file__, kind, str(mesh), str(spacing_mm)]
    return float(subprocess.run(command, capture_output=True, check=True, text=True).stdout)


def memory(kind: str, mesh: Path, spacing_mm: float) -> None:
    """Print the peak size of this process after one of the two."""
    with np.load(mesh) as kept:
        solid = Solid.of(kept["vertices"], kept["triangles"])
        point, normal = (kept["point"], kept["normal"]) if kind == "bare" else (None, None)
    if kind == "whole":
        wall_thickness(solid, spacing_mm=spacing_mm, limit_mm=LIMIT_MM)
    else:
        bare(solid, point, normal, len(point), len(point))
    print(peak_mib())


if __name__ == "__main__":
    if len(sys.argv) > 1 and sys.argv[1] in ("whole", "bare"):
        memory(sys.argv[1], Path(sys.argv[2]), float(sys.argv[3]))
    else:
        main(int(sys.argv[1]) if len(sys.argv) > 1 else 808, float(sys.argv[2]) if len(sys.argv) > 2 else 0.55)
