"""`read_mesh`: any mesh file as a `RawMesh`, or a fault that says what is wrong with it."""

from __future__ import annotations

import hashlib
import re
import stat
from collections.abc import Callable
from pathlib import Path

import numpy as np

from prep.errors import (
    CannotOpenFile,
    EmptyFile,
    FileTooLarge,
    FileUnfinished,
    MissingFile,
    NoArea,
    NoSuchObject,
    NotFinite,
    PrepError,
    UnknownFormat,
    UnknownUnit,
)
from prep.geometry.raw_mesh import MILLIMETRES, SYNONYMS, Parsed, RawMesh
from prep.geometry.read_3mf import read_3mf
from prep.geometry.read_obj import read_obj
from prep.geometry.read_ply import read_ply
from prep.geometry.read_stl import has_binary_size, read_stl
from prep.geometry.solid import Array, Indices

FORMATS = ("3mf", "stl", "obj", "ply")
MOST_BYTES = 1 << 31
"""Longest file read: about 40 million triangles of binary STL."""
FARTHEST_MM = 1e9
"""Coordinates beyond this, 1000 km, are not lengths of a part."""

_FOREIGN = {
    b"glTF": "a binary scene",
    b"ISO-10303-21": "a STEP model of surfaces",
    b"{": "JSON text",
    b"<?xml": "bare XML text",
    b"<model": "bare XML text",
    b"solid ": "text that begins as STL",
}


def read_mesh(path: Path | str, *, unit: str | None = None, object_name: str | None = None) -> RawMesh:
    """The triangles of a mesh file, in mm.

    The format is told by the content, and by the name only where the content says nothing.

    Parameters
    ----------
    path : Path
        An STL, OBJ, PLY or 3MF file.
    unit : str, optional
        Unit of a file that names none; mm if left out. A file that names its own keeps it, with a note.
    object_name : str, optional
        Name or number of one object of a 3MF file; all objects that it builds if left out.

    Returns
    -------
    RawMesh
        With at least one triangle that has area, and finite coordinates.

    Raises
    ------
    MissingFile, CannotOpenFile, EmptyFile, FileTooLarge, UnknownFormat
        Before anything is parsed.
    FileCutShort, FileUnfinished, FileMalformed, UnsafePackage, UnknownUnit, NoSuchObject, NotFinite, NoArea
        From the content. Every fault says which file in `where`.

    Notes
    -----
    The file is read once into memory, so that what is parsed is what was hashed even while somebody copies over it.
    Memory: the file, and about twice its arrays. Exact but for the scaling of units.
    """
    place = Path(path)
    try:
        return _read(place, unit, object_name)
    except PrepError as fault:
        raise fault.at(str(path)) from None


def _read(path: Path, unit: str | None, object_name: str | None) -> RawMesh:
    stated = known_unit(unit) if unit is not None else None
    data = _bytes_of(path)
    kind, parse = _format_of(data, path.suffix.lower().lstrip("."), object_name)
    digest = hashlib.sha256(data).hexdigest()
    with np.errstate(invalid="ignore", over="ignore"):  # what is not a number is refused below
        parsed = parse(data)
    del data
    notes = list(parsed.notes)
    if path.suffix.lower().lstrip(".") not in (kind, ""):
        notes.append(f"the file is named {path.suffix} but holds {kind}")
    if stated and parsed.unit and stated != parsed.unit:
        notes.append(f"the unit given, {stated}, was passed over: the file itself says {parsed.unit}")
    found = parsed.unit or stated or "mm"
    vertices = parsed.vertices * MILLIMETRES[found] if found != "mm" else parsed.vertices
    _refuse_unbounded(vertices, parsed.triangles)
    _refuse_flat(vertices, parsed.triangles)
    return RawMesh(vertices, parsed.triangles, found, kind, digest, parsed.colours, tuple(notes))


def known_unit(word: str) -> str:
    """Our word for a unit of length, of those in `MILLIMETRES`.

    Raises
    ------
    UnknownUnit
    """
    plain = word.strip().lower()
    plain = SYNONYMS.get(plain, plain)
    if plain not in MILLIMETRES:
        raise UnknownUnit(
            f"{word!r} is not a unit of length", found=repr(word), fix=f"use one of {', '.join(MILLIMETRES)}"
        )
    return plain


