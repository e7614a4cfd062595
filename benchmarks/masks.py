"""How fast and how large a mask is, beside the bare kernel calls it makes.

Prints, for a part of about 200 000 triangles and a mask that covers about 300 cm2 of its skin:

- the time of `mask_shell` against that of its kernel calls alone, played back in the same run: the trees built, the
  same distance queries, the iso-surface from the same samples, and the same two solid operations;
- the memory it adds, against that of holding the same queries and samples;
- gap and edge of the mask that came out.

Run with ``python benchmarks/masks.py``; a number of rings can be given.

``python benchmarks/masks.py --generated 200`` draws parts and regions instead, takes each mask off in as few pieces as
are found, and moves every piece out step by step with the solid kernel: what it meets then was not predicted.
"""

from __future__ import annotations

import argparse
import resource
import sys
import time
from collections import Counter
from contextlib import contextmanager
from pathlib import Path
from unittest import mock

import igl
import manifold3d
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from prep.errors import FreeToTurn, MaskTrapped
from prep.geometry import mask_field, mask_shell, offset_grid
from prep.geometry.cut_skin import Skin, cut_half_spaces
from prep.geometry.distance import Nearest
from prep.geometry.mask_field import MaskForm
from prep.geometry.mask_fit import EdgeSpots, seated_fit
from prep.geometry.patch import Patch
from prep.geometry.solid import Solid, subtract, unite
from prep.places.mask_pieces import MaskPieces, removable
from tests.places import masked

RADIUS_MM = 62.0
BAND_MM = (-8.0, 8.0)
FORM = MaskForm(land_mm=1.2, gap_mm=0.05, relief_mm=0.8, lip_mm=0.8, wall_mm=1.8, reach_mm=40.0)

STATIONS = 24


def part(rings: int) -> Solid:
    """A bulged ball of about rings^2 / 2 triangles."""

    def bulge(points: np.ndarray) -> np.ndarray:
        return points * (1.0 + 0.04 * np.sin(points[:, :1] / 14.0) * np.cos(points[:, 1:2] / 18.0))

    mesh = manifold3d.Manifold.sphere(RADIUS_MM, rings).warp_batch(bulge).to_mesh64()
    return Solid.of(np.array(mesh.vert_properties)[:, :3], np.array(mesh.tri_verts))


def window(solid: Solid) -> Patch:
    """A band round the ball."""
    cut = cut_half_spaces(Skin.of(solid), [(2, BAND_MM[0], 1.0), (2, BAND_MM[1], -1.0)])
    return Patch.of(cut.skin, cut.inside)


class Heard:
    """Every call to a kernel that a mask makes, to be played back."""

    def __init__(self) -> None:
        self.trees: list[tuple[np.ndarray, np.ndarray]] = []
        self.queries: list[tuple[int, np.ndarray]] = []
        self.blocks: list[np.ndarray] = []
        self.operations: list[tuple[object, list[Solid]]] = []

    @contextmanager
    def listening(self):
        """Listen while a mask is made."""
        heard = self

        class Surface(Nearest):
            def __init__(self, vertices, triangles):
                super().__init__(vertices, triangles)
                self.number = len(heard.trees)
                heard.trees.append((vertices, triangles))

            def query(self, points):
                heard.queries.append((self.number, points))
                return super().query(points)

        class Line(mask_field.EdgeDistance):
            def __init__(self, vertices, sides):
                super().__init__(vertices, sides)
                self.number = len(heard.trees)
                heard.trees.append((np.ascontiguousarray(vertices), np.ascontiguousarray(sides)))

            def at(self, points):
                heard.queries.append((self.number, points))
                return super().at(points)

        def cubes(block, level, **settings):
            heard.blocks.append(block)
            return cubes_kernel(block, level, **settings)

        def united(solids):
            heard.operations.append((unite, list(solids)))
            return unite(solids)

        def cut(host, cutters):
            heard.operations.append((subtract, [host, *cutters]))
            return subtract(host, cutters)

        cubes_kernel = offset_grid.marching_cubes
        with (
            mock.patch.object(offset_grid, "Nearest", Surface),
            mock.patch.object(mask_field, "Nearest", Surface),
            mock.patch.object(mask_field, "EdgeDistance", Line),
            mock.patch.object(offset_grid, "marching_cubes", cubes),
            mock.patch.object(mask_shell, "unite", united),
            mock.patch.object(mask_shell, "subtract", cut),
        ):
            yield

    def played_back(self) -> dict[str, float]:
        """Seconds of every kind of kernel call, alone."""
        clock = [time.perf_counter()]
        trees = []
        for vertices, rows in self.trees:
            tree = igl.AABB()
            tree.init(vertices, rows)
            trees.append(tree)
        for number, points in self.queries:
            if len(points):
                vertices, rows = self.trees[number]
                trees[number].squared_distance(vertices, rows, np.ascontiguousarray(points))
        clock.append(time.perf_counter())
        for block in self.blocks:
            offset_grid.marching_cubes(block, 0.0)
        clock.append(time.perf_counter())
        for operation, (first, *others) in self.operations:
            if operation is unite:
                unite([first, *others])
            else:
                subtract(first, others)
        clock.append(time.perf_counter())
        return dict(zip(("distance queries", "iso-surface", "solid operations"), np.diff(clock), strict=True))


