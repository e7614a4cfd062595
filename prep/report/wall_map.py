"""`write_wall_map`: a part's wall thickness as a mesh with colours, for any viewer."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import numpy as np

from prep.geometry.solid import Solid
from prep.geometry.thickness_map import thickness_map
from prep.geometry.wall_thickness import wall_thickness
from prep.geometry.write_mesh import write_mesh
from prep.report.palette import encoded
from prep.report.wall_tints import wall_tints


def write_wall_map(
    solid: Solid, limit_mm: float, path: Path, *, fine: bool = False, inputs: Iterable[Path] = ()
) -> str:
    """Write a PLY whose vertices carry the tint of the wall there; the sha256 of the file.

    Notes
    -----
    The tints are those of the report's wall pictures: one hue under the limit, another above it, pale where there is
    no wall to measure. The measure is the one the `wall` check has taken, if it has.
    """
    dense, thickness = thickness_map(solid, wall_thickness(solid, limit_mm=limit_mm, fine=fine))
    tints = encoded(wall_tints(thickness, limit_mm))
    opaque = np.full((len(tints), 1), 255, dtype=np.uint8)
    return write_mesh(path, dense, "ply", inputs=inputs, colours=np.concatenate([tints, opaque], axis=1))
