"""`read_obj`: the points and faces of an OBJ file, and the colours of its points."""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import NDArray

from prep.errors import EmptyFile, FileMalformed, FileUnfinished
from prep.geometry.fan import fan
from prep.geometry.raw_mesh import Colours, Parsed
from prep.geometry.read_numbers import read_numbers
from prep.geometry.solid import Array

_POINT = re.compile(rb"^[ \t]*v[ \t]+([^\n#]*)", re.MULTILINE)
_FACE = re.compile(rb"^[ \t]*f[ \t]+([^\n#]*)", re.MULTILINE)
_TEXTURE_AND_NORMAL = re.compile(rb"/[^\s]*")
_MATERIAL = re.compile(rb"^[ \t]*usemtl\b", re.MULTILINE)
_CURVED = re.compile(rb"^[ \t]*(?:curv|curv2|surf)\b", re.MULTILINE)


def read_obj(data: bytes) -> Parsed:
    """Triangles of an OBJ file; polygons are fanned, points keep the numbers the file gives them.

    Raises
    ------
    EmptyFile, FileMalformed, FileUnfinished

    Notes
    -----
    Our own reader, because a general one opens the material file and pictures that the text names, splits points by
    material and normal, and takes about ten times as long. Here only `v` and `f` count. A colour written after the
    three coordinates of each point (red, green, blue from 0 to 1) is kept; material files are never opened.
    """
    if b"\0" in data:
        raise FileUnfinished(
            "part of the OBJ file is blank",
            found=f"{data.count(bytes(1))} zero bytes in a text file",
            fix="wait until the copy has finished, or export the file again",
        )
    text = data.replace(b"\\\r\n", b" ").replace(b"\\\n", b" ") if b"\\" in data else data
    if b"\n" not in text:
        text = text.replace(b"\r", b"\n")
    vertices, point_colours = _points(_POINT.findall(text))
    triangles = _faces(text, len(vertices))
    notes = []
    if _MATERIAL.search(text):
        notes.append("colours in the material file beside the OBJ file were not read")
    if _CURVED.search(text):
        notes.append("curved surfaces in the OBJ file were passed over; only its faces were read")
    colours = None
    if point_colours is not None:
        colours = mean_colours(point_colours, triangles)
    return Parsed(vertices, triangles.astype(np.int32), colours, notes=tuple(notes))


def mean_colours(point_colours: Array, triangles: NDArray[np.integer]) -> Colours:
    """The mean colour of the three corners of each triangle.

    Parameters
    ----------
    point_colours : (n, 4) float64
        Red, green, blue, alpha of each vertex, from 0 to 255.

    Returns
    -------
    (m, 4) uint8
    """
    return np.asarray(np.rint(point_colours[triangles].mean(axis=1)), dtype=np.uint8)


def _points(lines: list[bytes]) -> tuple[Array, Array | None]:
    """Coordinates (n, 3) and colours (n, 4) from 0 to 255, if every point has one."""
    widths = {len(line.split()) for line in lines}
    if not lines or not widths <= {3, 4, 6, 7}:
        raise FileMalformed(
            "the OBJ file has no points that can be read",
            found=f"{len(lines)} points, with {', '.join(str(width) for width in sorted(widths)[:6]) or 'no'} numbers",
            fix="export the file again",
        )
    what = "coordinates of the OBJ file"
    if len(widths) == 1:
        table = read_numbers(b"\n".join(lines), what).reshape(len(lines), -1)
    else:  # points with and without colour or weight: the first three numbers are what they share
        table = read_numbers(b"\n".join(b" ".join(line.split()[:3]) for line in lines), what).reshape(-1, 3)
    colours = None
    if table.shape[1] >= 6 and np.isfinite(table).all():
        shades = np.clip(table[:, -3:], 0.0, 1.0) * 255.0
        colours = np.hstack([shades, np.full((len(table), 1), 255.0)])
    return np.ascontiguousarray(table[:, :3]), colours


def _faces(text: bytes, points: int) -> NDArray[np.int64]:
    """Triangles (m, 3), counted from 0."""
    lines = _FACE.findall(text)
    if not lines:
        raise EmptyFile("the OBJ file has no faces", found=f"{points} points, 0 faces", fix="export the part as a mesh")
    numbers = read_numbers(_TEXTURE_AND_NORMAL.sub(b"", b"\n".join(lines)), "corners of the OBJ file's faces")
    counts = np.fromiter((len(line.split()) for line in lines), dtype=np.int64, count=len(lines))
    whole = np.isfinite(numbers) & (np.abs(numbers) < 2**31)
    if not whole.all() or (numbers != np.rint(numbers)).any() or counts.sum() != len(numbers):
        raise FileMalformed(
            "a face of the OBJ file does not name its corners by whole numbers",
            found=f"{len(lines)} faces, {len(numbers)} corners",
            fix="export the file again",
        )
    corners = numbers.astype(np.int64)
    if (corners < 0).any():  # counted back from the last point written before the face
        point_at = np.fromiter((found.start() for found in _POINT.finditer(text)), dtype=np.int64)
        face_at = np.fromiter((found.start() for found in _FACE.finditer(text)), dtype=np.int64)
        written = np.repeat(np.searchsorted(point_at, face_at), counts)
        corners = np.where(corners < 0, corners + written + 1, corners)
    if len(corners) and (corners.min() < 1 or corners.max() > points):
        raise FileMalformed(
            "a face of the OBJ file names a point that is not there",
            found=f"corners numbered {corners.min()} to {corners.max()}, {points} points",
            fix="wait until the copy has finished, or export the file again",
        )
    triangles, _ = fan(counts, corners - 1)
    if len(triangles) == 0:
        raise EmptyFile("the OBJ file has no faces with three corners", found=f"{len(lines)} faces with fewer",
                        fix="export the part as a mesh")  # fmt: skip
    return triangles