def memory_mb() -> float:
    """Most memory this process has held, MB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def met(solid: Solid, found: MaskPieces) -> float:
    """Most volume, mm3, that a piece shares with part or seated pieces on its way out, on bodies made anew."""
    seated = [masked.as_kernel(solid), *(masked.as_kernel(piece.solid) for piece in found.pieces)]
    worst = 0.0
    for piece in found.pieces:
        moving = seated.pop(1)
        for travelled in np.linspace(0.0, piece.path_mm, STATIONS):
            here = moving.translate(tuple((travelled * piece.pull).tolist()))
            worst = max(worst, *((here ^ still).volume() for still in seated))
    return worst


def generated(count: int) -> None:
    """Print how masks on drawn parts come off."""
    counts: Counter[int] = Counter()
    told: dict[str, list[int]] = {"trapped": [], "free to turn": [], "met on the way": []}
    worst, took = 0.0, []
    for seed in range(count):
        if sys.stderr.isatty():
            print(f"seed {seed}", end="\r", file=sys.stderr)
        solid, masks, patch = masked.drawn(seed)
        words = {"land_mm": masked.LAND, "gap_mm": masked.GAP, "process": masked.PROCESS, "by_eye": True}
        start = time.perf_counter()
        try:
            found = removable(solid, masks, patch, pull=None, tell=lambda *_: None, **words)
        except MaskTrapped:
            told["trapped"].append(seed)
        except FreeToTurn:
            told["free to turn"].append(seed)
        else:
            counts[len(found.pieces)] += 1
            shared = met(solid, found)
            worst = max(worst, shared)
            if shared > 1e-3:
                told["met on the way"].append(seed)
        took.append(time.perf_counter() - start)
    print(f"{count} drawn parts and regions; {sum(took):.0f} s, at most {max(took):.1f} s for one")
    print("pieces: " + ", ".join(f"{number} masks in {pieces}" for pieces, number in sorted(counts.items())))
    for what, seeds in told.items():
        print(f"{what}: {len(seeds)}" + (f" (seeds {', '.join(map(str, seeds))})" if seeds else ""))
    print(f"shared with part or seated pieces on the way out, at worst: {worst:.2g} mm3 (bar 1e-3)")


def main(rings: int) -> None:
    """Print the comparison."""
    solid = part(rings)
    patch = window(solid)
    solid.shell_of_triangle  # noqa: B018 - what the part keeps is not counted against the mask
    before = memory_mb()
    start = time.perf_counter()
    shell = mask_shell.mask_shell(solid, patch, FORM)
    alone = time.perf_counter() - start
    added = memory_mb() - before
    heard = Heard()
    with heard.listening():
        mask_shell.mask_shell(solid, patch, FORM)
    bare = heard.played_back()
    held = sum(points.nbytes for _, points in heard.queries) + sum(block.nbytes for block in heard.blocks)
    fit = seated_fit(shell.pieces, patch, EdgeSpots.of(patch), FORM.land_mm, FORM.gap_mm)
    corners = np.concatenate([piece.vertices for piece in shell.pieces])
    skin = sum(piece.volume_mm3 for piece in shell.pieces) / FORM.wall_mm / 100.0
    print(f"part: {len(solid.triangles)} triangles; mask: about {skin:.0f} cm2 of skin,", end=" ")
    print(f"{sum(len(piece.triangles) for piece in shell.pieces)} triangles, {len(corners)} corners")
    print(f"queries: {sum(len(points) for _, points in heard.queries)}; cells {shell.cells_mm} mm")
    for kind, seconds in bare.items():
        print(f"  {kind}: {seconds:.2f} s")
    total = sum(bare.values())
    print(f"mask {alone:.2f} s, bare kernels {total:.2f} s: ratio {alone / total:.2f} (bar 3)")
    print(f"memory added at most {added:.0f} MB; its queries and samples alone {held / 1e6:.0f} MB")
    print(f"gap {fit.gap_mm[0]:.4f} mm ({fit.gap_mm[1]:.4f} to {fit.gap_mm[2]:.4f}), asked {FORM.gap_mm} mm")
    print(f"edge: back {fit.edge_back_mm:.3f} mm, over {fit.edge_over_mm:.3f} mm")


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("rings", type=int, nargs="?", default=632)
    parser.add_argument("--generated", type=int, nargs="?", const=200, metavar="N")
    words = parser.parse_args()
    if words.generated is None:
        main(words.rings)
    else:
        generated(words.generated)
