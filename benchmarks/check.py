"""How long `prep check` takes, and how much memory, on shells of 40 thousand, 650 thousand and 2.6 million triangles.

Each shell is made here, written as binary STL, and checked in a process of its own, read and report included. Beside
it stands the bare work no check can do without: reading, welding, the solid and one ray scene, also in a process of
its own. Run with ``python benchmarks/check.py``; triangle counts in thousands can be given.
"""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import manifold3d
import numpy as np

SIZES = (40, 650, 2600)


def shell(thousands: int) -> tuple[np.ndarray, np.ndarray]:
    """A bulged shell 100 mm across with 2 mm walls, of about that many thousand triangles; a hole makes it open."""
    rings = round(np.sqrt(1000.0 * thousands))

    def bulge(points: np.ndarray) -> np.ndarray:
        return points * (1.0 + 0.05 * np.sin(4.0 * points[:, :1] / 50.0) * np.cos(3.0 * points[:, 1:2] / 50.0))

    outer, inner = (manifold3d.Manifold.sphere(radius, rings).warp_batch(bulge) for radius in (50.0, 48.0))
    hole = manifold3d.Manifold.cylinder(60.0, 6.0, 6.0, 64)
    mesh = (outer - inner - hole).to_mesh64()
    return np.array(mesh.vert_properties)[:, :3], np.array(mesh.tri_verts)


def write_stl(path: Path, vertices: np.ndarray, triangles: np.ndarray) -> None:
    """Binary STL, as a CAD program exports it."""
    record = np.zeros(len(triangles), dtype=[("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
    record["corners"] = vertices[triangles]
    path.write_bytes(b"\0" * 80 + np.uint32(len(triangles)).tobytes() + record.tobytes())


def checked(path: Path) -> dict[str, float]:
    """Seconds and peak memory of one whole check."""
    begun = time.perf_counter()
    from prep.build.check_files import Asked, check_files
    from prep.tables import Tables

    tables = Tables.load()
    report = check_files([path], Asked(tables.processes.get("extrusion-0.4"), tables)).report
    (part,) = report.files[0].parts.values()
    return {"seconds": time.perf_counter() - begun, "triangles": part.input.triangles, "peak_mb": _peak()}


def bare(path: Path) -> dict[str, float]:
    """Seconds and peak memory of reading, welding, the solid and a ray scene."""
    begun = time.perf_counter()
    from prep.geometry.mend import mend
    from prep.geometry.rays import RayScene
    from prep.geometry.read_mesh import read_mesh

    solid = mend(read_mesh(path)).solid
    RayScene([solid])
    return {"seconds": time.perf_counter() - begun, "triangles": len(solid.triangles), "peak_mb": _peak()}


def _peak() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (2**20 if sys.platform == "darwin" else 2**10)


def _alone(word: str, path: Path) -> dict[str, float]:
    done = subprocess.run([sys.executable, __file__, word, str(path)], check=True, capture_output=True, text=True)
    found: dict[str, float] = json.loads(done.stdout)
    return found


def main(sizes: tuple[int, ...]) -> None:
    """Print one line a size."""
    print("triangles    check      peak    read + solid + scene      peak    times")
    for thousands in sizes:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "shell.stl"
            write_stl(path, *shell(thousands))
            check, least = _alone("checked", path), _alone("bare", path)
        print(
            f"{check['triangles']:9,.0f} {check['seconds']:6.1f} s {check['peak_mb']:6.0f} MB "
            f"{least['seconds']:20.1f} s {least['peak_mb']:7.0f} MB {check['seconds'] / least['seconds']:6.1f}"
        )


if __name__ == "__main__":
    if sys.argv[1:2] in (["checked"], ["bare"]):
        print(json.dumps({"checked": checked, "bare": bare}[sys.argv[1]](Path(sys.argv[2]))))
    else:
        main(tuple(int(word) for word in sys.argv[1:]) or SIZES)
