"""`read_ply`: points, faces and colours of a PLY file, as text or binary in either byte order."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from prep.errors import EmptyFile, FileCutShort, FileMalformed, FileUnfinished
from prep.geometry.fan import Whole, fan
from prep.geometry.ply_header import Element, PlyHeader, ply_header
from prep.geometry.raw_mesh import Colours, Parsed
from prep.geometry.read_numbers import read_numbers
from prep.geometry.read_obj import mean_colours
from prep.geometry.solid import Array

Column = NDArray[np.generic]
Lists = tuple[Whole, Column]
"""Length of each list, and the lists' numbers one after the other."""

_CORNERS = ("vertex_indices", "vertex_index")
_SHADES = ("red", "green", "blue")


def read_ply(data: bytes) -> Parsed:
    """Triangles of a PLY file; polygons are fanned.

    Raises
    ------
    EmptyFile, FileCutShort, FileMalformed

    Notes
    -----
    Our own reader: one that is general keeps no colours per face, and reads a list of mixed lengths as if all were as
    long as the first. Rows of one length are read as one table; mixed lengths are walked row by row. A colour per face
    goes before one per point.
    """
    header = ply_header(data)
    rows = _read_text(header, data) if header.order == "" else _read_binary(header, data)
    columns: dict[str, dict[str, Column]] = {}
    lists: dict[str, dict[str, Lists]] = {}
    for element, found, found_lists in rows:
        columns.setdefault(element.name, found)
        lists.setdefault(element.name, found_lists)
    points = columns.get("vertex", {})
    faces = next((lists["face"][name] for name in _CORNERS if name in lists.get("face", {})), None)
    if not all(axis in points for axis in "xyz") or faces is None or len(faces[0]) == 0:
        raise EmptyFile(
            "the PLY file has no faces",
            found=f"{len(points.get('x', ()))} points, {0 if faces is None else len(faces[0])} faces",
            fix="export the part as a mesh of faces, not as points or strips",
        )
    if faces[0][-1] == 0:
        raise FileUnfinished(
            "the end of the PLY file is still blank",
            found=f"{int((faces[0] == 0).sum())} of {len(faces[0])} faces have no corners",
            fix="wait until the copy has finished, or copy the file again",
        )
    vertices = np.stack([points[axis].astype(np.float64) for axis in "xyz"], axis=1)
    triangles, face = fan(faces[0], _whole(faces[1], len(vertices)))
    if len(triangles) == 0:
        raise EmptyFile("the PLY file has no faces with three corners", found=f"{len(faces[0])} faces with fewer",
                        fix="export the part as a mesh")  # fmt: skip
    return Parsed(vertices, triangles.astype(np.int32), _colours(points, columns["face"], triangles, face))


def _whole(corners: Column, points: int) -> Whole:
    """The corners as vertex numbers, refused where no such vertex is."""
    numbers = corners.astype(np.float64)
    if not (np.isfinite(numbers) & (numbers >= 0) & (numbers < points) & (numbers == np.floor(numbers))).all():
        raise FileMalformed(
            "a face of the PLY file names a point that is not there",
            found=f"corners from {numbers.min():.0f} to {numbers.max():.0f}, {points} points counted from 0",
            fix="wait until the copy has finished, or export the file again",
        )
    return numbers.astype(np.int64)


def _colours(points: dict[str, Column], faces: dict[str, Column], triangles: Whole, face: Whole) -> Colours | None:
    """Colour of each triangle, (m, 4)."""
    if all(shade in faces for shade in _SHADES):
        return np.asarray(np.rint(_shades(faces)[face]), dtype=np.uint8)
    if all(shade in points for shade in _SHADES):
        return mean_colours(_shades(points), triangles)
    return None


def _shades(columns: dict[str, Column]) -> Array:
    """Red, green, blue and alpha from 0 to 255, (n, 4); floating numbers run from 0 to 1."""
    bands = []
    for name in (*_SHADES, "alpha"):
        if name not in columns:
            bands.append(np.full(len(columns["red"]), 255.0))
            continue
        band = columns[name]
        scale = 255.0 if band.dtype.kind == "f" else 255.0 / np.iinfo(str(band.dtype)).max
        bands.append(np.clip(np.nan_to_num(band.astype(np.float64) * scale), 0.0, 255.0))
    return np.stack(bands, axis=1)


