"""Parts that light pipes go through, what is asked of them, and the bare kernel to measure with."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import manifold3d
import numpy as np

from fixtures.benches import bench_of
from prep.contract import Bench, Outcome
from prep.geometry.solid import Solid
from prep.steps.pipe_light import PipeLight

Kernel = manifold3d.Manifold
PLAY = 0.3  # slide fit of extrusion-0.4, per side


def solid(kernel):
    """A kernel's body, a solid of the house."""
    mesh = kernel.to_mesh64()
    return Solid.of(np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts))


def cube(size, middle):
    """A kernel box about a point."""
    return Kernel.cube(size, True).translate(middle)


@cache
def shell(wall=3.0):
    """A box 50 x 36 x 24 mm, open below."""
    return solid(cube((50, 36, 24), (0, 0, 12)) - cube((50 - 2 * wall, 36 - 2 * wall, 24), (0, 0, 12 - wall)))


@cache
def dome():
    """Half a ball of 30 mm, 3 mm thick, open below."""
    ball = Kernel.sphere(30.0, 160) - Kernel.sphere(27.0, 160)
    return solid(ball.trim_by_plane((0.0, 0.0, 1.0), 0.0))


@cache
def block():
    """A solid block 40 x 30 x 20 mm."""
    return solid(cube((40, 30, 20), (0, 0, 10)))


def above(x, y):
    """The first skin under a point high up."""
    return {"ray": {"from": f"{x}, {y}, 90 mm", "toward": "-z"}}


@dataclass(frozen=True)
class Case:
    """A part, and what is asked of its pipe."""

    part: Solid
    words: dict
    process: str = "extrusion-0.4"
    bends: int = 0


CASES = {
    "flat": Case(shell(), {"from": {"point": "0, 0, 5 mm"}, "to": {"facing": "+z"}, "section": "3 mm"}),
    "leaning": Case(shell(), {"from": {"point": "3, 1, 6 mm"}, "to": above(8, 4), "section": "3 mm"}),
    "flat section": Case(shell(), {"from": {"point": "2, 2, 5 mm"}, "to": above(2, 2), "section": "5 x 2 mm"}),
    "one mirror": Case(
        shell(), {"from": {"point": "-12, 0, 8 mm"}, "to": above(6, 0), "section": "3 mm", "bends": "prism"}, bends=1
    ),
    "dome, proud": Case(
        dome(), {"from": {"point": "6, 0, 8 mm"}, "to": above(9, 3), "section": "3 mm", "proud": "0.5 mm"}
    ),
    "dome, sunk, jetted": Case(
        dome(),
        {"from": {"point": "0, 0, 10 mm"}, "to": above(2, 3), "section": "4 mm", "proud": "-0.4 mm"},
        "jetting-0.027",
    ),
    "cut in": Case(block(), {"from": {"point": "0, 0, 6 mm"}, "to": {"facing": "+z"}, "section": "3 mm", "open": "-z"}),
    "cut in, one mirror": Case(
        block(),
        {"from": {"point": "-9, 0, 6 mm"}, "to": above(5, 0), "section": "3 mm", "open": "-z", "bends": "prism"},
        bends=1,
    ),
}


@dataclass(frozen=True)
class Made:
    """A case, cut."""

    case: Case
    bench: Bench
    outcome: Outcome

    @property
    def pipe(self):
        """The pipe, in the bare kernel."""
        return kernel_of(self.outcome.extra["pipe"])

    @property
    def cut(self):
        """The part with its bore, in the bare kernel."""
        return kernel_of(self.outcome.solids["box"])

    @property
    def out(self):
        """Unit direction in which the light leaves."""
        return np.array(self.outcome.ledger.windows[0].out)


def kernel_of(body):
    """A solid of the house in the bare kernel."""
    corners, rows = np.array(body.vertices), np.array(body.triangles, dtype=np.uint64)
    return Kernel(manifold3d.Mesh64(corners, rows))


def apply(part, words, process="extrusion-0.4", ledger=None, tables=None):
    """What the step makes of one part."""
    bench = bench_of(process, ledger=ledger, box=part)
    bench = bench if tables is None else replace(bench, tables=tables)
    return Made(
        Case(part, words, process),
        bench,
        PipeLight.model_validate({"step": "pipe_light", "part": "box", **words}).apply(bench),
    )


@cache
def made(name):
    """A case, cut once."""
    case = CASES[name]
    return replace(apply(case.part, case.words, case.process), case=case)


def shared(a, b):
    """Volume two kernel bodies share."""
    return max((a ^ b).volume(), 0.0)
