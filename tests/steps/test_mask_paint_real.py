"""`mask_paint` on real meshes: hard regions whose masks come off as said, by an independent sweep."""

from __future__ import annotations

from pathlib import Path

import manifold3d
import numpy as np
import pytest

from fixtures.benches import bench_of
from prep.geometry.mend import mend
from prep.geometry.read_mesh import read_mesh
from prep.geometry.solid import Solid
from prep.steps.mask_paint import MaskPaint
from tests.geometry.masked import is_one_clean_solid

SHARED = Path(__file__).resolve().parents[2] / "../shared/meshes"
STATIONS = 16
TOUCH_MM3 = 1e-3


def as_kernel(solid: Solid) -> manifold3d.Manifold:
    """A solid as a kernel body, made from its triangles anew."""
    return manifold3d.Manifold(manifold3d.Mesh64(np.array(solid.vertices), solid.triangles.astype(np.uint64)))


@pytest.mark.slow
@pytest.mark.skipif(not SHARED.is_dir(), reason="no folder shared/meshes beside the repository")
@pytest.mark.parametrize(
    ("mesh", "region", "reach", "least"),
    [
        # a band round a free-formed wall: a collar above and one below
        ("palm-rest", {"between": ["z 9 mm", "z 14 mm"]}, "2.5 mm", 2),
        # a band round two branches that spread: two collars each
        ("handle-branched", {"between": ["x -52 mm", "x -46 mm"]}, "2.5 mm", 4),
        # both skins of a thin wall beside a rim with a groove: the mask folds over the rim
        ("bowl-hemisphere", {"box": ["-14, -30, 50 mm", "-7, 30, 80 mm"]}, "8 mm", 2),
    ],
)
def test_mask_of_a_real_part_comes_off(mesh, region, reach, least) -> None:
    """Every piece is one clean solid and, in the order told, leaves the part and the pieces still seated freely."""
    part = mend(read_mesh(SHARED / f"{mesh}.stl")).solid
    words = {"step": "mask_paint", "part": "part", "paint": "orange enamel", "region": region, "reach": reach}
    done = MaskPaint.model_validate({**words, "by_eye": True}).apply(bench_of("extrusion-0.4", part=part))
    pieces = [done.extra[name] for name in done.lifts[0].pieces]
    assert len(pieces) >= least
    assert all(is_one_clean_solid(piece) for piece in pieces)
    # the outside check: kernel bodies made anew, moved and met; in the product rays find the way
    seated = [as_kernel(part), *map(as_kernel, pieces)]
    pulls = [(np.array(one["along"]), one["mm"]) for one in done.facts["pulls"]]
    for along, path in pulls:
        moving = seated.pop(1)
        for travelled in np.linspace(0.0, path, STATIONS):
            here = moving.translate(tuple((travelled * along).tolist()))
            assert max((here ^ still).volume() for still in seated) <= TOUCH_MM3
    assert len(seated) == 1
