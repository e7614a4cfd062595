"""Time the example build against a bare script that makes only the same kernel calls.

Run `python benchmarks/build.py`. Both sides run in processes of their own, one after the other, several rounds; the
median ratios of wall time and of peak memory are printed. The bare script reads the same meshes, builds as many ray
scenes and distance trees over as many triangles, casts as many rays, asks as many nearest points, makes one boolean a
part, and writes and reads back the same parts. It decides nothing, draws nothing and writes no report.
"""

from __future__ import annotations

import argparse
import json
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

BATCH = 200_000


def build_side(recipe: str, out: str) -> dict:
    """One build, with every kernel call counted."""
    begun = time.perf_counter()
    from prep.build.folder import Staged
    from prep.build.run import run
    from prep.geometry import distance, rays
    from prep.recipe import read_recipe
    from prep.report.write import write_report

    counted = {"rays": 0, "queries": 0, "scenes": [], "trees": []}
    cast, blocked, scene = rays.RayScene.cast, rays.RayScene.blocked, rays.RayScene.__init__
    query, tree = distance.Nearest.query, distance.Nearest.__init__

    def count_cast(self, origins, directions):
        counted["rays"] += len(origins)
        return cast(self, origins, directions)

    def count_blocked(self, origins, directions):
        counted["rays"] += len(origins)
        return blocked(self, origins, directions)

    def count_scene(self, solids):
        scene(self, solids)
        counted["scenes"].append(len(self.triangles))

    def count_query(self, points):
        counted["queries"] += len(points)
        return query(self, points)

    def count_tree(self, vertices, triangles):
        tree(self, vertices, triangles)
        counted["trees"].append(len(triangles))

    rays.RayScene.cast, rays.RayScene.blocked, rays.RayScene.__init__ = count_cast, count_blocked, count_scene
    distance.Nearest.query, distance.Nearest.__init__ = count_query, count_tree
    wanted = read_recipe(Path(recipe))
    with Staged(Path(out)) as stage:
        built = run(wanted, stage)
        write_report(built, stage, lambda *_: None)
    counted["parts"] = {
        name: {
            "mesh": str(wanted.mesh_path(name)),
            "cutters": sum(placed.part == name for step in built.record.steps for placed in step.places),
        }
        for name in wanted.parts
    }
    return {**counted, "seconds": time.perf_counter() - begun, "verdict": built.record.verdict}


def bare_side(counted: dict, out: str) -> dict:
    """The same kernel calls and nothing else."""
    begun = time.perf_counter()
    import igl
    import manifold3d
    from embreex.mesh_construction import TriangleMesh
    from embreex.rtcore_scene import EmbreeScene

    solids = {name: bare_read(part["mesh"]) for name, part in counted["parts"].items()}
    finished = {}
    for name, (vertices, _, solid) in solids.items():
        low = vertices.min(axis=0)
        cutters = [
            manifold3d.Manifold.cylinder(2.4, 3.2, 3.2, 64).translate((vertices[k * 7] - [0, 0, 1.2]).tolist())
            for k in range(counted["parts"][name]["cutters"])
        ]
        cut = manifold3d.Manifold.batch_boolean([solid, *cutters], manifold3d.OpType.Subtract) if cutters else solid
        mesh = cut.to_mesh64()
        finished[name] = (np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts), low)
    vertices, triangles, _ = max(solids.values(), key=lambda each: len(each[1]))
    single = np.ascontiguousarray(vertices, dtype=np.float32)
    corners = vertices[triangles[:, :3].astype(np.int64)]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals /= np.maximum(np.linalg.norm(normals, axis=1), 1e-12)[:, None]
    middles = corners.mean(axis=1)
    del corners
    scene = None
    for size in counted["scenes"]:
        scene = EmbreeScene(robust=True)
        TriangleMesh(scene, single, np.ascontiguousarray(triangles[: max(size, 1)], dtype=np.int32))
    for first in range(0, counted["rays"], BATCH):
        rows = np.arange(first, min(first + BATCH, counted["rays"])) % len(middles)
        origins = np.ascontiguousarray(middles[rows] - 1e-3 * normals[rows], dtype=np.float32)
        scene.run(origins, np.ascontiguousarray(-normals[rows], dtype=np.float32), query="INTERSECT", output=True)
    tree = None
    for size in counted["trees"]:
        tree = igl.AABB()
        few = np.ascontiguousarray(triangles[: max(size, 1)], dtype=np.int32)
        tree.init(vertices, few)
    if tree is not None:
        few = np.ascontiguousarray(triangles, dtype=np.int32)
        tree = igl.AABB()
        tree.init(vertices, few)
        for first in range(0, counted["queries"], BATCH):
            rows = np.arange(first, min(first + BATCH, counted["queries"])) % len(middles)
            tree.squared_distance(vertices, few, np.ascontiguousarray(middles[rows] - 0.8 * normals[rows]))
    bare_write(finished, Path(out))
    return {"seconds": time.perf_counter() - begun}


def bare_read(path: str):
    """A binary STL as welded vertices, triangles and a kernel solid."""
    import manifold3d

    count = int(np.fromfile(path, dtype="<u4", count=1, offset=80)[0])
    layout = np.dtype([("n", "<3f4"), ("v", "<9f4"), ("a", "<u2")])
    soup = np.fromfile(path, dtype=layout, count=count, offset=84)["v"].reshape(-1, 3)
    vertices, triangles = np.unique(soup, axis=0, return_inverse=True)
    vertices = vertices.astype(np.float64)
    triangles = triangles.reshape(-1, 3).astype(np.uint64)
    return vertices, triangles, manifold3d.Manifold(manifold3d.Mesh64(vertices, triangles))