Rows = Iterator[tuple[Element, dict[str, Column], dict[str, Lists]]]


def _cut_short(element: Element, done: int) -> FileCutShort:
    return FileCutShort(
        "the PLY file ends before its last row",
        found=f"{element.rows} rows of {element.name} announced, at most {done} present",
        fix="wait until the copy has finished, or export the file again",
    )


# --- binary -------------------------------------------------------------------------------------


def _read_binary(header: PlyHeader, data: bytes) -> Rows:
    at = header.size
    for element in header.elements:
        if element.rows == 0 or not element.properties:
            columns = {p.name: np.zeros(0, dtype=p.number) for p in element.properties if p.count is None}
            yield element, columns, {}
            continue
        lengths = _first_lengths(header.order, element, data, at)
        row = _row_type(header.order, element, lengths)
        room = (len(data) - at) // row.itemsize
        if room >= element.rows:
            table = np.frombuffer(data, row, count=element.rows, offset=at)
            if all((table[f"count of {name}"] == length).all() for name, length in lengths.items()):
                at += element.rows * row.itemsize
                yield element, *_from_table(element, table, lengths)
                continue
        elif not lengths:
            raise _cut_short(element, room)
        at, columns, lists = _walk(header.order, element, data, at)
        yield element, columns, lists
    if len(data) - at >= 4 and data[at:].strip(b"\0 \r\n\t"):
        raise FileMalformed(
            "the PLY file goes on after its last row",
            found=f"{len(data) - at} bytes too many",
            fix="export the file again; its counts are wrong or two files were joined",
        )


def _row_type(order: str, element: Element, lengths: dict[str, int]) -> np.dtype:
    fields: list[tuple[str, str] | tuple[str, str, tuple[int]]] = []
    for p in element.properties:
        if p.count is not None:
            fields.append((f"count of {p.name}", order + p.count))
            fields.append((p.name, order + p.number, (lengths[p.name],)))
        else:
            fields.append((p.name, order + p.number))
    try:
        return np.dtype(fields)
    except ValueError:
        raise FileMalformed(
            "the header of the PLY file names a property twice",
            found=f"in element {element.name}",
            fix="export the file again",
        ) from None


def _first_lengths(order: str, element: Element, data: bytes, at: int) -> dict[str, int]:
    """Lengths of the lists in the first row."""
    lengths: dict[str, int] = {}
    for p in element.properties:
        if p.count is not None:
            lengths[p.name] = _length(order + p.count, element, data, at, 0)
            at += np.dtype(p.count).itemsize + lengths[p.name] * np.dtype(p.number).itemsize
        else:
            at += np.dtype(p.number).itemsize
    return lengths


def _length(kind: str, element: Element, data: bytes, at: int, row: int) -> int:
    size = np.dtype(kind).itemsize
    if at + size > len(data):
        raise _cut_short(element, row)
    value = float(np.frombuffer(data, kind, count=1, offset=at)[0])
    if not 0 <= value <= len(data) or value != int(value):
        raise FileMalformed(
            "a list of the PLY file has an absurd length",
            found=f"{value:g} numbers in row {row} of {element.name}, in a file of {len(data)} bytes",
            fix="export the file again",
        )
    return int(value)


def _from_table(
    element: Element, table: np.ndarray, lengths: dict[str, int]
) -> tuple[dict[str, Column], dict[str, Lists]]:
    columns = {p.name: _native(table[p.name]) for p in element.properties if p.count is None}
    lists = {
        name: (np.full(len(table), length, dtype=np.int64), _native(table[name]).reshape(-1))
        for name, length in lengths.items()
    }
    return columns, lists


def _native(column: np.ndarray) -> Column:
    """The numbers in this machine's byte order, side by side."""
    return np.ascontiguousarray(column).astype(column.dtype.newbyteorder("="), copy=False)