def _bytes_of(path: Path) -> bytes:
    """The whole file, read once."""
    try:
        facts = path.stat()
        if stat.S_ISDIR(facts.st_mode):
            raise MissingFile(f"{path.name!r} is a folder, not a file", found="a folder", fix="name a mesh file in it")
        if not stat.S_ISREG(facts.st_mode):
            raise MissingFile(f"{path.name!r} is not an ordinary file", found="a device or pipe", fix="name a file")
        if facts.st_size > MOST_BYTES:
            raise FileTooLarge(
                "the file is longer than any mesh of a part",
                found=f"{facts.st_size} bytes, limit {MOST_BYTES}",
                fix="export with fewer triangles",
            )
        data = path.read_bytes()
    except FileNotFoundError:
        raise MissingFile(f"there is no file {path.name!r}", found="nothing by that name",
                          fix="check the name and the folder") from None  # fmt: skip
    except (OSError, ValueError) as error:
        raise CannotOpenFile(
            f"the file {path.name!r} cannot be read",
            found=getattr(error, "strerror", None) or str(error),
            fix="check the permissions of the file and its folder",
        ) from None
    if len(data or b"") < facts.st_size:  # on a share, "try again" reads like the end; or it is being written anew
        raise CannotOpenFile(
            f"the file {path.name!r} cannot be read to its end",
            found=f"{len(data or b'')} of {facts.st_size} bytes",
            fix="try again when nobody writes to it",
        )
    if not data:
        raise EmptyFile("the file is empty", found="0 bytes", fix="wait until the copy has finished, or export again")
    return data


def _format_of(data: bytes, suffix: str, object_name: str | None) -> tuple[str, Callable[[bytes], Parsed]]:
    """The format and its reader."""
    kind = _told_by_content(data) or (suffix if suffix in FORMATS else "")
    if not kind and _looks_like_obj(data):
        kind = "obj"
    if data.startswith(b"\0") and not data.strip(b"\0"):
        raise FileUnfinished(
            "the whole file is still blank",
            found=f"{len(data)} zero bytes",
            fix="wait until the copy has finished, or copy the file again",
        )
    if kind == "3mf" and data[:4] != b"PK\x03\x04":
        kind = ""
    if not kind:
        likeness = next((says for start, says in _FOREIGN.items() if data.lstrip().startswith(start)), "none we know")
        raise UnknownFormat(
            "the file is not a mesh in a format that can be read",
            found=f"named {'.' + suffix if suffix else 'without a suffix'}, content: {likeness}",
            fix="export the part as 3MF, STL, OBJ or PLY",
        )
    if kind == "3mf":
        return kind, lambda content: read_3mf(content, object_name)
    if object_name is not None:
        raise NoSuchObject(
            f"a file of the format {kind} has no objects to name",
            found=f"object {object_name!r} asked of it",
            fix="leave out `object`, or export as 3MF",
        )
    return kind, {"stl": read_stl, "obj": read_obj, "ply": read_ply}[kind]


def _told_by_content(data: bytes) -> str:
    """The format the content itself tells, or nothing."""
    if has_binary_size(data):
        return "stl"
    if data.startswith(b"PK\x03\x04"):
        return "3mf"
    if re.match(rb"ply[ \t]*[\r\n]", data):
        return "ply"
    head = data[:4096].removeprefix(b"\xef\xbb\xbf").lstrip().lower()
    if head.startswith(b"solid") and (b"facet" in data[:65536].lower() or b"endsolid" in head):
        return "stl"
    return ""


def _looks_like_obj(data: bytes) -> bool:
    head = data[: 1 << 16]
    return b"\0" not in head and re.search(rb"^[ \t]*v[ \t]+[-+.\d]", head, re.MULTILINE) is not None


def _refuse_unbounded(vertices: Array, triangles: Indices) -> None:
    with np.errstate(invalid="ignore"):
        bad = np.logical_not(np.asarray((np.abs(vertices) <= FARTHEST_MM).all(axis=1)))
    if not bad.any():
        return
    first = int(np.argmax(bad[triangles].any(axis=1)))
    raise NotFinite(
        "the mesh has coordinates that are not lengths",
        found=f"{int(bad.sum())} of {len(vertices)} points, e.g. {vertices[int(np.argmax(bad))].tolist()}"
        + (f" in triangle {first + 1}" if bad[triangles].any() else ""),
        fix="export the part again",
    )


def _refuse_flat(vertices: Array, triangles: Indices) -> None:
    """Refuse a mesh in which no triangle has area."""
    for begin in range(0, len(triangles), 1 << 16):
        a, b, c = (vertices[triangles[begin : begin + (1 << 16), k]] for k in range(3))
        if np.cross(b - a, c - a).any():
            return
    raise NoArea(
        "every triangle of the mesh has shrunk to a line or a point",
        found=f"{len(triangles)} triangles, none with area",
        fix="export the part again; check that it was not scaled to nothing",
    )
