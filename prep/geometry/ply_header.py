"""`ply_header`: what a PLY file announces: its byte order, its elements and their properties."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from prep.errors import FileCutShort, FileMalformed

NUMBER_TYPES = {
    "char": "i1",
    "int8": "i1",
    "uchar": "u1",
    "uint8": "u1",
    "short": "i2",
    "int16": "i2",
    "ushort": "u2",
    "uint16": "u2",
    "int": "i4",
    "int32": "i4",
    "uint": "u4",
    "uint32": "u4",
    "float": "f4",
    "float32": "f4",
    "double": "f8",
    "float64": "f8",
}

_LONGEST_HEADER = 1 << 16
_END = re.compile(rb"(?:^|[\r\n])[ \t]*end_header[ \t]*(\r\n|\n|\r)")
_MOST_PROPERTIES = 256


@dataclass(frozen=True)
class Property:
    """One property: its name, the type of its numbers, and for a list the type of its count."""

    name: str
    number: str
    count: str | None = None


@dataclass(frozen=True)
class Element:
    """One kind of row: how many, and which properties each row has in turn."""

    name: str
    rows: int
    properties: tuple[Property, ...]


@dataclass(frozen=True)
class PlyHeader:
    """The announcement: `order` is "<" or ">" for binary and "" for text; the body begins at byte `size`."""

    order: Literal["", "<", ">"]
    elements: tuple[Element, ...]
    size: int


def ply_header(data: bytes) -> PlyHeader:
    """The header of a PLY file.

    Raises
    ------
    FileCutShort
        There is no end to it.
    FileMalformed
        A line that PLY does not know.
    """
    end = _END.search(data, 0, _LONGEST_HEADER)
    if end is None:
        raise FileCutShort(
            "the PLY file ends inside its header",
            found=f"no end_header in the first {min(len(data), _LONGEST_HEADER)} bytes",
            fix="copy or export the file again",
        )
    order: Literal["", "<", ">"] | None = None
    elements: list[Element] = []
    for line in data[: end.start()].decode("latin-1").splitlines()[1:]:
        match line.split():
            case [] | ["comment" | "obj_info", *_]:
                continue
            case ["format", "ascii", _]:
                order = ""
            case ["format", "binary_little_endian", _]:
                order = "<"
            case ["format", "binary_big_endian", _]:
                order = ">"
            case ["element", name, rows] if rows.isascii() and rows.isdigit() and len(rows) < 20:
                elements.append(Element(name, int(rows), ()))
            case ["property", *words] if elements and len(elements[-1].properties) < _MOST_PROPERTIES:
                last = elements[-1]
                elements[-1] = Element(last.name, last.rows, (*last.properties, _property(words, line)))
            case _:
                raise _unknown(line)
    if order is None:
        raise _unknown("no line says format")
    size = end.end()
    if end.group(1) == b"\r" or (end.group(1) == b"\r\n" and b"\r\n" not in data[: end.start() + 2]):
        size = end.start(1) + 1  # lines end in a bare carriage return, and the body may begin with a line feed
    return PlyHeader(order, tuple(elements), size)


def _property(words: list[str], line: str) -> Property:
    match words:
        case ["list", count, number, name] if count in NUMBER_TYPES and number in NUMBER_TYPES:
            return Property(name, NUMBER_TYPES[number], NUMBER_TYPES[count])
        case [number, name] if number in NUMBER_TYPES:
            return Property(name, NUMBER_TYPES[number])
        case _:
            raise _unknown(line)


def _unknown(line: str) -> FileMalformed:
    return FileMalformed(
        "the header of the PLY file cannot be read",
        found=repr(line[:60]),
        fix="export the file again",
    )