def _walk(order: str, element: Element, data: bytes, at: int) -> tuple[int, dict[str, Column], dict[str, Lists]]:
    """Rows whose lists differ in length, one by one."""
    starts: dict[str, list[int]] = {p.name: [] for p in element.properties}
    counts: dict[str, list[int]] = {p.name: [] for p in element.properties if p.count is not None}
    plan = [(p.name, None if p.count is None else order + p.count, np.dtype(p.number).itemsize)
            for p in element.properties]  # fmt: skip
    end = len(data)
    for row in range(element.rows):
        for name, count, size in plan:
            length = 1
            if count is not None:
                # one byte is by far the most common count, and plain indexing the fastest way to it
                length = data[at] if count[1:] == "u1" and at < end else _length(count, element, data, at, row)
                at += int(count[2])
                counts[name].append(length)
            starts[name].append(at)
            at += length * size
        if at > end:
            raise _cut_short(element, row)
    columns: dict[str, Column] = {}
    lists: dict[str, Lists] = {}
    for p in element.properties:
        begin = np.array(starts[p.name], dtype=np.int64)
        sizes = np.array(counts[p.name], dtype=np.int64) if p.count is not None else np.ones(len(begin), np.int64)
        numbers = _gather(data, begin, sizes, order + p.number)
        if p.count is None:
            columns[p.name] = numbers
        else:
            lists[p.name] = (sizes, numbers)
    return at, columns, lists


def _gather(data: bytes, begin: Whole, length: Whole, kind: str) -> Column:
    """Numbers of one kind that stand in stretches at the byte positions given."""
    size = np.dtype(kind).itemsize
    step = np.arange(int(length.sum())) - np.repeat(np.cumsum(length) - length, length)
    first = np.repeat(begin, length) + step * size
    raw = np.frombuffer(data, np.uint8)[first[:, None] + np.arange(size)]
    return _native(np.ascontiguousarray(raw).view(kind).reshape(-1))


# --- text ---------------------------------------------------------------------------------------


def _read_text(header: PlyHeader, data: bytes) -> Rows:
    if b"\0" in data:
        raise FileUnfinished(
            "part of the PLY file is blank",
            found=f"{data.count(bytes(1))} zero bytes in a text file",
            fix="wait until the copy has finished, or export the file again",
        )
    numbers = read_numbers(data[header.size :], "rows of the PLY file")
    at = 0
    for element in header.elements:
        width = len(element.properties)
        if not any(p.count for p in element.properties):
            if element.rows * width > len(numbers) - at:
                raise _cut_short(element, (len(numbers) - at) // max(width, 1))
            rows = element.rows if width else 0
            table = numbers[at : at + rows * width].reshape(rows, width)
            at += rows * width
            yield element, {p.name: _typed(table[:, k], p.number) for k, p in enumerate(element.properties)}, {}
            continue
        at, columns, lists = _walk_text(element, numbers, at)
        yield element, columns, lists
    if at < len(numbers):
        raise FileMalformed(
            "the PLY file goes on after its last row",
            found=f"{len(numbers) - at} numbers too many",
            fix="export the file again; its counts are wrong or two files were joined",
        )


def _walk_text(element: Element, numbers: Array, at: int) -> tuple[int, dict[str, Column], dict[str, Lists]]:
    picks: dict[str, list[int]] = {p.name: [] for p in element.properties}
    counts: dict[str, list[int]] = {p.name: [] for p in element.properties if p.count is not None}
    end = len(numbers)
    for row in range(element.rows):
        for p in element.properties:
            if p.count is not None:
                length = numbers[at] if at < end else np.nan
                if not 0 <= length <= end or length != int(length):
                    raise _cut_short(element, row)
                counts[p.name].append(int(length))
                picks[p.name].append(at + 1)
                at += 1 + int(length)
            else:
                picks[p.name].append(at)
                at += 1
        if at > end:
            raise _cut_short(element, row)
    columns: dict[str, Column] = {}
    lists: dict[str, Lists] = {}
    for p in element.properties:
        begin = np.array(picks[p.name], dtype=np.int64)
        if p.count is None:
            columns[p.name] = _typed(numbers[begin], p.number)
            continue
        length_of = np.array(counts[p.name], dtype=np.int64)
        step = np.arange(int(length_of.sum())) - np.repeat(np.cumsum(length_of) - length_of, length_of)
        lists[p.name] = (length_of, numbers[np.repeat(begin, length_of) + step])
    return at, columns, lists


def _typed(column: Array, kind: str) -> Column:
    """Numbers of text as the type announced; whole numbers out of its range are brought to its ends."""
    wanted = np.dtype(kind)
    if wanted.kind == "f":
        return column
    limits = np.iinfo(wanted)
    return np.clip(np.nan_to_num(column), limits.min, limits.max).astype(wanted)