def bare_write(finished: dict, out: Path) -> None:
    """Every part as 3MF, written and read back."""
    import lib3mf

    wrapper = lib3mf.get_wrapper()
    out.mkdir(parents=True, exist_ok=True)
    for name, (vertices, triangles, _) in finished.items():
        model = wrapper.CreateModel()
        mesh = model.AddMeshObject()
        points = (lib3mf.Position * len(vertices)).from_buffer_copy(vertices.astype(np.float32).tobytes())
        faces = (lib3mf.Triangle * len(triangles)).from_buffer_copy(triangles.astype(np.uint32).tobytes())
        mesh.SetGeometry(points, faces)
        model.AddBuildItem(mesh, wrapper.GetIdentityTransform())
        model.QueryWriter("3mf").WriteToFile(str(out / f"{name}.3mf"))
        back = wrapper.CreateModel()
        back.QueryReader("3mf").ReadFromFile(str(out / f"{name}.3mf"))


def large_recipe(folder: Path) -> Path:
    """A project of one 1.3-million-triangle shell with a magnet seat at a place and pockets for weight."""
    from fixtures.drawn import bumpy_dome

    vertices, triangles = bumpy_dome(60.0, 4.0, seed=7, around=1280, up=250)
    layout = np.dtype([("n", "<3f4"), ("v", "<9f4"), ("a", "<u2")])
    soup = np.zeros(len(triangles), dtype=layout)
    soup["v"] = vertices[triangles].reshape(-1, 9)
    with (folder / "shell.stl").open("wb") as file:
        file.write(b"drawn".ljust(80))
        file.write(np.array([len(triangles)], dtype="<u4").tobytes())
        soup.tofile(file)
    print(f"  the shell has {len(triangles):,} triangles")
    recipe = folder / "shell.yaml"
    recipe.write_text(
        "recipe: 1\nproject: shell\nprocess: jetting-0.027\n"
        "parts:\n  shell: {mesh: shell.stl, material: jetted-rigid}\n"
        "steps:\n  - {step: seat_magnets, part: shell, magnet: disc 3x1 N42, "
        "at: {ray: {from: '0, 0, 200 mm', toward: -z}}}\n"
    )
    return recipe


def child(arguments: list[str]) -> dict:
    """What one side of the comparison reports, run in a process of its own."""
    out = subprocess.run([sys.executable, __file__, *arguments], check=True, capture_output=True, text=True).stdout
    return json.loads(out.splitlines()[-1])


def compare(title: str, recipe: Path, rounds: int) -> None:
    """Print the ratios for one recipe."""
    print(title)
    with tempfile.TemporaryDirectory() as folder:
        times, peaks = [], []
        for turn in range(rounds):
            ours = child(["--side", "build", str(recipe), str(Path(folder) / f"out{turn}")])
            counts = Path(folder) / "counts.json"
            counts.write_text(json.dumps(ours))
            bare = child(["--side", "bare", str(counts), str(Path(folder) / f"bare{turn}")])
            times.append((ours["seconds"], bare["seconds"]))
            peaks.append((ours["peak_mb"], bare["peak_mb"]))
        print(
            f"  verdict {ours['verdict']}; {ours['rays']:,} rays, {ours['queries']:,} nearest points, "
            f"{len(ours['scenes'])} ray scenes, {len(ours['trees'])} distance trees"
        )
        for what, pairs, unit in (("wall time", times, "s"), ("peak memory", peaks, "MB")):
            a, b = (statistics.median(side) for side in zip(*pairs, strict=True))
            ratio = statistics.median(x / y for x, y in pairs)
            print(f"  {what:12} build {a:8.2f} {unit}, bare {b:8.2f} {unit}, ratio {ratio:.2f}")


def weighed_example(folder: Path) -> Path:
    """The example with its cuts for magnets and weight alone; masks and light have benchmarks of their own."""
    home = ROOT / "recipes" / "kitchen-timer"
    head, *steps = (home / "timer.yaml").read_text("utf-8").split("  - step: ")
    kept = [step for step in steps if step.startswith(("seat_magnets", "match_weight"))]
    for mesh in home.glob("*.stl"):
        shutil.copy(mesh, folder)
    recipe = folder / "timer.yaml"
    recipe.write_text(head + "".join(f"  - step: {step}" for step in kept), "utf-8")
    return recipe


def main() -> None:
    """Both comparisons, or one side of one."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--side", choices=("build", "bare"))
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--only", choices=("example", "large"))
    parser.add_argument("paths", nargs="*")
    wanted = parser.parse_args()
    if wanted.side:
        first, out = wanted.paths
        result = (
            build_side(first, out) if wanted.side == "build" else bare_side(json.loads(Path(first).read_text()), out)
        )
        result["peak_mb"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
        print(json.dumps(result))
        return
    if wanted.only != "large":
        subprocess.run(
            [sys.executable, str(ROOT / "fixtures" / "kitchen_timer.py")], check=True, stdout=subprocess.DEVNULL
        )
        with tempfile.TemporaryDirectory() as folder:
            compare("the example's seats and weight", weighed_example(Path(folder)), wanted.rounds)
    if wanted.only != "example":
        with tempfile.TemporaryDirectory() as folder:
            compare("a large shell", large_recipe(Path(folder)), wanted.rounds)


if __name__ == "__main__":
    main()
