"""`write_ply`: solids as one binary PLY file, with a colour at each vertex if asked."""

from __future__ import annotations

from collections.abc import Sequence
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

from prep.geometry.solid import Solid


def write_ply(file: BinaryIO, solids: Sequence[Solid], colours: NDArray[np.uint8] | None = None) -> None:
    """Write the vertices and triangles of all solids, in mm and single precision, little end first.

    Parameters
    ----------
    colours : (n, 4) uint8, optional
        Red, green, blue and alpha of every vertex of all solids in turn.
    """
    count = sum(len(solid.vertices) for solid in solids)
    fields: list[tuple[str, str] | tuple[str, str, tuple[int]]] = [("point", "<f4", (3,))]
    shades = ""
    if colours is not None:
        fields.append(("shade", "u1", (4,)))
        shades = "".join(f"property uchar {name}\n" for name in ("red", "green", "blue", "alpha"))
    points = np.zeros(count, dtype=fields)
    points["point"] = np.concatenate([solid.vertices for solid in solids])
    if colours is not None:
        points["shade"] = colours
    faces = np.zeros(sum(len(solid.triangles) for solid in solids), dtype=[("count", "u1"), ("corners", "<i4", (3,))])
    faces["count"] = 3
    begin = np.cumsum([0] + [len(solid.vertices) for solid in solids])
    faces["corners"] = np.concatenate([s.triangles + b for s, b in zip(solids, begin[:-1], strict=True)])
    header = (
        "ply\nformat binary_little_endian 1.0\ncomment lengths in mm\n"
        f"element vertex {count}\nproperty float x\nproperty float y\nproperty float z\n{shades}"
        f"element face {len(faces)}\nproperty list uchar int vertex_indices\nend_header\n"
    )
    file.write(header.encode("ascii"))
    file.write(points.tobytes())
    file.write(faces.tobytes())
