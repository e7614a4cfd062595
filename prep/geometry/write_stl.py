"""`write_stl`: solids as one binary STL file."""

from __future__ import annotations

from collections.abc import Sequence
from typing import BinaryIO

import numpy as np

from prep.geometry.read_stl import RECORD
from prep.geometry.solid import Solid

_HEADER = b"binary STL, lengths in mm, written by prep"
_ROWS = 1 << 18


def write_stl(file: BinaryIO, solids: Sequence[Solid]) -> None:
    """Write the triangles of all solids, in mm and single precision, one after the other.

    Notes
    -----
    The header does not begin with "solid", which some readers take for text. Normals are those of the triangles before
    rounding. Memory: a quarter of a million triangles at a time.
    """
    file.write(_HEADER.ljust(80, b"\0"))
    file.write(sum(len(solid.triangles) for solid in solids).to_bytes(4, "little"))
    for solid in solids:
        for begin in range(0, len(solid.triangles), _ROWS):
            corners = solid.vertices[solid.triangles[begin : begin + _ROWS]]
            rows = np.zeros(len(corners), dtype=RECORD)
            rows["corners"] = corners
            cross = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
            length = np.sqrt(np.einsum("ij,ij->i", cross, cross))
            rows["normal"] = cross / np.where(length > 0.0, length, 1.0)[:, None]
            file.write(rows.tobytes())
